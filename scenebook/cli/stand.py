"""scenebook stand: run a gig from this laptop."""

from typing import Annotated

import typer

from scenebook.cli.options import Gig, LibraryPath, Rig, group, library_at

__all__ = ["app"]

app = group("running", "Run a gig.")


@app.callback()
def _only_group() -> None:
    """Hold the command."""


@app.command("stand")
def stand_command(
    gig: Gig,
    rig: Rig = None,
    port: Annotated[
        list[str] | None,
        typer.Option(
            "--port", metavar="PORT=NAME", help="The MIDI port for a port of the rig; NAME alone for its only."
        ),
    ] = None,
    listen: Annotated[
        list[str] | None, typer.Option("--listen", metavar="NAME", help="A MIDI input to listen to; unless given, all.")
    ] = None,
    share: Annotated[bool, typer.Option("--share", help="Let other screens on this network open it by key.")] = False,
    no_browser: Annotated[bool, typer.Option("--no-browser", help="Only serve the page.")] = False,
    web_port: Annotated[
        int | None, typer.Option("--web-port", metavar="NUMBER", help="The page's port; in use, the next is taken.")
    ] = None,
    afresh: Annotated[bool, typer.Option("--afresh", help="Begin a new evening at home.")] = False,
    follow: Annotated[
        str | None, typer.Option("--follow", metavar="ADDRESS", help="Follow the stand whose stepping address this is.")
    ] = None,
    library: LibraryPath = None,
) -> None:
    """Run a gig: it sends each cue, takes the next step from key, pedal, footswitch or touch, and shows where you are.

    Nothing is sent before you step. Cut off within 18 hours it goes on at the same cue. Ctrl-C ends it. With --share
    it prints two addresses as codes, one to see and one to step; each opens one screen.

    Example: scenebook stand "Pell Quay" --port front=interface
    """
    from scenebook.cli.stand_running import Wishes, run_stand

    wishes = Wishes(rig, port or (), listen or (), share, not no_browser, web_port, afresh, follow)
    run_stand(library_at(library), gig, wishes)
