"""The options that many commands share, and how a command group is made."""

from pathlib import Path
from typing import Annotated

import typer

__all__ = ["AsJson", "Full", "Gig", "LibraryPath", "Port", "Rig", "Text", "group", "library_at"]

LibraryPath = Annotated[
    Path | None,
    typer.Option(
        "--library",
        metavar="PATH",
        envvar="SCENEBOOK_LIBRARY",
        show_envvar=True,
        help="The library file; unless given, library.scenebook in your user's data folder.",
    ),
]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON for other programs.")]
Rig = Annotated[str | None, typer.Option("--rig", help="A rig other than the gig's own.")]
Full = Annotated[bool, typer.Option("--full", help="The full list: everything at every cue, whatever came before.")]
Port = Annotated[str | None, typer.Option("--port", help="The MIDI port, by name or its beginning.")]
Gig = Annotated[str, typer.Argument(help="The gig.")]
Text = Annotated[str, typer.Argument(help="Only those in which this text occurs.", show_default=False)]


def group(name: str, help_text: str) -> typer.Typer:
    """Return a group of commands that explains itself where none is named."""
    return typer.Typer(
        name=name,
        help=help_text,
        rich_markup_mode=None,
        pretty_exceptions_enable=False,
        no_args_is_help=True,
        add_completion=False,
    )


def library_at(path: Path | None) -> Path:
    """Return the library file that a command means: the one given, or the user's own."""
    if path is not None:
        return path
    from scenebook.actions.libraries import default_library  # late: seldom needed

    return default_library()
