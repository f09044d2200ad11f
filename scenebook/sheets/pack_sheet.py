"""The packing sheet of a rig: what travels, how it is set up, what to do when a unit dies, and what the stage needs."""

from collections.abc import Iterator

from scenebook.model import Gig, Library
from scenebook.planning.joins import Join, Lines
from scenebook.planning.losses import Changed, LossKind
from scenebook.planning.packing_list import Carry, Dies, PackingList, home_cues
from scenebook.planning.reach import Outcome
from scenebook.sheets.plain_pages import TICK, Boxed, Grid, Page, PlainPages, Words
from scenebook.sheets.set_up import CAUTIONS as SET_UP_CAUTIONS
from scenebook.sheets.set_up import set_up_of
from scenebook.sheets.view import Paper, SetUp, Table
from scenebook.sheets.words import short_names

__all__ = ["CAUTIONS", "clock", "join_words", "kilograms", "lift_words", "lost_words", "pack_pages"]

CAUTIONS = (
    "Lifting: above 23 kg two people or wheels; above 32 kg most airports take no bag at all (usual baggage limits, "
    "common practice: ask the airline). Back straight, load close, no twisting.",
    "Supply: follow the plate on the unit. Abroad: check mains voltage and plug before you switch on.",
    "Mains: by licensed practice and local code.",
    "Batteries fly by the rules of the airline, most of them in the cabin only.",
)
_TABLE_WIDTHS: dict[int, tuple[float, ...]] = {
    2: (1, 2), 3: (2.3, 3, 3.3), 4: (2, 1.1, 1.2, 1.6), 7: (118, 62, 108, 38, 94, 42, 48),
}  # fmt: skip


def pack_pages(library: Library, packed: PackingList, *, revision: int, paper: str = "a4") -> PlainPages:
    """Return the pages of a rig that is packed."""
    rig = library.rigs[packed.rig]
    set_up = set_up_of(library, Gig(rig=packed.rig), rig, home_cues(library, packed.rig), short_names(rig.carried))
    pages = (_packing(packed), _setting_up(packed, set_up), _dying(packed), _stage(packed))
    return PlainPages((f"Packing: {packed.rig}", f"revision {revision}"), pages, Paper(paper))


# ---- what travels


def _packing(packed: PackingList) -> Page:
    rows = tuple((TICK, item.what, f"{item.pieces}", _grams(item.each_g), _grams(item.grams)) for item in packed.items)
    total = f"Together {kilograms(packed.known_g)}"
    total += f", and what is unknown on top: {'; '.join(packed.unknown)}." if packed.unknown else "."
    grid = Grid("", ("", "what", "pieces", "each", "together"), rows, (0.35, 6, 1.1, 1.2, 1.4), closing=total)
    note = "Not counted: instrument, amplifier, computer, stands. A lead is taken as one weight (common practice)."
    advice = [Words(text, head) for head, text in lift_words(packed.carry)]
    return Page("Pack", (grid, Words(note), *advice, Boxed("Take care", CAUTIONS)))


def lift_words(carry: Carry) -> Iterator[tuple[str, str]]:
    """Yield (head, text): whether one person should lift all of it at once, by which measure, and the usual limits."""
    lift = carry.lift
    how = (
        f"handle {lift.height:g} cm up and {lift.reach:g} cm before the ankles, lifted {lift.travel:g} cm, no twist, "
        f"{lift.grip} grip, seldom"
    )
    measure = (
        f"{kilograms(carry.load_g)} is {carry.ratio:.2f} times what the revised NIOSH lifting equation (94-110) "
        f"recommends for one person, {kilograms(carry.recommended_g)}, with {how} (taken, not measured)."
    )
    if carry.alone:
        known = "of what is known, " if carry.unknown else ""
        yield "One person may lift it all at once:", f"{known}{measure}"
    else:
        yield "▲ Two people or wheels, or two loads:", f"more than {'; more than '.join(carry.over)}. {measure}"
    if carry.unknown:
        yield "▲ Weigh it:", f"nobody knows what these weigh, and they come on top: {'; '.join(carry.unknown)}."


def kilograms(grams: float) -> str:
    """Return a weight as kg."""
    return f"{grams / 1000:.1f} kg"


def _grams(grams: float | None) -> str:
    return "unknown" if grams is None else f"{grams:g} g"


# ---- setting up


def clock(seconds: float) -> str:
    """Return a time as minutes and seconds: "1:05"."""
    whole = round(seconds)
    return f"{whole // 60}:{whole % 60:02}"


def _setting_up(packed: PackingList, set_up: SetUp) -> Page:
    rows = tuple((TICK, clock(step.at_s), clock(step.takes_s), step.what) for step in packed.steps)
    ready = packed.steps[-1].at_s + packed.steps[-1].takes_s
    usual = "a fixed board" if packed.is_fixed else "loose units"
    closing = f"Ready after {clock(ready)} (times: common practice for {usual}; yours go into the library's settings)."
    awake = "; ".join(f"{name} {seconds:g} s" for name, seconds in packed.awake) or "none boots"
    blocks: list[Words | Grid | Boxed] = [
        Grid("Steps", ("", "at", "takes", "what"), rows, (0.4, 0.8, 0.9, 9), closing=closing),
        Words(awake, "Awake after power:"),
    ]
    if packed.boot_unknown:
        blocks.append(Words("; ".join(packed.boot_unknown), "▲ Boot time unknown, look before you play:"))
    blocks.append(Words(set_up.chain, "Chain:"))
    blocks += [Words(set_up.leads, "MIDI leads:")] if set_up.leads else []
    blocks += [Words(note) for note in set_up.notes]
    outlets = _outlets(packed)
    blocks += [_grid(table) for table in set_up.tables] + ([outlets] if outlets else [])
    return Page("Set up", (*blocks, Boxed("Take care", SET_UP_CAUTIONS)))


def _grid(table: Table) -> Grid:
    widths = _TABLE_WIDTHS.get(len(table.columns), (1.0,) * len(table.columns))
    return Grid(table.title, table.columns, table.rows, widths, closing=table.closing)


def _outlets(packed: PackingList) -> Grid | None:
    """Return which unit hangs on which outlet, if the rig's supply says what its outlets give."""
    fed = packed.power
    rows = [
        (load.outlet.name, f"{load.outlet.volts} V {load.outlet.current}", "; ".join(load.units) or "free",
         f"{load.ma:g} of {load.outlet.ma:g}")
        for load in fed.loads
    ]  # fmt: skip
    if not rows:
        return None
    unfed = f"Not fed: {'; '.join(each.unit for each in fed.unfed)}. " if fed.unfed else ""
    own = f"By their own supply: {'; '.join(fed.own)}. " if fed.own else ""
    unknown = f"Not noted: {'; '.join(name for name, _ in fed.unknown)}." if fed.unknown else ""
    title = f"Outlets of {fed.supply} (the plates decide)"
    columns = ("outlet", "gives", "feeds", "mA")
    return Grid(title, columns, tuple(rows), (0.8, 1.4, 5, 1.4), closing=f"{unfed}{own}{unknown}".strip())


# ---- when a unit dies


def _dying(packed: PackingList) -> Page:
    rows = tuple(_dead(each) for each in packed.dies)
    columns = ("dies", "join the two leads", "played by", "lost")
    grid = Grid("", columns, rows, (2, 3.4, 3, 3.6))
    rule = "Level down, join the two leads, then up again slowly. Scenes are counted as often as they are played."
    return Page("If it dies", (Words(rule), grid))


def _dead(each: Dies) -> tuple[str, str, str, str]:
    loss = each.loss
    name = loss.name if loss.kind is LossKind.UNIT else f"{loss.kind}: {loss.name or 'not noted'}"
    joins = "; ".join(join_words(join) for join in loss.joins) or "none: nothing goes through it"
    joins = f"none: leave {each.loop} off; or {joins}" if each.loop else joins
    deaf = f". Until then deaf: {'; '.join(loss.deaf)}" if loss.deaf else ""
    return name, joins + deaf, "; ".join(_shortest(each.stand_ins)) or "nothing", lost_words(loss.scenes)


def _shortest(words: tuple[str, ...]) -> tuple[str, ...]:
    return words if len(words) <= 3 else (*words[:3], f"and {len(words) - 3} more")


def join_words(join: Join) -> str:
    """Return the two leads to join: "fuzz → delay"."""
    kind = "MIDI: " if join.lines is Lines.MIDI else ""
    return f"{kind}{join.before} → {join.after}"


def lost_words(scenes: tuple[Changed, ...]) -> str:
    """Return what scenes lose: how many can no longer be played, how many are worse, and those that lose most."""
    if not scenes:
        return "nothing that a scene needs"
    gone = (Outcome.LACKING, Outcome.REFUSED)
    lacking = sum(each.weight for each in scenes if each.after in gone)
    worse = sum(each.weight for each in scenes if each.after not in gone)
    counts = [f"a must is lacking {lacking} times"] if lacking else []
    counts += [f"less {worse} times"] if worse else []
    first = ", ".join(f"{each.song} ({each.scene})" for each in scenes[:3])
    return f"{', '.join(counts)}: {first}" + (f" and {len(scenes) - 3} scenes more" if len(scenes) > 3 else "")


# ---- the stage


def _stage(packed: PackingList) -> Page:
    needs = packed.stage
    drops = "; ".join(needs.drops) or "none"
    watts = f"at least {needs.watts:.0f} W from the supply's outlets" if needs.watts else "not noted"
    unknown = f"; not noted: {'; '.join(needs.no_current)}" if needs.no_current else ""
    more = f", and unknown: {'; '.join(packed.unknown)}" if packed.unknown else ""
    size = f"at least {needs.floor_m2:.2f} m², the outlines of the units with plugs at both sides"
    size += f"; not noted: {'; '.join(needs.no_size)}" if needs.no_size else ""
    rows = (
        ("power drops", f"{len(needs.drops)}: {drops}; one more for an amplifier, if one comes"),
        ("what it takes", f"{watts}{unknown}. The plates decide."),
        ("lines", "; ".join(map(_line, needs.lines)) or "not noted"),
        ("floor", f"{size}; and room to stand behind it"),
        ("set-up", f"{clock(needs.set_up_s)} from case to sound (common practice), then home and line check"),
        ("strike", f"{clock(needs.strike_s)} (common practice)"),
        ("load", kilograms(packed.known_g) + more),
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
