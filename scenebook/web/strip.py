"""The form of a song as a strip of bars, as on paper: what is played, what is cut, and where it stands. Pure."""

from collections.abc import Iterator
from dataclasses import dataclass

from scenebook.live.places import Part, Place
from scenebook.web.known import Known, letter

__all__ = ["MOST_BARS", "Stretch", "Strip", "strip_of"]

MOST_BARS = 64  # that the stylesheet draws one by one; a longer part is drawn as long as this
_NOT_KNOWN = 4  # bars that a part is drawn as where nobody knows


@dataclass(frozen=True, slots=True)
class Stretch:
    """One part of a form: its mark and name, the bars that are drawn, those of them with free hands, and its words."""

    mark: str
    name: str
    bars: int
    free: int
    is_known: bool
    is_now: bool
    is_cut: bool
    words: str  # everything, for who hears the page

    @property
    def busy(self) -> int:
        """The bars in which the hands are not free."""
        return self.bars - self.free


@dataclass(frozen=True, slots=True)
class Strip:
    """A form; `label` says whose."""

    label: str
    stretches: tuple[Stretch, ...]

    @property
    def is_named(self) -> bool:
        """Whether names are all that tells the parts apart."""
        return not any(part.mark for part in self.stretches)

    @property
    def is_crowded(self) -> bool:
        """Whether there are too many parts for every name."""
        return len(self.stretches) > 9

    @property
    def is_dense(self) -> bool:
        """Whether there are too many parts for every mark on a narrow page."""
        return len(self.stretches) > 16


def strip_of(known: Known, place: Place) -> Strip:
    """Return the strip for the song at a place; the house sounds are drawn as a song with a bar or so for each."""
    rows = _house(known, place) if place.part is Part.HOUSE else _form(known, place)
    return Strip(f"Form of {known.title(place)}", tuple(rows))


def _form(known: Known, place: Place) -> Iterator[Stretch]:
    for number, part in enumerate(known.form(place)):
        here = place._replace(form=number)
        cut, now = here not in known.programme.by_place, here == place
        bars = _drawn(part.bars)
        free = min(bars, round(part.free))
        said = _words(letter(number), part.scene, part.bars, part.free, now=now, cut=cut)
        yield Stretch(letter(number), part.scene, bars, free, part.bars is not None, now, cut, said)


def _house(known: Known, place: Place) -> Iterator[Stretch]:
    for step in known.programme.house:
        now, scene = step.place == place, step.full.scene
        yield Stretch("", scene, _NOT_KNOWN, 0, False, now, False, f"{scene}{', stands now' if now else ''}")


def _drawn(bars: float | None) -> int:
    return _NOT_KNOWN if bars is None else max(1, min(MOST_BARS, round(bars)))


def _words(mark: str, name: str, bars: float | None, free: float, *, now: bool, cut: bool) -> str:
    said = [mark, name, "bars not known" if bars is None else f"{bars:g} bar{'' if bars == 1 else 's'}"]
    said += [f"last {free:g} free"] if free else []
    said += ["cut tonight"] if cut else []
    return ", ".join([*said, *(["stands now"] if now else [])])
