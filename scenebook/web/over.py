"""What stands on the sheets that open over the player's page: where to go, and what is different tonight. Pure."""

from collections.abc import Iterator
from dataclasses import dataclass

from scenebook.live.acts import Verb
from scenebook.live.places import HOME, SAFE, Part, Place
from scenebook.live.snapshot import Learned, Snapshot
from scenebook.planning.joins import MidiLines
from scenebook.sheets.words import bars_words, tempo_words
from scenebook.web.known import Known, letter

__all__ = ["LEARNABLE", "Choice", "GoSheet", "PartRow", "SetRows", "SongRow", "TonightSheet", "UnitRow"]
__all__ += ["go_sheet", "place_text", "tonight_sheet"]

LEARNABLE = (Verb.NEXT, Verb.BACK, Verb.AGAIN, Verb.SAFE, Verb.RESUME)


def place_text(place: Place) -> str:
    """Return a place as the page's script reads it: part, entry and form."""
    return f"{place.part}/{place.entry}/{place.form}"


@dataclass(frozen=True, slots=True)
class Choice:
    """One place to go to."""

    place: str
    number: str  # of a song, or the mark of a part
    name: str
    aside: str
    is_now: bool
    cue: int


@dataclass(frozen=True, slots=True)
class SetRows:
    """A set, the spare songs, the parts of the song that stands: a heading with places under it."""

    title: str
    choices: tuple[Choice, ...]


@dataclass(frozen=True, slots=True)
class GoSheet:
    """Everywhere that the gig can go. `cues` is every cue in order, for who types its number."""

    parts: SetRows
    sets: tuple[SetRows, ...]
    others: tuple[SetRows, ...]
    cues: tuple[Choice, ...]


@dataclass(frozen=True, slots=True)
class UnitRow:
    """A unit of the rig and how it is with it tonight."""

    unit: str
    state: str  # "" as ever
    is_out: bool
    is_deaf: bool
    may_hear: bool
    is_same: bool  # neither out nor played by another
    going_deaf: str  # what is worked by hand where it is deaf from here on
    hearing_again: str  # what hears again with it


@dataclass(frozen=True, slots=True)
class SongRow:
    """A song with the key and tempo that hold tonight."""

    place: str
    number: str
    name: str
    key: str
    tempo: str
    is_now: bool


@dataclass(frozen=True, slots=True)
class PartRow:
    """A part of a song, and whether it is cut."""

    place: str
    mark: str
    name: str
    bars: str
    is_cut: bool
    is_now: bool


@dataclass(frozen=True, slots=True)
class TonightSheet:
    """What is different tonight, and what can be."""

    units: tuple[UnitRow, ...]
    others: tuple[str, ...]  # units that may play another's part
    songs: tuple[SongRow, ...]
    song: str  # whose parts are here
    parts: tuple[PartRow, ...]
    learnable: tuple[str, ...]
    learning: str
    learned: str


def go_sheet(snapshot: Snapshot) -> GoSheet:
    """Return everywhere that the gig can go from here."""
    known, here, programme = Known.of(snapshot), snapshot.step.place, snapshot.programme
    firsts = {(step.place.part, step.place.entry): step for step in reversed(programme.steps)}
    sets, count = [], 0
    for part in known.gig.sets:
        steps = [firsts[Part.SET, count + number] for number in range(len(part.songs))]
        sets.append(SetRows(part.name, tuple(_song_choice(known, each.place, here) for each in steps)))
        count += len(part.songs)
    row, _ = programme.row(here)
    same = [step.place for step in row if step.place.entry == here.entry and known.part(step.place)]
    parts = SetRows(known.title(here), tuple(_part_choice(known, place, here) for place in same))
    cues = tuple(_cue_choice(known, step.place, here) for step in programme.steps)
    return GoSheet(parts, tuple(sets), tuple(_others(known, here)), cues)


def _others(known: Known, here: Place) -> Iterator[SetRows]:
    programme = known.programme
    spares = tuple(_song_choice(known, row[0].place, here) for row in programme.spares if row)
    if spares:
        yield SetRows("Spare songs", spares)
    house = tuple(_cue_choice(known, step.place, here) for step in programme.house)
    if house:
        yield SetRows("House sounds", house)
    yield SetRows("Home", (Choice(place_text(HOME), "", "before the first song", "", here == HOME, 0),))


def _song_choice(known: Known, place: Place, here: Place) -> Choice:
    now = (place.part, place.entry) == (here.part, here.entry)
    cue = known.programme.by_place[place].lean.number
    facts = " · ".join(known.facts(place, brief=True))
    return Choice(place_text(place), known.label(place), known.title(place), facts, now, cue)


def _part_choice(known: Known, place: Place, here: Place) -> Choice:
    step = known.programme.by_place[place]
    return Choice(place_text(place), letter(place.form), step.lean.scene, "", place == here, step.lean.number)


def _cue_choice(known: Known, place: Place, here: Place) -> Choice:
    step = known.programme.by_place[place]
    name = known.name(step)
    said = f"{known.title(place)}, {known.mark(place)} {name}" if known.mark(place) else name
    return Choice(place_text(place), "", said, "", place == here, step.lean.number)


def tonight_sheet(snapshot: Snapshot) -> TonightSheet:
    """Return what is different tonight, and what a player may change."""
    known, here = Known.of(snapshot), snapshot.step.place
    rig = known.library.rigs[snapshot.programme.rig]
    carried, lines = tuple(rig.carried), MidiLines(rig)
    others = tuple(sorted(name for name in known.library.units if name not in carried))
    song = _changeable(snapshot)
    learned = snapshot.learned
    return TonightSheet(
        units=tuple(_unit_row(snapshot, name, (name, *lines.behind(name))) for name in carried),
        others=others,
        songs=tuple(_song_rows(known, here)),
        song=known.title(song) if song else "",
        parts=tuple(_part_rows(known, song, here)) if song else (),
        learnable=tuple(str(verb) for verb in LEARNABLE),
        learning=snapshot.learning,
        learned=_learned(learned) if learned else "",
    )


def _learned(learned: Learned) -> str:
    data = learned.data.hex(" ").upper()
    return f"Learned: {data} does {learned.does}" if learned.is_new else f"It does that already: {data}, {learned.does}"


def _unit_row(snapshot: Snapshot, name: str, from_here: tuple[str, ...]) -> UnitRow:
    tonight, rig = snapshot.tonight, snapshot.programme.library.rigs[snapshot.programme.rig]
    by = tonight.played_by.get(name, "")
    out, deaf = name in tonight.out, name in tonight.deaf
    said = ["out"] if out else [f"played by {by}"] if by else []
    said += ["deaf"] if deaf else []
    hears = rig.placement(name).port is not None
    reached = [each for each in from_here if rig.placement(each).port is not None and each not in tonight.out]
    by_hand = "; ".join(each for each in reached if each not in tonight.deaf)
    again = "; ".join(each for each in reached if each in tonight.deaf)
    return UnitRow(name, ", ".join(said), out, deaf, hears, not (out or by), by_hand, again)


def _song_rows(known: Known, here: Place) -> Iterator[SongRow]:
    rows = ((Part.SET, known.gig.entries), (Part.SPARE, known.gig.spares))
    for place in [Place(part, number, 0) for part, entries in rows for number in range(len(entries))]:
        entry = known.entry(place)
        if entry is not None:
            song, now = known.song(entry), (place.part, place.entry) == (here.part, here.entry)
            key, tempo = entry.key or song.key, tempo_words(song, entry.tempo)
            yield SongRow(place_text(place), known.label(place), entry.song, key, tempo, now)


def _changeable(snapshot: Snapshot) -> Place | None:
    """Return a place in the song whose parts may be cut: the one that stands, before the first song the first one."""
    for step in (snapshot.step, snapshot.ahead):
        if step and step.place not in (HOME, SAFE) and step.place.part in (Part.SET, Part.SPARE):
            return step.place
    return None


def _part_rows(known: Known, song: Place, here: Place) -> Iterator[PartRow]:
    for number, part in enumerate(known.form(song)):
        place = song._replace(form=number)
        cut = place not in known.programme.by_place
        yield PartRow(place_text(place), letter(number), part.scene, bars_words(part.bars, 0), cut, place == here)
