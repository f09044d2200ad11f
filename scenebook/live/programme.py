"""The evening as it is called: every cue, lean and full, with its place, compiled from what holds tonight."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import NamedTuple

from scenebook.cueing.compile import compile_gig
from scenebook.cueing.cues import Cue, CueList
from scenebook.cueing.sender_tonight import Stored, pressed_tonight, stored_for
from scenebook.errors import SceneError
from scenebook.live.places import HOME, SAFE, Part, Place
from scenebook.live.tonight import Tonight, applied, kept_entries, played_form, rebuilt, tonight_of
from scenebook.model import Library, Scene, SetEntry, Song

__all__ = ["Programme", "Step", "programme_of"]

_QUIET = ("quiet", "safe")  # house sounds that serve as the safe state where the rig names none


class Step(NamedTuple):
    """One cue with its place, as it goes out between neighbours and as it goes out after anything else."""

    place: Place
    lean: Cue
    full: Cue


@dataclass(frozen=True)
class Programme:
    """All that can be called. `steps` are home and the sets in order; spare songs and house sounds are apart.

    `stays` are units that hear nothing tonight and that nobody can work by hand: they stay as they stood. `tempos` are
    those of the songs, by place with form 0, in quarter notes a minute; one that is not known is not in it. `library`
    is what the programme was made from, as the player wrote it.

    Where the rig has a sender, the steps have what is pressed there in place of the messages on its ports; `whole` has
    by place the full cue with what a press sends. `unstored` names scenes of which it has no list, and `silent` is the
    sender that is not there tonight.
    """

    gig: str
    rig: str
    steps: tuple[Step, ...]
    spares: tuple[tuple[Step, ...], ...]
    house: tuple[Step, ...]
    safe: Step
    warnings: tuple[str, ...] = ()
    stays: tuple[str, ...] = ()
    tempos: Mapping[Place, float] = field(default_factory=dict)
    library: Library = field(default_factory=Library, repr=False)
    whole: Mapping[Place, Cue] = field(default_factory=dict, repr=False)
    unstored: tuple[str, ...] = ()
    silent: str = ""

    @cached_property
    def by_place(self) -> dict[Place, Step]:
        """Every step by its place."""
        rest = (*self.house, self.safe, *(step for spare in self.spares for step in spare))
        return {step.place: step for step in (*self.steps, *rest)}

    @cached_property
    def steady(self) -> frozenset[str]:
        """The units that always sound and show no preset, so that nobody has to be told of them."""
        rows = (self.steps, self.house, (self.safe,), *self.spares)
        states = [state for row in rows for step in row for state in step.full.states]
        restless = {state.unit for state in states if state.preset is not None or not state.sounds}
        return frozenset(state.unit for state in states) - restless

    @cached_property
    def _numbers(self) -> dict[Place, int]:
        return {step.place: number for row in (self.steps, *self.spares) for number, step in enumerate(row)}

    def row(self, place: Place) -> tuple[tuple[Step, ...], int]:
        """Return the steps that follow each other where `place` is, and its number among them.

        Those are the sets with home, or one spare song; a house sound and the safe state stand alone.
        """
        if place.part is Part.SET:
            return self.steps, self._numbers[place]
        if place.part is Part.SPARE:
            return self.spares[place.entry], self._numbers[place]
        return (self.by_place[place],), 0

    def neighbour(self, place: Place, by: int) -> Step | None:
        """Return the step that lies so many steps on (or back) within the sets or the spare song."""
        row, number = self.row(place)
        return row[number + by] if 0 <= number + by < len(row) else None

    def nearest(self, place: Place) -> Step | None:
        """Return the step at a place or, where that is not played any more, the last before it in its song or set."""
        if place in self.by_place:
            return self.by_place[place]
        spare = tuple(step for row in self.spares for step in row if step.place.entry == place.entry)
        rows = {Part.SET: self.steps, Part.SPARE: spare}
        before = [step for step in rows.get(place.part, ()) if step.place <= place]
        return before[-1] if before else None

    @property
    def home(self) -> Step:
        """Cue 0."""
        return self.by_place[HOME]


def programme_of(library: Library, gig: str, rig: str, tonight: Tonight | None = None) -> Programme:
    """Return everything that can be called at a gig on a rig, as it stands tonight (else as the gig says).

    A unit that is deaf and that a scene needs to move, though nobody can by hand, counts as out.

    Raises:
        ScenebookError: the gig cannot be played so, as the compiler says it.
    """
    tonight = tonight if tonight is not None else tonight_of(library.gigs[gig])
    stored = stored_for(library, gig, rig)
    try:
        return _played(_compiled(library, gig, rig, tonight, ()), stored)
    except SceneError:
        if not tonight.deaf:
            raise
    return _played(_compiled(library, gig, rig, tonight, _beyond_hands(library, gig, rig, tonight)), stored)


def _beyond_hands(library: Library, gig: str, rig: str, tonight: Tonight) -> tuple[str, ...]:
    """Return the deaf units that no hand can bring where the scenes ask for them."""
    deaf: set[str] = set()
    stays: list[str] = []
    for name in [each for each in library.rigs[rig].carried if each in tonight.deaf]:
        try:
            _compiled(library, gig, rig, replace(tonight, deaf=frozenset({*deaf, name})), stays)
            deaf.add(name)
        except SceneError:
            stays.append(name)
    return tuple(stays)


@dataclass(frozen=True)
class _Compiled:
    """Tonight's lists of a gig, the safe state among its spare songs, and what they were compiled from."""

    library: Library  # as the player wrote it
    there: Library  # tonight's
    tonight: Tonight
    stays: tuple[str, ...]
    lean: CueList
    full: CueList


def _compiled(library: Library, gig: str, rig: str, tonight: Tonight, stays: Collection[str]) -> _Compiled:
    asked = _with_safe(applied(library, gig, rig, tonight, stays=stays), gig, rig)
    lean, full = compile_gig(asked, gig, rig), compile_gig(asked, gig, rig, full=True)
    return _Compiled(library, asked, tonight, tuple(stays), lean, full)


def _played(of: _Compiled, stored: Stored | None) -> Programme:
    """Return the programme of compiled lists, with what is pressed on the sender that stores the gig, if one does."""
    if stored is None:
        return _programme(of)
    evening, sender = of.there.gigs[of.lean.gig], of.there.rigs[of.lean.rig].sender
    unit = evening.played_by.get(sender.unit, sender.unit) if sender else ""
    if unit != stored.lists.unit or unit in evening.out:  # what plays its part has nothing of it stored
        return replace(_programme(of), silent=stored.lists.unit)
    pressed = pressed_tonight(stored, of.there, of.lean, of.full)
    whole = _programme(replace(of, lean=pressed.whole, full=pressed.whole))
    sent = {place: step.full for place, step in whole.by_place.items()}
    played = _programme(replace(of, lean=pressed.lean, full=pressed.full))
    return replace(played, whole=sent, unstored=pressed.unstored)


def _programme(of: _Compiled) -> Programme:
    library, gig, tonight, lean, full = of.library, of.lean.gig, of.tonight, of.lean, of.full
    steps = tuple(_in_sets(library, gig, tonight, lean, full))
    count = len(library.gigs[gig].spares)
    spares = tuple(_spare(library, gig, number, tonight, lean, full) for number in range(count))
    sounds = full.house.cues if full.house else ()
    house = tuple(Step(Place(Part.HOUSE, 0, form), cue, cue) for form, cue in enumerate(sounds))
    own = full.spares[count].cues[0] if len(full.spares) > count else None
    safe = Step(SAFE, own, own) if own else _quiet(house, steps[0])
    tempos = dict(_tempos(of.there, gig))
    return Programme(gig, of.lean.rig, steps, spares, house, safe, lean.warnings, of.stays, tempos, library)


def _tempos(library: Library, gig: str) -> Iterator[tuple[Place, float]]:
    """Yield the tempo of every song where it is known: tonight's, the gig's or the song's own."""
    evening = library.gigs[gig]
    house = (SetEntry(song=evening.house),) if evening.house else ()
    for part, entries in ((Part.SET, evening.entries), (Part.SPARE, evening.spares), (Part.HOUSE, house)):
        for number, entry in enumerate(entries):
            tempo = entry.tempo if entry.tempo is not None else library.songs[entry.song].tempo
            if tempo is not None:
                yield Place(part, number, 0), tempo


def _in_sets(library: Library, gig: str, tonight: Tonight, lean: CueList, full: CueList) -> Iterator[Step]:
    """Yield home and the cues of the sets, each with the place that its form entry has before anything is cut."""
    kept = [
        kept_entries(played_form(library, entry), Part.SET, number, tonight)
        for number, entry in enumerate(library.gigs[gig].entries)
    ]
    for one, other in zip(lean.cues, full.cues, strict=True):
        place = HOME
        if one.entry is not None and one.form is not None:
            place = Place(Part.SET, one.entry, kept[one.entry][one.form])
        yield Step(place, one, other)


def _spare(library: Library, gig: str, number: int, tonight: Tonight, lean: CueList, full: CueList) -> tuple[Step, ...]:
    form = played_form(library, library.gigs[gig].spares[number])
    kept = kept_entries(form, Part.SPARE, number, tonight)
    cues = zip(kept, lean.spares[number].cues, full.spares[number].cues, strict=True)
    return tuple(Step(Place(Part.SPARE, number, form), one, other) for form, one, other in cues)


def _with_safe(library: Library, gig: str, rig: str) -> Library:
    """Return the library with the rig's safe state, if it names one, as one more spare song."""
    units = library.rigs[rig].safe
    if not units:
        return library
    name = "safe"
    while name in library.songs:
        name += " state"
    song = Song.model_construct(scenes={"safe": Scene.model_construct(units=units)})
    evening = library.gigs[gig]
    evening = rebuilt(evening, spares=(*evening.spares, SetEntry(song=name)))
    return rebuilt(library, songs={**library.songs, name: song}, gigs={**library.gigs, gig: evening})


def _quiet(house: Sequence[Step], home: Step) -> Step:
    found = next((step for step in house if step.full.scene.casefold() in _QUIET), home)
    return Step(SAFE, found.full, found.full)
