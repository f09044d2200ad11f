"""scenebook gig log: the evening afterwards."""

import time
from typing import TYPE_CHECKING, Annotated, Any

import typer

from scenebook.cli.options import AsJson, Gig, LibraryPath, group, library_at
from scenebook.cli.plain import counted, names_words, print_json, print_lines

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from scenebook.actions.evening import EveningTold, Happening, Kept

__all__ = ["app"]

app = group("gig", "The evening of a gig.")


@app.command("log")
def log_command(
    gig: Gig,
    date: Annotated[str, typer.Option("--date", help="The day on which it began, as 2027-05-14; else the last.")] = "",
    keep: Annotated[bool, typer.Option("--keep", help="Write what was changed that evening into the gig.")] = False,
    json: AsJson = False,
    library: LibraryPath = None,
) -> None:
    """Tell the evening of a gig: when, which cue, by which trigger, what was sent to which port, faults, changes.

    With --keep, units that were out or played by others, keys, tempos and cut parts are written into the gig: songs and
    rigs stay as they are, and library undo takes it back.

    Example: scenebook gig log "Pell Quay"
    """
    from scenebook.actions.evening import evening_told, keep_evening

    path = library_at(library)
    if keep:
        kept = keep_evening(path, gig, date)
        print_json(_kept_json(kept)) if json else print_lines(_kept(kept))
        return
    told = evening_told(path, gig, date)
    print_json(_told_json(told)) if json else print_lines(_told(told))


def _told(told: "EveningTold") -> "Iterator[str]":
    yield f"{told.gig}, {told.date}"
    for each in told.happenings:
        yield f"{time.strftime('%H:%M:%S', time.localtime(each.at))}  {each.words}"
        yield from _messages("sent", each.sent)
        yield from _messages("not sent", each.dropped)
    yield from [f"{counted(told.torn, 'line')} of the journal cannot be read."] if told.torn else []
    yield f"The journal: {told.path}"
    yield from [f"Other evenings: {names_words(told.others)} (--date)"] if told.others else []


def _messages(what: str, messages: "Mapping[str, Sequence[str]]") -> "Iterator[str]":
    for port, those in messages.items():
        yield f"          {what}, {port}: {', '.join(those)}"


def _told_json(told: "EveningTold") -> dict[str, Any]:
    return {
        "gig": told.gig,
        "date": told.date,
        "journal": str(told.path),
        "unreadable_lines": told.torn,
        "happenings": [_happening_json(each) for each in told.happenings],
        "other_evenings": list(told.others),
    }


def _happening_json(each: "Happening") -> dict[str, Any]:
    sent = {port: list(those) for port, those in each.sent.items()}
    dropped = {port: list(those) for port, those in each.dropped.items()}
    return {"at": each.at, "kind": each.kind, "words": each.words, "sent": sent, "not_sent": dropped}


def _kept(kept: "Kept") -> "Iterator[str]":
    if kept.gig == kept.before:
        yield f"Nothing that {kept.name} does not say already was changed that evening."
        return
    yield f"Kept in {kept.name}: {names_words(_what(kept))}."
    yield "Taken back by: scenebook library undo"


def _what(kept: "Kept") -> "Iterator[str]":
    """Yield what is otherwise in a gig now."""
    words = {"out": "what is out", "played_by": "what others play", "notes": "notes"}
    yield from (said for name, said in words.items() if getattr(kept.gig, name) != getattr(kept.before, name))
    before = [*kept.before.entries, *kept.before.spares]
    for old, new in zip(before, [*kept.gig.entries, *kept.gig.spares], strict=True):
        changed = [name for name in ("key", "tempo", "form") if getattr(old, name) != getattr(new, name)]
        yield from [f"{' and '.join(changed)} of {new.song}"] if changed else []


def _kept_json(kept: "Kept") -> dict[str, Any]:
    return {"name": kept.name, "changed": list(_what(kept)), **kept.gig.model_dump(mode="json", exclude_defaults=True)}
