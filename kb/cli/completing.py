"""Completing what a shell asks for: models, sheets, causes, tags, lots, tools; nothing if the shop cannot be read."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import click

from kb.cli.options import shop_folder

if TYPE_CHECKING:
    from click.shell_completion import CompletionItem

    from kb.bench.front import Bench

    Asked = Callable[[Bench, str], list[CompletionItem]]


def _completer(ask: Asked) -> Callable[[click.Context, click.Parameter, str], list[CompletionItem]]:
    """What click calls: the question asked of the shop that the line names, or that the commands find by themselves."""

    def complete(ctx: click.Context, _: click.Parameter, begun: str) -> list[CompletionItem]:
        from kb.bench.front import Bench

        named = ctx.params.get("bench") or ctx.find_root().params.get("shop")
        bench = Bench(shop_folder(named))
        try:
            return ask(bench, begun)
        except Exception:  # a shell that completes has no place for a sentence
            return []
        finally:
            bench.close()

    return complete


def _item(value: str, told: str | None = None) -> CompletionItem:
    from click.shell_completion import CompletionItem  # the help of a command need not wait for it

    return CompletionItem(value, help=told)


def _models(bench: Bench, begun: str) -> list[CompletionItem]:
    return [_item(one) for one in bench.asking.models() if one.casefold().startswith(begun.casefold())]


def _sheets(bench: Bench, begun: str) -> list[CompletionItem]:
    return [_item(one.slug, one.title) for one in bench.entries.served() if one.slug.startswith(begun)]


def _causes(bench: Bench, begun: str) -> list[CompletionItem]:
    """Sheets until one is written out, then its causes."""
    slug, stroke, name = begun.partition("/")
    if not stroke:
        return [_item(f"{one.value}/") for one in _sheets(bench, begun)]
    entry = bench.entries.entry(slug)
    causes = entry.causes if entry else ()
    return [_item(f"{slug}/{one.slug}", one.text) for one in causes if one.slug.startswith(name)]


def _tags(bench: Bench, begun: str) -> list[CompletionItem]:
    tags = [(one.line.tag, one.line.model) for one in bench.machines.units()]
    return [_item(tag, model or None) for tag, model in tags if tag.casefold().startswith(begun.casefold())]


def _lots(bench: Bench, begun: str) -> list[CompletionItem]:
    return [_item(one.name) for one in bench.machines.lots() if one.name.casefold().startswith(begun.casefold())]


def _tools(bench: Bench, begun: str) -> list[CompletionItem]:
    return [_item(one.name) for one in bench.entries.tools() if one.name.startswith(begun)]


models, sheets, causes = _completer(_models), _completer(_sheets), _completer(_causes)
tags, lots, tools = _completer(_tags), _completer(_lots), _completer(_tools)
