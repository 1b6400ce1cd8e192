"""The parts of README and DEVELOPERS that are made from the program itself; run it to write them anew."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import click

ROOT = Path(__file__).resolve().parents[2]


def room_map(*tops: str) -> str:
    """A table of the rooms, folder by folder, with the first sentence each says of itself."""
    rows = ["| room | what it knows |", "| --- | --- |"]
    for top in tops:
        for path in sorted((ROOT / top).rglob("__init__.py")):
            said = (
                (ast.get_docstring(ast.parse(path.read_text())) or "")
                .split("\n")[0]
                .replace("|", "\\|")
            )
            rows.append(f"| `{path.parent.relative_to(ROOT).as_posix()}/` | {said} |")
    return "\n".join(rows)


def command_list() -> str:
    """The commands by what they are for; what each does stands in the help and in the manual page."""
    from kb.cli.main import HEADINGS

    rows = ["| | commands |", "| --- | --- |"]
    rows += [
        f"| {heading} | {', '.join(f'`{name}`' for name in names)} |"
        for heading, names in HEADINGS.items()
    ]
    return "\n".join(rows)


CHAPTERS = {
    "DEVELOPERS.md": {
        "map": lambda: room_map("kb", "webui"),
    },
    "README.md": {"commands": command_list},
}


def rewritten(name: str) -> str:
    """The file's text with every made chapter as it should be now."""
    text = (ROOT / name).read_text()
    for title, make in CHAPTERS[name].items():
        pattern = re.compile(
            rf"(<!-- {re.escape(title)} -->\n).*?(\n<!-- /{re.escape(title)} -->)",
            re.DOTALL,
        )
        if not pattern.search(text):
            raise click.ClickException(f"{name} has lost its chapter `{title}`")
        text = pattern.sub(lambda match, made=make: match[1] + made() + match[2], text)  # type: ignore[misc]
    return text


if __name__ == "__main__":
    for file in CHAPTERS:
        (ROOT / file).write_text(rewritten(file))
