"""Make the one view of a gig from a library slice and the compiled gig."""

from collections.abc import Mapping, Sequence
from itertools import accumulate

from scenebook.cueing.cues import Cue, CueList, SongCues
from scenebook.model import Gig, Library, Rig, SetEntry
from scenebook.sheets.floor import floor_line, floor_set, floor_sets, gap_after, house_lines
from scenebook.sheets.set_up import looped_units, set_up_of
from scenebook.sheets.song_pages import Played, Words, song_page
from scenebook.sheets.view import GigView, Paper, Section, SongPage
from scenebook.sheets.words import short_names

__all__ = ["view_of"]

FLOOR_LEGEND = ("● on", "○ off", "→ set", "□ hold or fire", "▲ take care")
LEGEND = (
    "● on",
    "○ off",
    "◆ must",
    "◇ colour",
    "□ hold or fire",
    "▲ take care",
    "underlined: new here",
)


def view_of(library: Library, cue_list: CueList, *, revision: int, paper: Paper = Paper.A4) -> GigView:
    """Return what a gig's sheet says.

    Args:
        library: at least the gig, its rig, its songs and their units, by name.
        cue_list: the same gig, compiled.
        revision: the library's revision, which every page bears, so that an old print is known as one.
        paper: the page on which it will be set.
    """
    gig, rig = library.gigs[cue_list.gig], library.rigs[cue_list.rig]
    short = short_names(_units(cue_list, rig))
    words = Words(library, short, _steady(cue_list), _loop_switches(rig, gig), looped_units(rig, gig), gig.played_by)
    by_entry = _by_entry(cue_list)
    return GigView(
        gig=cue_list.gig,
        place=gig.place,
        rig=cue_list.rig + (" (full)" if cue_list.full else ""),
        date=gig.date.isoformat() if gig.date else "",
        revision=f"revision {revision}",
        paper=Paper(paper),
        floor=floor_sets(library, gig, by_entry, short),
        set_up=set_up_of(library, gig, rig, cue_list, short),
        songs=_songs(gig, cue_list, by_entry, words),
        last=_last(gig, cue_list, words),
        floor_legend=FLOOR_LEGEND,
        legend=(*LEGEND, *_always_on(words)),
    )


def _always_on(words: Words) -> Sequence[str]:
    names = ", ".join(words.short.get(unit, unit) for unit in words.steady)
    return (f"always on: {names}",) if names else ()


def _steady(cue_list: CueList) -> tuple[str, ...]:
    """Return the units that always sound and whose lamp row would say no more: a tuner, a volume pedal, a switcher."""
    songs = [*cue_list.spares, *([cue_list.house] if cue_list.house else [])]
    restless = {
        state.unit
        for cue in (*cue_list.cues, *(cue for song in songs for cue in song.cues))
        for state in cue.states
        if state.preset is not None or not state.sounds
    }
    home = cue_list.cues[0].states if cue_list.cues else ()
    return tuple(state.unit for state in home if state.unit not in restless)


def _loop_switches(rig: Rig, gig: Gig) -> frozenset[tuple[str, str]]:
    return frozenset(
        (gig.played_by.get(holder, holder), switch) for holder, switches in rig.loops.items() for switch in switches
    )


def _units(cue_list: CueList, rig: Rig) -> list[str]:
    return [state.unit for cue in cue_list.cues[:1] for state in cue.states] or list(rig.carried)


def _by_entry(cue_list: CueList) -> dict[int, list[Cue]]:
    found: dict[int, list[Cue]] = {}
    for cue in cue_list.cues:
        if cue.entry is not None:
            found.setdefault(cue.entry, []).append(cue)
    return found


def _songs(gig: Gig, cue_list: CueList, cues: Mapping[int, Sequence[Cue]], words: Words) -> tuple[SongPage, ...]:
    before = cue_list.cues[0] if cue_list.cues else None
    pages, opening = [], _after_intervals(gig)
    for place, entry in enumerate(gig.entries):
        own, last = cues.get(place, ()), gig.entries[place - 1] if place else None
        played = Played(
            entry=entry,
            number=str(place + 1),
            then=gap_after(gig, place),
            after_interval=place in opening,
            after=last if last and last.segue else None,
        )
        pages.append(song_page(words, played, own, before))
        before = own[-1] if own else before
    return tuple(pages)


def _after_intervals(gig: Gig) -> frozenset[int]:
    """Return the places, from 0, of the songs that open a later set."""
    ends = accumulate(len(part.songs) for part in gig.sets[:-1])
    return frozenset(end for end in ends if end)


def _last(gig: Gig, cue_list: CueList, words: Words) -> tuple[Section, ...]:
    """Return spare songs, then the house sounds, each of which comes from home."""
    home = cue_list.cues[:1]
    found = [_spares(gig, cue_list.spares, home, words)] if cue_list.spares else []
    if cue_list.house:
        found.append(_house(cue_list.house, home, words))
    return tuple(found)


def _spares(gig: Gig, spares: Sequence[SongCues], home: Sequence[Cue], words: Words) -> Section:
    entries, lines, pages = {entry.song: entry for entry in gig.spares}, [], []
    before = home[0] if home else None
    for index, spare in enumerate(spares, start=1):
        entry, own, number = entries.get(spare.song, SetEntry(song=spare.song)), _played(spare), f"S{index}"
        lines.append(floor_line(words.library, entry, own, number, "", words.short))
        pages.append(song_page(words, Played(entry, number), own, before))
    floor = floor_set("Spare songs", lines, [home], "from home", words.short)
    return Section("Spare songs", floor, tuple(pages))


def _house(house: SongCues, home: Sequence[Cue], words: Words) -> Section:
    entry, own, before = SetEntry(song=house.song), _played(house), home[0] if home else None
    lines = house_lines(words.library, words.library.songs[house.song], own, before, words.short)
    page = song_page(words, Played(entry, is_house=True), own, before)
    floor = floor_set("House sounds", lines, [home], "what differs from home", words.short)
    return Section("House sounds", floor, (page,))


def _played(song: SongCues) -> tuple[Cue, ...]:
    return tuple(cue for cue in song.cues if cue.form is not None)
