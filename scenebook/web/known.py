"""What a page has to know of an evening to say it: songs by place, numbers, names, as they are tonight. Pure."""

from dataclasses import dataclass
from functools import cached_property

from scenebook.live.places import HOME, Part, Place
from scenebook.live.programme import Programme, Step
from scenebook.live.snapshot import Snapshot
from scenebook.live.tonight import Tonight, played_form, rebuilt
from scenebook.model import Gig, Library, SetEntry, Song
from scenebook.model.songs import FormEntry
from scenebook.sheets.floor import short_key
from scenebook.sheets.words import short_names, tempo_words

__all__ = ["Known", "letter", "set_words"]

_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


def letter(form: int) -> str:
    """Return the rehearsal mark of a part of a form, which counts from 0: A to Z, then AA, BB and so on."""
    return _LETTERS[form % len(_LETTERS)] * (form // len(_LETTERS) + 1)


def set_words(name: str) -> str:
    """Return what a set is called: "first set", and "set 1" where the player gave it no name."""
    return name if "set" in name.casefold().split() else f"{name} set"


@dataclass(frozen=True)
class Known:
    """An evening as a page reads it."""

    programme: Programme
    tonight: Tonight

    @classmethod
    def of(cls, snapshot: Snapshot) -> "Known":
        """Return what is known at one moment of a gig."""
        return cls(snapshot.programme, snapshot.tonight)

    @property
    def library(self) -> Library:
        """The library as the player wrote it."""
        return self.programme.library

    @property
    def gig(self) -> Gig:
        """The gig as the player wrote it."""
        return self.library.gigs[self.programme.gig]

    @cached_property
    def short(self) -> dict[str, str]:
        """What each unit is called for short."""
        return short_names(state.unit for state in self.programme.home.full.states)

    def entry(self, place: Place) -> SetEntry | None:
        """Return the song at a place as it is played tonight; none at home and in the safe state."""
        rows = {Part.SET: self.gig.entries, Part.SPARE: self.gig.spares}
        if place.part is Part.HOUSE and self.gig.house:
            return SetEntry(song=self.gig.house)
        row = rows.get(place.part, ())
        if not 0 <= place.entry < len(row):
            return None
        song, entry = place._replace(form=0), row[place.entry]
        return rebuilt(
            entry,
            key=self.tonight.keys.get(song, entry.key),
            tempo=self.tonight.tempos.get(song, entry.tempo),
        )

    def song(self, entry: SetEntry) -> Song:
        """Return the song of an entry."""
        return self.library.songs[entry.song]

    def number(self, place: Place) -> str:
        """Return the number under which the sheet prints a song: 1 and on in the sets, S1 and on for spare songs."""
        if place == HOME or place.part not in (Part.SET, Part.SPARE):
            return ""
        return f"{'S' if place.part is Part.SPARE else ''}{place.entry + 1}"

    def label(self, place: Place) -> str:
        """Return what a song is called by on the page, where S is the key for safe: 1 and on, "spare 1" and on."""
        return f"spare {place.entry + 1}" if place.part is Part.SPARE else self.number(place)

    def title(self, place: Place) -> str:
        """Return what stands over a place: its song, or what it is instead of one."""
        if place == HOME:
            return "Before the first song"
        entry = self.entry(place)
        return entry.song if entry else "Safe"

    def where(self, place: Place) -> str:
        """Return where in the evening a place is."""
        if place.part is not Part.SET:
            return {Part.SPARE: "spare song", Part.HOUSE: "house sounds", Part.SAFE: "safe state"}[place.part]
        songs = sum(len(each.songs) for each in self.gig.sets)
        if place == HOME:
            return f"{songs} song{'' if songs == 1 else 's'}"
        return f"song {place.entry + 1} of {songs}, {self._set(place.entry)}"

    def _set(self, entry: int) -> str:
        for part in self.gig.sets:
            if entry < len(part.songs):
                return set_words(part.name.removeprefix("the "))
            entry -= len(part.songs)
        return ""

    def facts(self, place: Place, *, brief: bool = False) -> tuple[str, ...]:
        """Return a song's key, tempo, metre and instrument where they are known; `brief` leaves out the last two."""
        entry = self.entry(place)
        if entry is None or place.part is Part.HOUSE:
            return ()
        song = self.song(entry)
        key, tempo = entry.key or song.key, tempo_words(song, entry.tempo)
        facts = [short_key(key) if brief else key, f"♩ {tempo}" if tempo else ""]
        facts += [] if brief else [song.metre, str(song.instrument or "")]
        return tuple(filter(None, facts))

    def form(self, place: Place) -> tuple[FormEntry, ...]:
        """Return the whole form of the song at a place, what is cut tonight included."""
        entry = self.entry(place)
        if entry is None or place.part is Part.HOUSE:
            return ()
        return played_form(self.library, entry)

    def part(self, place: Place) -> FormEntry | None:
        """Return the part of a form at a place."""
        form = self.form(place)
        return form[place.form] if 0 <= place.form < len(form) else None

    def mark(self, place: Place) -> str:
        """Return the rehearsal mark of a place in a form; "" where there is no form."""
        return letter(place.form) if self.part(place) else ""

    def name(self, step: Step) -> str:
        """Return what the part of a step is called: its scene; home and the safe state by themselves."""
        if step.place == HOME:
            return "home"
        return "the quiet state" if step.place.part is Part.SAFE else step.full.scene
