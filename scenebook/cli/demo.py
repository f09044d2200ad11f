"""scenebook demo: the main job on the demo library."""

from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from scenebook.cli.options import AsJson, group
from scenebook.cli.plain import columns, counted, print_json, print_lines, progress_line
from scenebook.cli.verify import failure_lines, proof_json, summary_lines

if TYPE_CHECKING:
    from collections.abc import Iterator

    from scenebook.actions.demo import Demo

__all__ = ["app"]

app = group("demonstration", "The main job on the demo library.")


@app.callback()
def _only_group() -> None:
    """Hold the command."""


@app.command("demo")
def demo_command(
    to: Annotated[Path, typer.Option("--to", metavar="DIR", help="A new or empty folder.")] = Path("scenebook-demo"),
    json: AsJson = False,
) -> None:
    """Build a library of invented songs, compile a gig, prove every cue through MIDI, print sheet and lists.

    Run again in the same folder, it uses the library that is there as you left it, and writes the rest anew.

    Example: scenebook demo --to /tmp/first-look
    """
    from scenebook.actions.demo import run_demo

    done = run_demo(to, progress=progress_line("cue"))
    if json:
        print_json(_json(done))
    else:
        print_lines(_lines(done))
    raise typer.Exit(0 if done.ok else 1)


def _lines(done: "Demo") -> "Iterator[str]":
    if done.kept:
        yield "A demo was here before: its library is used as it stands, and the sheet and the lists are written anew."
        yield ""
    for found in (done.lean, done.full):
        yield from failure_lines(found)
        yield from summary_lines(found)
        yield ""
    yield f"Everything lies in {done.folder}"
    kinds = Counter(path.suffix for path in done.files)
    lists = f"{counted(kinds['.mid'], 'Standard MIDI File')}, {kinds['.csv']} CSV, {kinds['.json']} JSON"
    rows = [
        ("library", done.library.name, "songs, scenes, rigs, gigs"),
        ("sheet", done.sheet.name, "for hands and feet: floor page, set-up, a page a song"),
        ("messages", "messages/", lists),
    ]
    yield from columns(rows, indent=2)
    yield f'Look further:  scenebook gig show "{done.lean.gig}" --library {done.library}'
    yield f'Run the gig:   scenebook stand "{done.lean.gig}" --library {done.library}'


def _json(done: "Demo") -> dict[str, object]:
    return {
        "folder": str(done.folder),
        "library": str(done.library),
        "library_kept": done.kept,
        "proofs": [proof_json(done.lean), proof_json(done.full)],
        "sheet": str(done.sheet),
        "files": [str(path) for path in done.files],
    }
