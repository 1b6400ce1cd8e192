"""Which tags and attributes a page may hold, as an HTML parser sees it; all else is told."""

from __future__ import annotations

import re
from html.parser import HTMLParser

TAGS = frozenset(
    re.findall(
        r"\S+",
        "html head meta title link body a header nav p main h1 h2 h3 h4 form label input button datalist option "
        "section ul ol li span div strong em b i code pre blockquote article details summary fieldset legend "
        "textarea select table thead tbody tr th td q bdi br hr svg rect path desc g line text circle polyline "
        "figure figcaption img script dl dt dd ins del mark small abbr time caption tfoot sup sub output footer "
        "optgroup aside hgroup kbd s u wbr ",
    )
)
ATTRIBUTES = frozenset(
    re.findall(
        r"\S+",
        "lang charset name content rel href type class id tabindex aria-label aria-labelledby aria-current "
        "aria-hidden aria-describedby aria-live role method action value placeholder maxlength minlength autocomplete "
        "autocapitalize spellcheck dir autofocus list required checked selected hidden min max step inputmode rows "
        "cols pattern for scope colspan rowspan open width height viewbox preserveaspectratio x y d cx cy r x1 x2 "
        "y1 y2 points transform src defer alt loading enctype accept capture multiple disabled readonly start "
        "download title datetime text-anchor stroke stroke-width stroke-dasharray stroke-linecap fill fill-opacity "
        "font-size dominant-baseline vector-effect dx dy label size ",
    )
)
_ADDRESSES = ("href", "src", "action")
_OWN_SCRIPT = re.compile(r"/static/\w+\.js\?v=\w+")


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.told: list[str] = []
        self.quoted: list[str] = []
        self._inside = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag not in TAGS:
            self.told.append(f"<{tag}>")
        if tag == "script" and not _OWN_SCRIPT.fullmatch(given.get("src", "")):
            self.told.append("a script that is not ours")
        if tag == "meta" and not {"charset", "name"} & given.keys():
            self.told.append("a meta that acts")
        for name, value in given.items():
            if name not in ATTRIBUTES and not name.startswith("data-"):
                self.told.append(f"{tag} {name}")
            if name in _ADDRESSES and not (
                value.startswith(("/", "#")) and not value.startswith(("//", "/\\"))
            ):
                self.told.append(f"{tag} {name}={value[:60]}")
        self._inside = tag in ("p", "q", "textarea") and given.get("dir") == "auto"
        if self._inside:
            self.quoted.append("")

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)

    def handle_endtag(self, tag: str) -> None:
        self._inside = False

    def handle_data(self, data: str) -> None:
        if self._inside:
            self.quoted[-1] += data

    def handle_decl(self, decl: str) -> None:
        if decl.lower() != "doctype html":
            self.told.append(f"<!{decl[:60]}")

    def handle_pi(self, data: str) -> None:
        self.told.append(f"<?{data[:60]}")

    def unknown_decl(self, data: str) -> None:
        self.told.append(f"<![{data[:60]}")


def strange(html: str) -> list[str]:
    """What in a page is not on the list."""
    reader = _Reader()
    reader.feed(html)
    reader.close()
    return reader.told


def quoted(html: str) -> list[str]:
    """The texts that a page shows as somebody typed them, whole."""
    reader = _Reader()
    reader.feed(html)
    reader.close()
    return reader.quoted
