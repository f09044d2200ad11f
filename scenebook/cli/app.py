"""The root of the command: which commands there are, and the one place where errors become words."""

import gc
import os
import sys
from collections.abc import Sequence
from importlib import import_module
from typing import Annotated, Any

import typer
from typer.core import TyperGroup
from typer.main import get_command, get_group

from scenebook import __version__
from scenebook.errors import OutputError, ScenebookError

__all__ = ["COMMANDS", "MORE", "command_app", "main", "root", "run"]

# Each command, in the order in which help lists them, and the module that holds it.
COMMANDS = {
    "demo": "demo",
    "library": "library",
    "unit": "unit",
    "rig": "rig",
    "song": "song",
    "scene": "scene",
    "gig": "gig",
    "compile": "compile",
    "verify": "verify",
    "ports": "wire",
    "send": "wire",
    "export": "export",
    "sheet": "sheet",
    "stand": "stand",
}
# Further modules with commands of a group, in the order in which its help lists them.
MORE = {
    "rig": (
        "rig_reach",
        "rig_choose",
        "rig_power",
        "rig_place",
        "rig_switcher",
        "rig_board",
        "rig_sheets",
        "rig_stage",
        "rig_sender",
    ),
    "gig": ("gig_work", "gig_check", "gig_log"),
}
BAD_INPUT, INTERRUPTED = 2, 130


class _LazyGroup(TyperGroup):
    """Finds a command's module only when it is asked for."""

    def list_commands(self, ctx: Any) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        if cmd_name not in COMMANDS:
            return None
        app = command_app(COMMANDS[cmd_name])
        group: Any = get_group(app)
        for module in MORE.get(cmd_name, ()):
            more: Any = get_group(command_app(module))
            group.commands |= more.commands
        for command in group.commands.values():
            _say_plainly(command)
        return group if app.info.name == cmd_name else group.commands[cmd_name]

    def resolve_command(self, ctx: Any, args: list[str]) -> Any:
        """Load the names of all commands only where one is wrong: then the nearest is suggested."""
        names: Any = {} if args and args[0] in COMMANDS else dict.fromkeys(COMMANDS)
        self.commands = names
        return super().resolve_command(ctx, args)


def _say_plainly(command: Any) -> None:
    """Let help name what an option takes (`--rig RIG`) and not its type in Python, which tells a player nothing."""
    for parameter in command.params:
        if parameter.param_type_name == "argument":
            parameter.display_type_rich = lambda ctx: None
        elif not parameter.is_flag and parameter.metavar is None:
            parameter.metavar = parameter.opts[0].strip("-").upper()


def command_app(module: str) -> typer.Typer:
    """Return the commands that one module of this room holds."""
    app = import_module(f"scenebook.cli.{module}").app
    assert isinstance(app, typer.Typer)
    return app


app = typer.Typer(
    name="scenebook",
    cls=_LazyGroup,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    no_args_is_help=True,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)


def _say_version(value: bool) -> None:
    if value:
        print(f"scenebook {__version__}")
        raise typer.Exit


@app.callback()
def _root(
    version: Annotated[
        bool, typer.Option("--version", help="Say which version this is.", callback=_say_version, is_eager=True)
    ] = False,
) -> None:
    """Keep a touring player's scenes, and get a rig from one to the next: by message, by foot and on paper.

    A library holds units, rigs, songs with their scenes, and gigs. Begin with: scenebook demo

    Names may be shortened to any beginning that fits one thing only, and capitals do not count.
    Every command explains itself with an example: scenebook COMMAND --help
    """


def root() -> Any:
    """Return the whole command, whose parts are found as they are asked for."""
    return get_command(app)


def run(arguments: Sequence[str]) -> int:
    """Run one command and return its exit code: 0 well, 1 the answer is no, 2 bad input, 130 interrupted.

    Errors on purpose become one message on standard error; anything else is a fault of ours and keeps its traceback.
    """
    _print_any_script()
    try:
        root().main(args=list(arguments), prog_name="scenebook")
    except SystemExit as end:
        if isinstance(end.__context__, BrokenPipeError):  # the library for commands makes a failure of a closed pipe
            return _without_output(0)
        code = end.code if isinstance(end.code, int) else 1 if end.code else 0
    except ScenebookError as error:
        _say_error(error)
        code = BAD_INPUT
    except BrokenPipeError:
        code = _without_output(0)
    except KeyboardInterrupt:
        code = INTERRUPTED
    except OSError as error:
        _say_error(OutputError(error.strerror or str(error), where=str(error.filename or "output")))
        return _without_output(BAD_INPUT)
    return _flushed(code)


def main() -> None:
    """Run the command that the terminal names, and leave with its exit code."""
    gc.disable()  # a command is short: looking for garbage while modules load is a tenth of its time
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")  # it would look through every installed package
    sys.exit(run(sys.argv[1:]))


def _say_error(error: ScenebookError) -> None:
    print(f"Error: {error}", file=sys.stderr)
    for note in getattr(error, "__notes__", [])[:20]:
        print(f"       {note}", file=sys.stderr)


def _flushed(code: int) -> int:
    """Write out what is still held back: at exit a closed pipe or a full disk would be a traceback."""
    if sys.stdout is None:  # started with standard output closed
        return code
    try:
        sys.stdout.flush()
    except BrokenPipeError:  # whoever reads has heard enough: that is no error
        return _without_output(0)
    except OSError as error:
        _say_error(OutputError(f"what was to be printed cannot be written: {error.strerror}"))
        return _without_output(BAD_INPUT)
    return code


def _without_output(code: int) -> int:
    """Forget what cannot be printed, so that leaving does not try again."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return code


def _print_any_script() -> None:
    """Let a terminal that lacks a character show a question mark, rather than end the command."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")
