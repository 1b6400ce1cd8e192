"""Pictures as phones send them."""

from __future__ import annotations

from io import BytesIO

from PIL import Image

from helpers.visiting import HOME, Page, Visitor
from kb.bench.front import Bench

SLUG = "battery-not-detected"


def photo(
    size: tuple[int, int] = (60, 40),
    colour: str = "red",
    kind: str = "JPEG",
    **more: object,
) -> bytes:
    """A picture of one colour with its top left quarter white."""
    image = Image.new("RGB", size, colour)
    image.paste("white", (0, 0, size[0] // 2, size[1] // 2))
    out = BytesIO()
    image.save(out, kind, **more)
    return out.getvalue()


def opened(drawn: bytes) -> Image.Image:
    return Image.open(BytesIO(drawn))


def send(
    visitor: Visitor, picture: bytes, caption: str = "the plug", slug: str = SLUG
) -> Page:
    """Fill in the form on the entry's page as a phone does: the first of the two fields is left empty."""
    page = visitor.go(f"/entry/{slug}")
    form = next(form for form in page.forms if form.action.endswith("/pictures"))
    data = {
        **form.fields,
        "caption": caption,
        "picture": [(BytesIO(b""), ""), (BytesIO(picture), "IMG 1.jpg")],
    }
    answer = visitor.client.post(
        form.action,
        data=data,
        content_type="multipart/form-data",
        base_url=HOME,
        headers={"Origin": HOME},
        follow_redirects=True,
    )
    visitor.page = Page(answer)
    return visitor.page


def files(bench: Bench) -> list[str]:
    folder = bench.folder / "entries" / "pictures"
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*.jpg"))
