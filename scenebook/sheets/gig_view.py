"""Make the one view of a gig from a library slice and the compiled gig."""

from collections.abc import Mapping, Sequence

from scenebook.cueing.cues import Cue, CueList, SongCues
from scenebook.model import Gig, Library, Rig, SetEntry
from scenebook.sheets.floor import floor_line, floor_set, floor_sets, gap_after, house_lines
from scenebook.sheets.set_up import set_up_of
from scenebook.sheets.song_pages import song_page
from scenebook.sheets.view import GigView, Paper, Section, SongPage
from scenebook.sheets.words import short_names

__all__ = ["view_of"]

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
        songs=_songs(library, gig, cue_list, by_entry, short),
        last=_last(library, gig, cue_list, short),
        legend=LEGEND,
    )


def _units(cue_list: CueList, rig: Rig) -> list[str]:
    return [state.unit for cue in cue_list.cues[:1] for state in cue.states] or list(rig.carried)


def _by_entry(cue_list: CueList) -> dict[int, list[Cue]]:
    found: dict[int, list[Cue]] = {}
    for cue in cue_list.cues:
        if cue.entry is not None:
            found.setdefault(cue.entry, []).append(cue)
    return found


def _songs(
    library: Library, gig: Gig, cue_list: CueList, cues: Mapping[int, Sequence[Cue]], short: Mapping[str, str]
) -> tuple[SongPage, ...]:
    before = cue_list.cues[0] if cue_list.cues else None
    pages = []
    for place, entry in enumerate(gig.entries):
        own = cues.get(place, ())
        number, then = str(place + 1), gap_after(gig, place)
        page = song_page(library, entry, own, before, number=number, then=then, short=short, played_by=gig.played_by)
        pages.append(page)
        before = own[-1] if own else before
    return tuple(pages)


def _last(library: Library, gig: Gig, cue_list: CueList, short: Mapping[str, str]) -> tuple[Section, ...]:
    """Return spare songs, then the house sounds, each of which comes from home."""
    home = cue_list.cues[:1]
    found = [_spares(library, gig, cue_list.spares, home, short)] if cue_list.spares else []
    if cue_list.house:
        found.append(_house(library, gig, cue_list.house, home, short))
    return tuple(found)


def _spares(
    library: Library, gig: Gig, spares: Sequence[SongCues], home: Sequence[Cue], short: Mapping[str, str]
) -> Section:
    entries, lines, pages = {entry.song: entry for entry in gig.spares}, [], []
    before = home[0] if home else None
    for index, spare in enumerate(spares, start=1):
        entry, own, number = entries.get(spare.song, SetEntry(song=spare.song)), _played(spare), f"S{index}"
        lines.append(floor_line(library, entry, own, number, "", short))
        page = song_page(library, entry, own, before, number=number, then="", short=short, played_by=gig.played_by)
        pages.append(page)
    return Section("Spare songs", floor_set("Spare songs", lines, [home], "each from home", short), tuple(pages))


def _house(library: Library, gig: Gig, house: SongCues, home: Sequence[Cue], short: Mapping[str, str]) -> Section:
    entry, own, before = SetEntry(song=house.song), _played(house), home[0] if home else None
    lines = house_lines(library.songs[house.song], own, before, short)
    page = song_page(library, entry, own, before, number="", then="", short=short, played_by=gig.played_by)
    return Section("House sounds", floor_set("House sounds", lines, [home], "what differs from home", short), (page,))


def _played(song: SongCues) -> tuple[Cue, ...]:
    return tuple(cue for cue in song.cues if cue.form is not None)
