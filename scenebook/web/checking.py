"""What the page says while a line check goes on: how far it is, what to listen for, what to heed first. Pure."""

from dataclasses import dataclass

from scenebook.live.snapshot import Snapshot
from scenebook.sheets.check_words import touched_words, untouched_words

__all__ = ["CheckNow", "check_now"]


@dataclass(frozen=True, slots=True)
class CheckNow:
    """A line check at one moment. `caution` is about what comes next, so it stands before everything else."""

    title: str
    caution: str
    touches: tuple[str, ...]
    untouched: tuple[str, ...]  # said once, before the first


def check_now(snapshot: Snapshot) -> CheckNow | None:
    """Return what is said of the line check that goes on, if one does."""
    check = snapshot.checking
    if check is None:
        return None
    here, ahead, count = check.here, check.ahead, len(check.checks)
    cues = f"{count} cue{'' if count == 1 else 's'}"
    title = f"Line check, {check.at + 1} of {count}" if here else f"Line check of {cues}: next begins it"
    if ahead is None:
        title += ": next ends it"
    return CheckNow(
        title=title,
        caution=f"Before you go on: {ahead.caution}" if ahead and ahead.caution else "",
        touches=touched_words(here.first) if here else (),
        untouched=untouched_words(check.untouched) if here is None else (),
    )
