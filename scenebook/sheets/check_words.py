"""A line check in a player's words: what a cue touches, and what is not used tonight."""

from collections.abc import Iterable, Iterator

from scenebook.planning.line_check import Kind, Thing

__all__ = ["touched_words", "untouched_words"]

_TOUCHED = {
    Kind.PORT: "messages go out by",
    Kind.SOUNDS: "sounds",
    Kind.RECALLED: "a preset is recalled in",
    Kind.ON: "on",
    Kind.PEDAL: "move the pedal",
    Kind.FIRED: "fires",
    Kind.QUIETEST: "the quietest scene",
    Kind.LOUDEST: "the loudest scene",
}
_UNTOUCHED = {
    Kind.PORT: "nothing goes out by",
    Kind.SOUNDS: "never sounds",
    Kind.RECALLED: "no preset is recalled in",
    Kind.ON: "never on while it sounds",
    Kind.PEDAL: "never moved",
    Kind.FIRED: "never fires",
}


def touched_words(things: Iterable[Thing]) -> tuple[str, ...]:
    """Return what a cue touches, a line for each kind: "sounds: fuzz, silicon; delay, tape voiced"."""
    return tuple(_lines(things, _TOUCHED))


def untouched_words(things: Iterable[Thing]) -> tuple[str, ...]:
    """Return what no cue touches, a line for each kind."""
    return tuple(_lines(things, _UNTOUCHED))


def _lines(things: Iterable[Thing], words: dict[Kind, str]) -> Iterator[str]:
    known = list(things)
    for kind, said in words.items():
        names = [str(thing) for thing in known if thing.kind is kind]
        if names:
            joined = "; " if any("," in name for name in names) else ", "
            yield f"{said}: {joined.join(names)}" if names != [""] else said
