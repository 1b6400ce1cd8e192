"""Wrong usage of a command, said in one sentence that tells what to do."""

from __future__ import annotations

from collections.abc import Sequence

import click

_NUMBERS = (click.types.IntParamType, click.types.FloatParamType)

#: What people type for a command that is called otherwise here.
_CALLED_HERE = {
    "add": "confirm",
    "delete": "retract",
    "edit": "new",
    "find": "search",
    "history": "jobs",
    "ls": "list",
    "remove": "retract",
    "rm": "retract",
    "save": "confirm",
    "stats": "review",
    "status": "verify",
    "version": "--version",
}
#: The same for options; only those that the command has are proposed.
_OPTIONS_HERE = {
    "--at": "--on",
    "--date": "--on",
    "--day": "--on",
    "--initials": "--by",
    "--machine": "--unit",
    "--max": "--limit",
    "--number": "--limit",
    "--tag": "--unit",
    "--who": "--by",
}


def plainly(error: click.UsageError) -> click.UsageError:
    """The same error as one sentence, without the lines about usage; what says so already keeps its words."""
    ctx = error.ctx
    if isinstance(error, click.BadOptionUsage):
        return click.UsageError(
            f"{error.option_name} needs a value after it, in quotes if there are spaces in it"
        )
    if ctx is None or isinstance(error, click.exceptions.NoArgsIsHelpError):
        return error
    return click.UsageError(_sentence(error, ctx))


def no_command(name: str, known: Sequence[str], program: str) -> click.UsageError:
    """The error for a command that does not exist.

    >>> no_command("serch", ["search", "verify"], "benchlore").message
    'there is no command `serch`; did you mean `search`?'
    """
    meant = _CALLED_HERE.get(name.casefold())
    instead = f"did you mean `{meant}`?" if meant else _instead(name, known, program)
    return click.UsageError(f"there is no command `{name}`; {instead}")


def no_such(what: str, name: str, known: Sequence[str]) -> str:
    """That there is no such thing, with the nearest one.

    >>> no_such("entry", "batery-swollen", ["battery-swollen", "no-sound"])
    'there is no entry `batery-swollen`; did you mean `battery-swollen`?'
    """
    near = _nearest(name, known)
    return f"there is no {what} `{name[:60]}`; {f'did you mean `{near}`?' if near else 'see `benchlore list`'}"


def _nearest(name: str, known: Sequence[str]) -> str:
    from kb.language.nearest import nearest  # what is typed well need not wait for it

    return nearest(name, known)


def _instead(name: str, known: Sequence[str], program: str) -> str:
    near = _nearest(name, known)
    return (
        f"did you mean `{near}`?"
        if near
        else f"`{program} --help` lists those there are"
    )


def _sentence(error: click.UsageError, ctx: click.Context) -> str:
    match error:
        case click.NoSuchOption():
            return _no_option(error.option_name, ctx)
        case click.MissingParameter():
            return f"{_name(error, ctx)} is missing; {_example(ctx)}"
        case click.BadParameter():
            return f"{_name(error, ctx)}: {_value(error)}"
    told = error.format_message().rstrip(".")
    return (
        told if told[:1].islower() else f"{told[:1].lower()}{told[1:]}; {_example(ctx)}"
    )


def _no_option(name: str, ctx: click.Context) -> str:
    """That there is no such option, and what was meant: another one, a place after a command, or words."""
    if belongs := _command_with(name, ctx):
        return f"{name} stands after a command, as in `benchlore {belongs} ... {name}`"
    known = [option for param in ctx.command.params for option in param.opts]
    meant = _OPTIONS_HERE.get(name, "")
    if meant in known:
        return f"there is no option {name}; did you mean `{meant}`?"
    words = any(param.nargs == -1 for param in ctx.command.params)
    dash = (
        f"; words that begin with a dash stand after --, as in `{ctx.command_path} -- {name}`"
        if words
        else ""
    )
    return f"there is no option {name}; {_instead(name, known, ctx.command_path)}{dash}"


def _command_with(option: str, ctx: click.Context) -> str:
    """The first command that has that option, where it was written before any command; empty for none."""
    if not isinstance(ctx.command, click.Group):
        return ""
    for name in ctx.command.list_commands(ctx):
        command = ctx.command.get_command(ctx, name)
        if command and any(option in param.opts for param in command.params):
            return name
    return ""


def _name(error: click.BadParameter, ctx: click.Context) -> str:
    """What the command line calls the parameter: the option, or the argument as its help shows it."""
    param = error.param
    if param is None:
        return str(error.param_hint or "a value")
    return (
        param.opts[0]
        if isinstance(param, click.Option)
        else param.make_metavar(ctx).strip("[].")
    )


def _value(error: click.BadParameter) -> str:
    """What is wrong with a value, and what to write in its place."""
    told, kind = error.message.rstrip("."), error.param.type if error.param else None
    if isinstance(kind, _NUMBERS):
        sort = (
            "whole number" if isinstance(kind, click.types.IntParamType) else "number"
        )
        least, most = getattr(kind, "min", None), getattr(kind, "max", None)
        if most is not None:
            return f"give a {sort} from {least} to {most}"
        return (
            f"give a {sort}" if least is None else f"give a {sort} of {least} or more"
        )
    if isinstance(kind, click.Path | click.File):
        what = "a folder" if _folder(kind) else "a file"
        return f"{told[:1].lower()}{told[1:]}; give the path of {what}"
    return told


def _folder(kind: click.Path | click.File) -> bool:
    return isinstance(kind, click.Path) and not kind.file_okay


def _example(ctx: click.Context) -> str:
    """The example of the command's help, else where its help stands."""
    _, found, example = (ctx.command.help or "").partition("Example: ")
    return (
        f"for example: {' '.join(example.split())}"
        if found
        else f"see `{ctx.command_path} --help`"
    )
