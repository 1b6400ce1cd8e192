"""Completing what a shell asks for: models, sheets, causes, tags, lots, tools; nothing if the shop cannot be read.

A person waits with a key pressed: names are read from the shop's files as they stand, and nothing is brought in step.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import TYPE_CHECKING, Any, TypeVar

import click

from kb.cli.options import shop_folder

if TYPE_CHECKING:
    from pathlib import Path

    from click.shell_completion import CompletionItem

    Told = Mapping[str, str | None]
    Asked = Callable[[Path, str], Told]

Command = TypeVar("Command", bound=Callable[..., Any])


def _completer(
    ask: Asked,
) -> Callable[[click.Context, click.Parameter, str], list[CompletionItem]]:
    """What click calls: the question asked of the shop that the line names, or that the commands find by themselves."""

    def complete(
        ctx: click.Context, _: click.Parameter, begun: str
    ) -> list[CompletionItem]:
        # the help of a command need not wait for it
        from click.shell_completion import CompletionItem

        named = ctx.params.get("bench") or ctx.find_root().params.get("shop")
        try:
            found = ask(shop_folder(named), begun)
        except Exception:  # a shell that completes has no place for a sentence
            return []
        wanted = begun.casefold()
        return [
            CompletionItem(name, help=told)
            for name, told in found.items()
            if name.casefold().startswith(wanted)
        ]

    return complete


def _untold(names: Iterable[str]) -> Told:
    return dict.fromkeys(names)


def _stock(shop: Path) -> Path:
    """The library that the shop works with; the settings are read only where they may name one."""
    from kb.library.stock import stock_folder

    settings = shop / "shop.toml"
    if settings.exists() and "library" in settings.read_text("utf-8"):
        from kb.bench.settings import library_of

        return library_of(shop) or stock_folder()
    return stock_folder()


def _models(shop: Path, _: str) -> Told:
    from kb.index import names

    return _untold(names.models(shop))


def _sheets(shop: Path, _: str) -> Told:
    from kb.index import names

    return names.sheets(shop, _stock(shop))


def _causes(shop: Path, begun: str) -> Told:
    """Sheets until one is written out, then its causes."""
    from kb.index import names

    sheet, stroke, _ = begun.partition("/")
    if not stroke:
        return _untold(f"{name}/" for name in _sheets(shop, begun))
    stock = _stock(shop)
    causes = names.causes(shop, stock, sheet)
    if causes is None:
        # a sheet that was written since the last search
        from kb.library.shelf import Shelf

        read = Shelf(stock, shop / "entries").sheet(sheet)
        listed = read.entry.causes if read and read.entry else ()
        causes = {one.slug: one.text for one in listed}
    return {f"{sheet}/{name}": told for name, told in causes.items()}


def _tags(shop: Path, _: str) -> Told:
    from kb.index import names

    return {tag: model or None for tag, model in names.tags(shop).items()}


def _lots(shop: Path, _: str) -> Told:
    from kb.index import names

    return _untold(names.lots(shop))


def _tools(shop: Path, _: str) -> Told:
    from kb.index import names

    return _untold(names.tools(shop, _stock(shop)))


models, sheets, causes = _completer(_models), _completer(_sheets), _completer(_causes)
tags, lots, tools = _completer(_tags), _completer(_lots), _completer(_tools)


def model_option(told: str) -> Callable[[Command], Command]:
    """Adds --model, which the shell completes, with what it means to the command."""
    return click.option(
        "--model",
        "-m",
        default="",
        metavar="M",
        shell_complete=models,
        help=told,
    )
