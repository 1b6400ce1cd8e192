"""Names that want to lead out of the folders: no file outside is opened, whatever the spelling."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest

import kb
import webui
from kb.library.shelf import stock_folder
from security.walking import HOME, Walk

WATCHED: list[str] | None = None


def _see(event: str, given: tuple[object, ...]) -> None:
    if WATCHED is not None and event == "open" and isinstance(given[0], (str, bytes)):
        WATCHED.append(os.path.realpath(os.fsdecode(given[0])))


sys.addaudithook(_see)  # cannot be taken off again, so it is switched

NAMES = (
    "..",
    "../..",
    "..%2f",
    "%2e%2e%2fsecret",
    "%2e%2e/%2e%2e/secret",
    "..%5csecret",
    "..%255csecret",
    "%252e%252e%252fsecret",
    "....//secret",
    "/etc/passwd",
    "%2fetc%2fpasswd",
    "C:%5cx",
    "%00",
    "secret%00.md",
    "CON",
    "NUL.md",
    "aux",
    ".lock",
    ".hidden",
    "secret.md",
    "web.secret",
    "door.db",
    "history.db",
    "a" * 300,
    "%c0%ae%c0%ae%c0%afsecret",
    "~root",
    "-",
    "*",
)


@pytest.mark.parametrize("name", NAMES)
def test_no_name_opens_a_file_outside(
    walk: Walk, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    shop = walk.bench.folder
    (shop / "secret.md").write_text("the till's code", encoding="utf-8")
    (shop.parent / "secret.md").write_text("the till's code", encoding="utf-8")
    own = [Path(module.__file__ or "").resolve().parent for module in (kb, webui)]
    own.append(stock_folder().resolve())
    allowed = [
        shop.resolve(),
        *own,
        Path(__file__).resolve().parent.parent,
        Path(sys.prefix),
        Path(sys.base_prefix),
    ]
    starts = {
        rule.rule.partition("<")[0]
        for rule in walk.app.url_map.iter_rules()
        if rule.arguments
    }

    opened: list[str] = []
    monkeypatch.setattr(sys.modules[__name__], "WATCHED", opened)
    answers = [
        walk.client.get(start + name + end, base_url=HOME)
        for start in sorted(starts)
        for end in ("", "/edit", ".jpg")
    ]
    monkeypatch.setattr(sys.modules[__name__], "WATCHED", None)

    # 405: an address for forms alone
    assert {answer.status_code for answer in answers} <= {404, 405}
    assert not [
        answer
        for answer in answers
        if "the till's code" in answer.text or "root:" in answer.text
    ]
    outside = [
        path
        for path in opened
        if not any(Path(path).is_relative_to(root) for root in allowed)
    ]
    of_the_system = ("/usr/share/zoneinfo", "/dev/", f"/proc/{os.getpid()}/mounts")
    assert [path for path in outside if not path.startswith(of_the_system)] == []
    assert not [
        path for path in opened if path.endswith(("secret.md", "web.secret", "door.db"))
    ]
