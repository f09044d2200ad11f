"""The programming sheet: what to store in each slot of each unit, with a box to tick for each."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise

from scenebook.model.amounts import counted
from scenebook.planning.slot_plans import Hole, Programming, SlotPlan, UnitProgramming, Use, changes, same_sound
from scenebook.planning.slots import Thrift
from scenebook.sheets.plain_pages import TICK, Block, Boxed, Grid, Page, PlainPages, Words
from scenebook.sheets.view import Paper

__all__ = ["CAUTIONS", "programming_pages", "stores_words", "uses_words"]

CAUTIONS = (
    "Copy the whole unit to a computer first, if it can. What you store over is gone.",
    "Check each sound against its scene at the level of the gig; a stored sound can be far louder than the one before: "
    "begin with the level down, and protect your hearing.",
    "Do not take the supply away while a unit stores.",
)
_DESCRIBED = "once stored and noted with --as-presets --written it recalls each of them; until then it recalls none."
_FOR_FEET = (
    "It recalls none of the slots to store: the library does not describe them, and they are for feet that follow this "
    "sheet. A sheet made with --as-presets has what compile would recall, and --as-presets --written describes it."
)
_MOST = 4  # songs that are named where more are meant, but never "1 song more"; all of them are in the JSON
_MOST_LABELS = 8  # slots that are named where more are meant
_COLUMNS = ("", "slot", "name", "store", "for")


def programming_pages(plan: Programming, *, revision: int, paper: str = "a4") -> PlainPages:
    """Return the sheet of a rig: the cautions, then unit after unit."""
    bearing = (f"Programming: {plan.rig}", ", ".join(filter(None, plan.gigs)), f"revision {revision}")
    pages = [_page(unit, plan, first=at == 0) for at, unit in enumerate(plan.units)]
    if not pages:
        said = "No unit of this rig has presets that are recalled there, so there is nothing to store."
        pages = [Page("Nothing to store", (Words(said),))]
    return PlainPages(tuple(filter(None, bearing)), tuple(pages), Paper(paper))


def _page(unit: UnitProgramming, plan: Programming, *, first: bool) -> Page:
    """Return a unit's part of the sheet; what befalls the whole rig, and the cautions, stand before the first."""
    blocks: list[Block] = [Words(text, head) for head, text in _refusals(plan)] if first else []
    blocks += [Boxed("Take care", CAUTIONS)] if first else []
    blocks += [
        Words(_summary(unit, as_presets=plan.as_presets)),
        *(Words(text, head) for head, text in _remarks(unit, plan)),
    ]
    blocks.append(Words("____________________   on: ____________   by: ____________", "Which copy of the unit:"))
    kept = tuple(row for slot in unit.kept for row in _rows(slot, unit))
    new = tuple(row for slot in unit.slots for row in _rows(slot, unit))
    stays = "Stays as it is: scenes name these slots, or find their sound in them. See that they are there."
    grids = (
        Grid(stays, _COLUMNS, kept, _widths(kept)),
        Grid("To store, in the order of the set", _COLUMNS, new, _widths(new), ruled=_song_ends(unit)),
    )
    return Page(unit.unit, (*blocks, *(grid for grid in grids if grid.rows)), follows=not first)


def _widths(rows: Sequence[tuple[str, ...]]) -> tuple[float, ...]:
    """Return the columns' shares: what is stored and for which scenes share by how much each says, within bounds."""
    stored, uses = (sum(len(row[at]) for row in rows) + 1 for at in (3, 4))
    share = min(max(stored / (stored + uses), 0.38), 0.66)
    return (0.35, 0.85, 2.7, 8.8 * share, 8.8 * (1 - share))


def _summary(unit: UnitProgramming, *, as_presets: bool) -> str:
    banks = f" in banks of {unit.bank_of}" if unit.bank_of else ""
    kept = f"{len(unit.kept)} stay as they are, " if unit.kept else ""
    copies = f", {unit.copies} of them a copy in which nothing is set" if unit.copies else ""
    return f"{unit.count} slots{banks}: {kept}{len(unit.slots)} to store{copies}. {_how(unit, as_presets=as_presets)}"


def _how(unit: UnitProgramming, *, as_presets: bool) -> str:
    """Return how slots are spent, and what the other way would be."""
    if unit.thrift is not Thrift.FEWEST:
        how = (
            "each song follows the one before"
            if not unit.bank_of and unit.thrift is Thrift.BANKS
            else unit.thrift.value
        )
        return f"{how[0].upper()}{how[1:]}. Each sound once: {unit.once} to store (--no-copies)."
    if unit.by_message and unit.slots:
        return "Each sound is stored once; --copies gives each song its own, for feet."
    if as_presets:
        quicker = unit.once - len(unit.slots)
        others = "Nothing else that scenes leave open is quicker to recall than to press, turn or send."
        return others if quicker or not unit.slots else "Each sound that scenes leave open is stored once."
    return "Each sound is stored once." if unit.slots else "What is there serves every scene."


def _refusals(plan: Programming) -> Iterator[tuple[str, str]]:
    for song, scene, why in plan.refused:
        yield f"▲ {song}, {scene}, cannot be set on this rig:", why
    for gig, why in plan.left_out:
        yield f"▲ Left out, {gig}:", why


def _remarks(unit: UnitProgramming, plan: Programming) -> Iterator[tuple[str, str]]:
    if unit.split:
        fewer = " Fewer gigs at once may end that." if len(plan.gigs) > 1 else ""
        yield "▲ More sounds than one bank holds, so the bank changes inside:", f"{'; '.join(unit.split)}.{fewer}"
    if compiled := _DESCRIBED if plan.as_presets and unit.slots else _compiled(unit):
        yield "What compile does on this rig:", compiled
    if unit.unset:
        said = "; ".join(f"{member} for {uses_words(uses, 2)}" for member, uses in unit.unset.items())
        yield (
            "▲ Scenes set these, and no slot stores them (its described presets do not), so they are worked:",
            f"{said}.",
        )
    if unit.no_room:
        yield "▲ No slot is left for:", uses_words(unit.no_room)
    if unit.holes:
        whose = " where feet follow this sheet" if unit.for_feet and not plan.as_presets else ""
        yield f"▲ Recalls that are heard inside a song{whose}:", _holes_words(unit.holes)


def _compiled(unit: UnitProgramming) -> str:
    """Return what compiling does with a unit whose slots to store are not meant to be described."""
    named = [f"{slot.label} {slot.name}".strip() for slot in unit.kept if slot.label in (unit.recalled or ())]
    more = f" and {len(named) - _MOST_LABELS} more" if len(named) > _MOST_LABELS else ""
    said = f"it recalls {', '.join(named[:_MOST_LABELS])}{more}, and works all else by switch and knob."
    if not named:
        said = "it recalls no preset, and works all by switch and knob." if unit.recalled is not None else ""
    return f"{said} {_FOR_FEET if unit.slots else ''}".strip()


def _holes_words(holes: Sequence[Hole]) -> str:
    songs: Counter[str] = Counter()
    for hole in holes:
        songs[hole.song] += hole.times
    ms, most = max(hole.ms for hole in holes), songs.most_common(_MOST)
    said = "; ".join(f"{song} ({counted(times, 'time')})" for song, times in most)
    more = f"; and {counted(len(songs) - _MOST, 'song')} more" if len(songs) > _MOST else ""
    return f"{ms:g} ms each, in {said}{more}. Move them into a rest, or stay and switch by message or foot."


def _rows(slot: SlotPlan, unit: UnitProgramming) -> Iterator[tuple[str, ...]]:
    """Yield a slot's row and one for each variant; a copy brings its variants along, so that they need no row."""
    source = None if slot.kept else unit.source(slot)
    if source is not None and slot.variants and same_sound(slot, source):
        uses = [_for(slot, slot.uses), *(f"variant {each.name}: {_for(slot, each.uses)}" for each in slot.variants)]
        yield TICK, slot.label, slot.name, f"{_what(slot, unit)}, variants too", "; ".join(filter(None, uses))
        return
    here = _for(slot, slot.uses) or _copied(slot, unit) or ("no scene here" if slot.kept else "")
    yield TICK, slot.label, slot.name, _what(slot, unit), here
    for variant in slot.variants:
        told = stores_words(variant.stores) or "as the preset"
        yield TICK, "", f"variant {variant.name}", f"{told} (by {variant.way})", _for(slot, variant.uses)


def _what(slot: SlotPlan, unit: UnitProgramming) -> str:
    """Return what a slot stores; of a copy only what is changed in it."""
    if slot.kept:
        rest = "every other stored switch off" if slot.rest_off else ""
        return "; ".join(filter(None, (stores_words(slot.stores), rest))) or "not noted in the library"
    source = unit.source(slot)
    if source is None:
        return stores_words(slot.stores) or "nothing that the scenes say"
    named = f"{source.label} {source.name}".strip() if source.kept else source.label
    left = changes(slot, source)
    return f"copy of {named}, then: {stores_words(left)}" if left else f"same as {named}: copy it"


def stores_words(stores: Mapping[str, str]) -> str:
    """Return what is stored in one line: what is on, what is off, then each value."""
    groups = [(word, [member for member, text in stores.items() if text == word]) for word in ("on", "off")]
    said = [f"{word}: {', '.join(members)}" for word, members in groups if members]
    return "; ".join([*said, *(f"{m} {text}" for m, text in stores.items() if text not in ("on", "off"))])


def _for(slot: SlotPlan, uses: Sequence[Use]) -> str:
    """Return the scenes; the song is left out where the slot's own name says it."""
    same_song = {use.song for use in uses} == {_song(slot)}
    return ", ".join(map(_scene_words, uses)) if same_song else uses_words(uses, _MOST)


def _copied(slot: SlotPlan, unit: UnitProgramming) -> str:
    """Return which slots begin as copies of one that stays, and that no scene has its sound from."""
    copies = [each.label for each in unit.slots if slot.kept and unit.source(each) == slot]
    more = f" and {len(copies) - _MOST_LABELS} more" if len(copies) > _MOST_LABELS else ""
    return f"to be copied: {', '.join(copies[:_MOST_LABELS])}{more}" if copies else ""


def _scene_words(use: Use) -> str:
    return f"{use.scene} ({use.gig})" if use.gig else use.scene


def uses_words(uses: Sequence[Use], most: int | None = None) -> str:
    """Return scenes by their songs, of not more than so many songs."""
    songs: dict[str, list[str]] = {}
    for use in uses:
        songs.setdefault(use.song, []).append(_scene_words(use))
    said = [f"{song}: {', '.join(scenes)}" for song, scenes in songs.items()]
    if most and len(said) > most + 1:
        said[most:] = [f"{counted(len(said) - most, 'song')} more"]
    return "; ".join(said)


def _song_ends(unit: UnitProgramming) -> frozenset[int]:
    """Return the rows, counted from 0, after which another song begins, where songs have slots of their own."""
    if unit.thrift is Thrift.FEWEST:
        return frozenset()
    ends, row = set(), -1
    for slot, after in pairwise(unit.slots):
        row += len(list(_rows(slot, unit)))
        if _song(slot) != _song(after):
            ends.add(row)
    return frozenset(ends)


def _song(slot: SlotPlan) -> str:
    """Return the song that a slot is stored for first; of one that stays as it is nothing."""
    uses = [*slot.uses, *(use for variant in slot.variants for use in variant.uses)]
    return "" if slot.kept or not uses else uses[0].song
