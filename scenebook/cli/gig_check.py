"""scenebook gig check: the shortest list of cues that touches all that a gig uses."""

from textwrap import wrap
from typing import TYPE_CHECKING, Any

from scenebook.cli.options import AsJson, Gig, LibraryPath, Rig, group, library_at
from scenebook.cli.plain import counted, print_json, print_lines

if TYPE_CHECKING:
    from collections.abc import Iterator

    from scenebook.actions.line_check import GigCheck
    from scenebook.planning.line_check import Check, Thing

__all__ = ["app"]

app = group("gig", "The line check of a gig.")
_WIDTH = 100  # columns, as the other lists have


@app.command("check")
def check_command(gig: Gig, rig: Rig = None, json: AsJson = False, library: LibraryPath = None) -> None:
    """Say the fewest cues that touch all that the gig uses: for the line check, before anybody listens.

    Each unit sounds and each of its switches is on, presets are recalled, a message goes out by each port, pedals and
    triggers have their turn; the loudest and the quietest scene are among them. What the gig does not use is named.
    Agree with the house before the loudest, and protect your hearing.

    Example: scenebook gig check "Pell Quay"
    """
    from scenebook.actions.line_check import check_gig

    found = check_gig(library_at(library), gig, rig)
    if json:
        print_json(_json(found))
    else:
        print_lines(_lines(found))


def _lines(found: "GigCheck") -> "Iterator[str]":
    from scenebook.sheets.check_words import touched_words, untouched_words
    from scenebook.sheets.words import CARE

    checks, untouched, loudness = found.found
    if not checks:
        yield f"{found.gig} on {found.rig}: there is no cue to check with."
    else:
        touch = "touches" if len(checks) == 1 else "touch"
        yield f"{found.gig} on {found.rig}: {counted(len(checks), 'cue')} {touch} all that the gig uses."
        yield f"Loudness: {loudness}."
    for place, (check, part) in enumerate(zip(checks, found.parts, strict=True), 1):
        yield ""
        yield from _wrapped(f"{CARE} {check.caution}.", "") if check.caution else ()
        yield f"{place}. {_where(check, part)}"
        yield from (line for words in touched_words(check.first) for line in _wrapped(words, "   "))
    if untouched:
        yield from ("", "Not used tonight:")
        yield from (line for words in untouched_words(untouched) for line in _wrapped(words, "   "))


def _wrapped(text: str, indent: str) -> list[str]:
    return wrap(text, _WIDTH, initial_indent=indent, subsequent_indent=f"{indent}  ", break_long_words=False)


def _where(check: "Check", part: str) -> str:
    cue = check.cue
    return f"{part or f'cue {cue.number}'}: {cue.song}/{cue.scene}"


def _json(found: "GigCheck") -> dict[str, Any]:
    return {
        "gig": found.gig,
        "rig": found.rig,
        "loudness": found.found.loudness,
        "cues": [_check_json(*each) for each in zip(found.found.checks, found.parts, strict=True)],
        "not_used": [_thing_json(thing) for thing in found.found.untouched],
    }


def _check_json(check: "Check", part: str) -> dict[str, Any]:
    cue = check.cue
    return {
        "part": part or "set",
        "cue": cue.number,
        "song": cue.song,
        "scene": cue.scene,
        "caution": check.caution,
        "first": [_thing_json(thing) for thing in check.first],
    }


def _thing_json(thing: "Thing") -> dict[str, str]:
    return {"kind": str(thing.kind), "name": thing.name, "member": thing.member}
