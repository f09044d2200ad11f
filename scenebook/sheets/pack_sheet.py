"""The packing sheet of a rig: what travels, how it is set up, what to do when a unit dies, and what the stage needs."""

from collections.abc import Iterator

from scenebook.model import Gig, Library
from scenebook.model.amounts import counted, fixed, number_words
from scenebook.planning.joins import Join, Lines
from scenebook.planning.leads import ASSUMED
from scenebook.planning.losses import Changed, LossKind
from scenebook.planning.packing_list import Carry, Dies, Item, PackingList, home_cues
from scenebook.planning.reach import Outcome
from scenebook.planning.supply_leads import split_words, splits_of
from scenebook.sheets.plain_pages import TICK, Boxed, Grid, Page, PlainPages, Words
from scenebook.sheets.set_up import CHANNELS, LOOPS, SUPPLY, set_up_of, supply_words
from scenebook.sheets.view import Paper, SetUp, Table
from scenebook.sheets.words import short_names

__all__ = ["CAUTIONS", "clock", "join_words", "kilograms", "lift_words", "lost_words", "pack_pages"]

CAUTIONS = (
    "Supply: follow the plate on the unit for voltage, AC or DC, polarity and current, not this page. A wrong voltage "
    "or polarity can destroy a unit and start a fire.",
    "Mains: only sound leads, sockets with earth and a residual-current device; work on mains is for licensed people, "
    "by the local code. Abroad: check mains voltage and plug before you switch on.",
    "Lifting: above 23 kg two people or wheels; above 32 kg most airports take no bag at all (usual baggage limits, "
    "common practice: ask the airline). Back straight, load close, no twisting. Leads out of the ways and exits.",
    "Hearing: a unit that is switched in can be far louder than what was there. Begin with the level down, wear ear "
    "protection, and switch an amplifier off or turn it down before you plug.",
    "Batteries fly by the rules of the airline, most of them in the cabin only.",
)


def pack_pages(library: Library, packed: PackingList, *, revision: int, paper: str = "a4") -> PlainPages:
    """Return the pages of a rig that is packed: what goes with the player, then one to hand over for each use."""
    rig = library.rigs[packed.rig]
    set_up = set_up_of(library, Gig(rig=packed.rig), rig, home_cues(library, packed.rig), short_names(rig.carried))
    pages = (_packing(packed), _steps(packed), _building(library, packed, set_up), _dying(packed), _stage(packed))
    return PlainPages((f"Packing: {packed.rig}", f"revision {revision}"), pages, Paper(paper))


# ---- what travels


def _packing(packed: PackingList) -> Page:
    """Return the list in two columns, the first half on the left, so that it leaves room for the steps below it."""
    cells = [(TICK, _item(item), _grams(item.grams)) for item in packed.items]
    half = -(-len(cells) // 2)
    right = [*cells[half:], *[("", "", "")] * (2 * half - len(cells))]
    rows = tuple((*one, *two) for one, two in zip(cells[:half], right, strict=True))
    total = f"Together {kilograms(packed.known_g)}"
    total += f", and what is unknown on top: {'; '.join(packed.unknown)}." if packed.unknown else "."
    total += " Not counted: instrument, amplifier, computer, stands. A lead is taken as one weight (common practice)."
    if packed.no_supply_lead:
        total += f" ▲ No supply lead is counted: {'; '.join(packed.no_supply_lead)}."
    grid = Grid("", ("", "what", "weight", "", "what", "weight"), rows, (0.3, 3.3, 1.1) * 2, closing=total)
    advice = [Words(text, head) for head, text in lift_words(packed.carry)]
    return Page("Pack", (grid, *advice, Boxed("Take care", CAUTIONS)))


def _item(item: Item) -> str:
    each = f" of {number_words(item.each_g, 2)} g" if item.each_g is not None else ""
    return item.what if item.pieces == 1 else f"{item.pieces} {item.what},{each}"


def lift_words(carry: Carry) -> Iterator[tuple[str, str]]:
    """Yield (head, text): whether one person should lift all of it at once, by which measure, and the usual limits."""
    lift = carry.lift
    up, before, by = (number_words(length) for length in (lift.height, lift.reach, lift.travel))
    how = f"handle {up} cm up and {before} cm before the ankles, lifted {by} cm, no twist, {lift.grip} grip, seldom"
    measure = (
        f"{kilograms(carry.load_g)} is {fixed(carry.ratio, 2)} times what the revised NIOSH lifting equation (94-110) "
        f"recommends for one person, {kilograms(carry.recommended_g)}, with {how} (taken, not measured)."
    )
    if not carry.weighed:
        yield "▲ Weigh it before anybody lifts it:", "no weight of it is known, so nothing can be said of lifting it."
        return
    if carry.alone:
        known = "of what is known, " if carry.unknown else ""
        yield "One person may lift it all at once:", f"{known}{measure}"
    else:
        yield "▲ Two people or wheels, or two loads:", f"more than {'; more than '.join(carry.over)}. {measure}"
    if carry.load_g <= carry.cabin_g:
        cabin = f"light enough for the usual limit, {kilograms(carry.cabin_g)}, by what is known"
        yield "In the cabin:", f"{cabin}. Its size and the airline decide."
    if carry.unknown:
        yield "▲ Weigh it:", f"nobody knows what these weigh, and they come on top: {'; '.join(carry.unknown)}."


def kilograms(grams: float) -> str:
    """Return a weight as kg."""
    return f"{fixed(grams / 1000, 1)} kg"


def _grams(grams: float | None) -> str:
    return "unknown" if grams is None else f"{number_words(grams, 2)} g"


# ---- setting up


def clock(seconds: float) -> str:
    """Return a time as minutes and seconds: "1:05"."""
    whole = round(seconds)
    return f"{whole // 60}:{whole % 60:02}"


def _steps(packed: PackingList) -> Page:
    rows = tuple((TICK, clock(step.at_s), clock(step.takes_s), step.what) for step in packed.steps)
    ready = packed.steps[-1].at_s + packed.steps[-1].takes_s
    usual = "a fixed board" if packed.is_fixed else "loose units"
    closing = f"Ready after {clock(ready)} (common practice for {usual}; the library's settings take yours)."
    awake = "; ".join(f"{name} {number_words(seconds)} s" for name, seconds in packed.awake) or "none boots"
    blocks: list[Words | Grid] = [
        Grid("", ("", "at", "takes", "what"), rows, (0.35, 1, 0.95, 8.6), closing=closing),
        Words(awake, "Awake after power:"),
    ]
    if packed.boot_unknown:
        blocks.append(Words("; ".join(packed.boot_unknown), "▲ Boot time unknown, look before you play:"))
    return Page("Set up", tuple(blocks), follows=True)


def _building(library: Library, packed: PackingList, set_up: SetUp) -> Page:
    """Return what is joined to what, fed by what, and how it stands: chain, loops, MIDI, supply, home."""
    blocks: list[Words | Grid] = [Words(set_up.chain, "Chain:")]
    blocks += [Words(each, "▲") for each in packed.tangled]
    tables = {table.title: table for table in set_up.tables}
    for title in (LOOPS, CHANNELS):  # few words each: as a line they leave more room than as a table
        if title in tables:
            blocks.append(Words("; ".join(map(_row_words, tables.pop(title).rows)), f"{title}:"))
    blocks += [Words(set_up.leads, "MIDI leads:")] if set_up.leads else []
    blocks += [Words(note) for note in set_up.notes]
    tables.pop(SUPPLY, None)
    blocks += [_home(table) for table in tables.values()]
    return Page("Build", (*blocks, _supply(library, packed)), follows=True)


def _row_words(row: tuple[str, ...]) -> str:
    if len(row) == 2:
        return f"{row[0]}: {row[1]}"
    unit, port, channel, hears = row
    return f"{unit}: {port} {channel}" + (f" (hears {hears})" if hears != channel else "")


def _home(table: Table) -> Grid:
    return Grid(table.title, table.columns, table.rows, (2.3, 3, 4), closing=table.closing)


_SUPPLY_COLUMNS, _SUPPLY_WIDTHS = (
    ("unit", "outlet", "takes", "polarity", "mA", "plug", "ready"), (120, 62, 56, 106, 32, 96, 42),
)  # fmt: skip


def _supply(library: Library, packed: PackingList) -> Grid:
    """Return what feeds each unit, and what its own plate is noted to say."""
    fed = packed.power
    splits = splits_of(fed)
    at = {unit: load.outlet.name for load in fed.loads for unit in load.units}
    at |= {unit: f"{split.outlet}, split" for split in splits for unit in split.units}
    at |= dict.fromkeys(fed.own, "its own") | dict.fromkeys(fed.without, "none")
    names = library.rigs[packed.rig].carried
    said = {name: supply_words(library.units[name]) for name in names}
    rows = tuple((name, at.get(name, "▲ none"), *said[name]) for name in names)
    free = [load.outlet.name for load in fed.loads if not load.units]
    closing = f"Free outlets: {', '.join(free)}. " if free else ""
    closing += f"▲ Not fed: {'; '.join(each.unit for each in fed.unfed)}. " if fed.unfed else ""
    closing += f"▲ Not noted: {'; '.join(name for name, _ in fed.unknown)}. " if fed.unknown else ""
    closing += "".join(f"Splitting lead needed: {split_words(split)}. " for split in splits)
    closing += " ".join(f"▲ {caution}" for caution in fed.cautions)
    title = f"Supply: {fed.supply or 'none is noted in the rig'} (the plates decide)"
    return Grid(title, _SUPPLY_COLUMNS, rows, _SUPPLY_WIDTHS, closing=closing.strip())


# ---- when a unit dies

_FEW = 9  # losses for which there is room to name two scenes each


def _dying(packed: PackingList) -> Page:
    named = 2 if len(packed.dies) <= _FEW else 1  # so that it stays one page, which is handed over
    rows = tuple(_dead(each, named, tangled=bool(packed.tangled)) for each in packed.dies)
    grid = Grid("", ("dies", "join the two leads", "what is lost"), rows, (1.5, 4.3, 4.2))
    rule = (
        "Level down, join the two leads, then up again slowly. Lacking: so often a scene is played that lacks a must; "
        "less: one that is played with a stand-in or without a colour."
    )
    if any(join.assumed for each in packed.dies for join in each.loss.joins):
        rule += f" †: one of the two is {ASSUMED}."
    return Page("If it dies", (Words(rule), grid))


def _dead(each: Dies, named: int, *, tangled: bool) -> tuple[str, str, str]:
    loss = each.loss
    name = loss.name if loss.kind is LossKind.UNIT else f"{loss.kind}: {loss.name or 'not noted'}"
    joins = "; ".join(join_words(join) for join in loss.joins)
    if tangled:
        joins = "; ".join(filter(None, ["not known, since it cannot be wired as the rig says", joins]))
    elif each.loop:
        joins = f"none: leave {each.loop} off" + (f"; or {joins}" if joins else "")
    joins = joins or "none: nothing goes through it"
    deaf = f". Deaf until then: {'; '.join(loss.deaf)}" if loss.deaf else ""
    played = f". Played by: {'; '.join(_shortest(each.stand_ins))}" if each.stand_ins else ""
    feet = f"; feet: {counted(loss.feet, 'press', 'presses')} more inside songs" if loss.feet else ""
    return name, joins + deaf, lost_words(loss.scenes, named) + feet + played


def _shortest(words: tuple[str, ...]) -> tuple[str, ...]:
    return words if len(words) <= 2 else (*words[:2], f"and {len(words) - 2} more")


def join_words(join: Join) -> str:
    """Return the two leads to join: "fuzz → delay"."""
    kind = "MIDI: " if join.lines is Lines.MIDI else ""
    return f"{kind}{join.before} → {join.after}" + (" †" if join.assumed else "")


def lost_words(scenes: tuple[Changed, ...], named: int = 2) -> str:
    """Return what scenes lose: how many can't be played, how many are worse, and so many of those that lose most."""
    if not scenes:
        return "nothing that a scene needs"
    gone = (Outcome.LACKING, Outcome.REFUSED)
    lacking = sum(each.weight for each in scenes if each.after in gone)
    worse = sum(each.weight for each in scenes if each.after not in gone)
    counts = [f"lacking {counted(lacking, 'time')}"] if lacking else []
    counts += [f"less {counted(worse, 'time')}"] if worse else []
    first = ", ".join(f"{each.song} ({each.scene})" for each in scenes[:named])
    more = len(scenes) - named
    return f"{', '.join(counts)}: {first}" + (f" and {counted(more, 'scene')} more" if more > 0 else "")


# ---- the stage


def _stage(packed: PackingList) -> Page:
    needs = packed.stage
    drops = "; ".join(needs.drops) or "none"
    watts = f"at least {number_words(needs.watts, 0)} W from the supply's outlets" if needs.watts else "not noted"
    unknown = f"; not noted: {'; '.join(needs.no_current)}" if needs.no_current else ""
    more = f", and unknown: {'; '.join(packed.unknown)}" if packed.unknown else ""
    size = "no size of any unit is known"
    if needs.floor_m2:
        size = f"at least {fixed(needs.floor_m2, 2)} m², the outlines of the units with plugs at both sides"
    size += f"; not noted: {'; '.join(needs.no_size)}" if needs.no_size else ""
    rows = (
        ("power drops", f"{len(needs.drops)}: {drops}; one more for an amplifier, if one comes"),
        ("what it takes", f"{watts}{unknown}. The plates decide."),
        ("lines", "; ".join(map(_line, needs.lines)) or "not noted"),
        ("floor", f"{size}; and room to stand behind it"),
        ("set-up", f"{clock(needs.set_up_s)} from case to sound (common practice), then home and line check"),
        ("strike", f"{clock(needs.strike_s)} (common practice)"),
        ("load", kilograms(packed.known_g) + more if packed.carry.weighed else "no weight is known"),
    )
    care = (
        "Mains by licensed practice and local code; ask before circuits are shared.",
        "A unit that is switched in can be far louder: channels muted until the line check.",
        "Leads out of the ways and exits.",
    )
    return Page("For the stage manager", (Grid("", ("what", "how much"), rows, (1, 4)), Boxed("Take care", care)))


def _line(line: tuple[str, int | None, bool]) -> str:
    name, count, is_direct = line
    lines = "mono or stereo is not noted" if count is None else "1 line, mono" if count == 1 else "2 lines, stereo"
    boxes = "it is a direct box itself" if is_direct else f"with {'a DI' if count == 1 else 'a DI each'}"
    return f"{lines}, from {name}, {boxes}"
