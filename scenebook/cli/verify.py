"""scenebook verify: prove a gig."""

from typing import TYPE_CHECKING

import typer

from scenebook.cli.options import AsJson, Full, Gig, LibraryPath, Port, Rig, group, library_at
from scenebook.cli.plain import counted, print_json, print_lines, progress_line

if TYPE_CHECKING:
    from collections.abc import Iterator

    from scenebook.actions.proving import Verified

__all__ = ["app", "failure_lines", "proof_json", "summary_lines"]
__all__ += ["caution_lines"]

SHOWN = 3  # things of one cue that its line tells

app = group("proving", "Prove a gig.")


@app.callback()
def _only_group() -> None:
    """Hold the command."""


@app.command("verify")
def verify_command(
    gig: Gig,
    rig: Rig = None,
    full: Full = False,
    port: Port = None,
    json: AsJson = False,
    library: LibraryPath = None,
) -> None:
    """Prove a gig: send it, read back what arrives, and hold that against every scene.

    Without --port a virtual port of our own serves, or the built-in loopback where there is no MIDI. A named port
    must lead back to an input. A rig with a sender is proved from the lists that it stores, each alone and in order.
    Exit code 1 if anything fails.

    Example: scenebook verify "Pell Quay" --full
    """
    from scenebook.actions.proving import verify

    found = verify(library_at(library), gig, rig, full=full, port=port, progress=progress_line("cue"))
    if json:
        print_json(proof_json(found))
    else:
        print_lines([*caution_lines(found), *failure_lines(found), *summary_lines(found)])
    raise typer.Exit(0 if found.ok else 1)


def caution_lines(found: "Verified") -> "Iterator[str]":
    """Yield what the compiler warns of, before all else: it names the cause of what fails."""
    yield from (f"take care: {text}" for text in found.cautions)


def failure_lines(found: "Verified") -> "Iterator[str]":
    """Yield a line for each cue that is not as its scene asks; what concerns a whole list has one too."""
    by_cue: dict[str, list[str]] = {}
    for part, failure in found.failures:
        cue = [f"cue {failure.number}" if failure.number >= 0 else "list", failure.song, failure.scene]
        place = ", ".join(filter(None, [part.removeprefix("sets").removeprefix(", "), *cue]))
        by_cue.setdefault(place, []).append(f"{failure.place}: {failure.what}")
    for place, faults in by_cue.items():
        more = f" And {counted(len(faults) - SHOWN, 'more thing')}; --json tells all." if len(faults) > SHOWN else ""
        yield f"FAIL  {place}  {' '.join(faults[:SHOWN])}{more}"


def summary_lines(found: "Verified") -> "Iterator[str]":
    """Yield what was proved, through what, and what was not proved."""
    if found.ok and not found.total("messages"):
        yield _nothing_sent(found)
        yield from (f"  take care: {text}" for text in found.warnings)
        return
    kind = "lists of its sender" if found.sender else "full list" if found.full else "lean list"
    result = "Proved" if found.ok else f"NOT PROVED ({counted(len(found.failures), 'failure')})"
    yield f"{result}: {found.gig} on {found.rig}, {kind}: {', '.join(_parts(found))}"
    if found.sender:
        yield f"  from {counted(found.lists, 'list')} of {found.sender}: each from unknown, and all in order"
    sums = [counted(found.total(f"{noun}s"), noun) for noun in ("cue", "message", "byte")]
    yield f"  {', '.join(sums)}; {counted(found.total('members'), 'comparison')} of members with the scenes"
    yield f"  through the {found.port_kind}" + (f" ({found.port_reason})" if found.port_reason else "")
    members, units = _by_hand(found)
    yield f"  worked by hand or foot, so not proved: {counted(members, 'member')} of {counted(units, 'unit')}"
    yield from (f"  take care: {text}" for text in found.warnings)


def _nothing_sent(found: "Verified") -> str:
    members, units = (counted(number, noun) for number, noun in zip(_by_hand(found), ("member", "unit"), strict=True))
    if not found.not_proved:
        return "Nothing to prove by MIDI: nothing is sent, and nothing is worked by hand and foot"
    return f"Nothing to prove by MIDI: all of it is worked by hand and foot ({members} of {units})"


def _by_hand(found: "Verified") -> tuple[int, int]:
    """Return how many members are worked by hand or foot, and of how many units."""
    return sum(len(names) for names in found.not_proved.values()), len(found.not_proved)


def _parts(found: "Verified") -> "Iterator[str]":
    names = list(dict.fromkeys(each.part for each in found.parts))
    spares = sum(name.startswith("spare song") for name in names)
    yield names[0]
    yield from [counted(spares, "spare song")] if spares else []
    yield from [name for name in names[1:] if not name.startswith("spare song")]


def proof_json(found: "Verified") -> dict[str, object]:
    """Return a proof as plain JSON values."""
    return {
        "gig": found.gig,
        "rig": found.rig,
        "list": "sender" if found.sender else "full" if found.full else "lean",
        **({"sender": {"unit": found.sender, "lists": found.lists}} if found.sender else {}),
        "ok": found.ok,
        "port": {"kind": found.port_kind, "reason": found.port_reason},
        **{what: found.total(what) for what in ("cues", "messages", "bytes", "members")},
        "failures": [{"part": part, **failure._asdict()} for part, failure in found.failures],
        "not_proved": found.not_proved,
        "warnings": [*found.cautions, *found.warnings],
    }
