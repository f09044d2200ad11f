"""How reach, losses, knobs and rigs side by side are said."""

from collections.abc import Iterable, Iterator, Sequence

from scenebook.actions.planning_reach import RigReach
from scenebook.cli.plain import columns, counted
from scenebook.model.values import Scale, carried_over
from scenebook.planning.compare import RigFacts, Total
from scenebook.planning.joins import Join, Lines
from scenebook.planning.knobs import Knob
from scenebook.planning.losses import Loss, LossKind, Marginal
from scenebook.planning.reach import Outcome, Reach, Reached, SceneReach, Share

__all__ = ["compare_lines", "distance_words", "number_words", "position_words", "reach_lines"]

_APART = 20  # scenes that no chosen gig plays; more are only counted
_MOST = 5  # of the units that would add, and of those that give little
_UNITS = {Scale.PERCENT: " %", Scale.DECIBEL: " dB", Scale.HERTZ: " Hz", Scale.PITCH: " Hz"}
_UNITS |= {Scale.MILLISECONDS: " ms", Scale.NOTE_VALUE: " ms"}


def reach_lines(found: RigReach) -> Iterator[str]:
    """Yield all that `rig reach` says."""
    reach = found.reach
    yield f"{reach.rig} reaches {reach.share:.0%}: worth {_of(reach.worth, reach.whole)}."
    yield from (f"Left out: {gig}: {why}" for gig, why in reach.left_out)
    yield from (f"Cannot be compiled as it is{f', {gig}' if gig else ''}: {why}" for gig, why in found.uncompiled)
    if any(reach.gigs):
        yield from _section("Gigs, what loses most first:", (_share_row(each) for each in reach.by_gig))
    yield ""
    yield "Songs, what loses most first, with their scenes and how often each is played:"
    yield from _songs(reach)
    yield from _apart(reach)
    yield from _marginal_lines(found)
    yield from _knob_lines(found.knobs)
    yield from _loss_lines(found.losses)


def compare_lines(facts: Sequence[RigFacts]) -> Iterator[str]:
    """Yield rigs side by side, then what is not known of their units."""
    rows = [
        ("", *(each.rig for each in facts)),
        ("units", *(str(len(each.units)) for each in facts)),
        ("price of what is not owned", *(_amount(each.price, "") for each in facts)),
        ("weight", *(_amount(each.weight_g, " kg", 1000, 2) for each in facts)),
        ("current", *(_amount(each.current_ma, " mA") for each in facts)),
        ("area", *(_amount(each.area_mm2, " cm²", 100) for each in facts)),
        ("reach", *(f"{each.share:.0%}" for each in facts)),
        *_hand_rows(facts),
        ("set-up", *(_set_up(each) for each in facts)),
    ]
    yield from columns(rows)
    for each in facts:
        yield from _unknown(each)
    yield "Weight is of all that travels, leads too; set-up lasts from the case to the end of the line check."
    yield "Its times, and what a lead weighs, are common practice, with no source."


def position_words(value: float, scale: Scale) -> str:
    """Return a knob's position as a player writes it: "1:30", "35 %", "489 ms"."""
    if scale is Scale.CLOCK:
        return carried_over(f"{min(100.0, max(0.0, value * 100)):.6f}", Scale.PERCENT, Scale.CLOCK) or ""
    return number_words(value, 0 if abs(value) >= 100 else 1) + _UNITS.get(scale, "")


def distance_words(value: float, scale: Scale) -> str:
    """Return how far two positions of a knob are apart; on the clock in hours and minutes of its dial."""
    if scale is not Scale.CLOCK:
        return position_words(value, scale)
    minutes = round(value * 10 * 60)  # ten hours from stop to stop, as in model/values.py
    return " ".join(part for part in (f"{minutes // 60} h" * (minutes >= 60), f"{minutes % 60} min") if part)


def number_words(value: float, places: int = 1) -> str:
    """Return a number with at most so many places and no zeros at its end."""
    text = f"{value:,.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _of(worth: float, whole: float) -> str:
    return f"{number_words(worth)} of {number_words(whole)}"


def _share_row(share: Share) -> tuple[str, str, str]:
    return share.name, _of(share.worth, share.whole), f"loses {number_words(share.lost)}" if share.lost > 1e-9 else ""


def _section(title: str, rows: Iterable[Sequence[str]]) -> list[str]:
    lines = columns(rows, indent=2)
    return ["", title, *lines] if lines else []


def _songs(reach: Reach) -> Iterator[str]:
    scenes: dict[str, list[SceneReach]] = {}
    for each in reach.scenes:
        scenes.setdefault(each.song, []).append(each)
    for song in reach.by_song:
        name, share, loss = _share_row(song)
        yield f"  {name}: {share}" + (f", {loss}" if loss else "")
        yield from columns(_scene_rows(scenes[song.name], reach.gigs), indent=4)


def _scene_rows(scenes: Sequence[SceneReach], gigs: Sequence[str]) -> Iterator[tuple[str, str, str]]:
    """Yield a row for each scene; one that comes to the same at all gigs has one, else the gigs are named."""
    found: dict[tuple[str, str], list[SceneReach]] = {}
    for each in scenes:
        found.setdefault((each.scene, _outcome(each.reached)), []).append(each)
    names = [scene for scene, _ in found]
    for (scene, outcome), same in sorted(found.items(), key=lambda item: names.index(item[0][0])):
        at = f" (at {', '.join(dict.fromkeys(each.gig for each in same))})" if names.count(scene) > 1 and gigs else ""
        yield scene, f"{sum(each.weight for each in same)}×", outcome + at


def _outcome(reached: Reached) -> str:
    met, outcome = reached.met, reached.outcome
    if outcome is Outcome.REFUSED:
        return f"{outcome}: {reached.refused}"
    lacks = [f"lacks {' and '.join(met.lacks)}"] if met.lacks else []
    without = [f"without {' and '.join(met.without)}"] if met.without else []
    return "; ".join([*lacks, *without, *met.stand_ins]) or str(outcome)


def _apart(reach: Reach) -> list[str]:
    if len(reach.apart) > _APART:
        songs = {each.song for each in reach.apart}
        counts = f"{counted(len(reach.apart), 'scene')} of {counted(len(songs), 'song')}"
        return ["", f"In no set of these gigs: {counts}."]
    rows = ((each.song, each.scene, _outcome(each.reached)) for each in reach.apart)
    return _section("In no set of these gigs:", rows)


def _marginal_lines(found: RigReach) -> Iterator[str]:
    adding = [each for each in found.additions if each.worth > 1e-9]
    yield from _section("Would add most:", (_marginal(each, found, "adds") for each in adding[:_MOST]))
    if not adding:
        yield from ["", "No other unit of the library would add anything."]
    yield from _section(
        "Carried, and give least:", (_marginal(each, found, "gives") for each in found.removals[:_MOST])
    )
    if any(each.worth < 1e-9 for each in found.removals):
        yield "  What no scene names gives nothing here: a tuner, a volume pedal, a preamp may be needed all the same."


def _marginal(each: Marginal, found: RigReach, verb: str) -> tuple[str, str, str]:
    unit = found.units[each.unit]
    owned = "" if unit.owned else "not owned" + (f", {number_words(unit.price, 2)}" if unit.price is not None else "")
    return each.unit, f"{verb} {number_words(each.worth)}", owned


def _knob_lines(knobs: Sequence[Knob]) -> Iterator[str]:
    if not knobs:
        return
    yield from ["", "Knobs wanted in two places while they sound:"]
    for knob in knobs:
        at = f", at {knob.gig}" if knob.gig else ""
        yield f"  {knob.unit} {knob.control}{at}, {counted(knob.times, 'time')}:"
        wanted = dict.fromkeys(f"{each.text} in {each.song}, {each.scene}" for each in knob.wanted)
        yield from (f"    {each}" for each in wanted)
        yield f"    {_way_out(knob)}"


def _way_out(knob: Knob) -> str:
    second = f" {knob.second} could play one of the two{'' if knob.second_is_carried else ' (not carried)'}."
    second = second if knob.second else ""
    if knob.compromise is None:
        return f"No position lies between choices.{second}"
    middle = position_words(knob.compromise, knob.scale)
    if not knob.off:
        return f"→ {middle} is within the tolerance of all."
    return f"→ {middle} is the middle, {distance_words(knob.off, knob.scale)} off.{second}"


def _loss_lines(losses: Sequence[Loss]) -> Iterator[str]:
    yield from ["", "If it dies, what is lost:"]
    for loss in losses:
        yield f"  {_lost_thing(loss)}: {_lost_words(loss)}"
        changed = [
            f"{each.song}, {each.scene} {each.weight}×: {each.before} → {each.after}" for each in loss.scenes[:3]
        ]
        more = len(loss.scenes) - len(changed)
        yield from (f"    {each}" for each in changed)
        yield from [f"    and {counted(more, 'scene')} more"] if more else []
        only = f"; then only {loss.name} is deaf" if loss.kind is LossKind.LEAD else ""
        yield from (f"    {_join_words(join)}{only}" for join in loss.joins)


def _lost_thing(loss: Loss) -> str:
    if loss.kind is LossKind.UNIT:
        return loss.name
    if loss.kind is LossKind.SUPPLY:
        feeds = f", which feeds {counted(len(loss.gone), 'unit')}"
        return (loss.name or "the supply (the rig names none: one for all that takes DC)") + feeds
    return f"MIDI lead from {loss.start} to {loss.name}" if loss.start else f"MIDI lead at {loss.name}"


def _lost_words(loss: Loss) -> str:
    words = [f"loses {number_words(loss.lost)}" if loss.lost > 1e-9 else "no scene is lost"]
    if loss.deaf:
        until = "until the leads are joined " if loss.kind is not LossKind.LEAD and loss.joins else ""
        words.append(f"{until}by hand at {counted(loss.by_hand, 'cue')}: {'; '.join(loss.deaf)}")
    return "; ".join(words)


def _join_words(join: Join) -> str:
    if join.lines is Lines.MIDI:
        start = join.before if join.before.startswith("port ") else f"the thru of {join.before}"
        return f"MIDI: join the lead from {start} with the one to {join.after}"
    return f"join the lead from {join.before} with the one to {join.after}"


def _set_up(facts: RigFacts) -> str:
    minutes, seconds = divmod(round(facts.set_up_s), 60)
    length = f"{minutes} min {seconds} s" if minutes else f"{seconds} s"
    return f"{length}, {'fixed on a board' if facts.is_fixed else 'loose'}"


def _hand_rows(facts: Sequence[RigFacts]) -> list[tuple[str, ...]]:
    """Return a row of presses for each gig, in the order in which rigs name them; a rig that cannot play it says so."""
    names = dict.fromkeys(hands.gig for each in facts for hands in each.gigs)
    rows = []
    for name in names:
        cells = []
        for each in facts:
            hands = next((found for found in each.gigs if found.gig == name), None)
            if hands is None or hands.refused:
                cells.append("cannot be played")
            else:
                cells.append(f"{counted(hands.presses, 'press', 'presses')}, {counted(hands.turns, 'turn')}")
        rows.append((f"at {name}", *cells))
    return rows


def _amount(total: Total, unit: str, per: float = 1, places: int = 0) -> str:
    if total.unknown and not total.sum:
        return "not known"
    known = number_words(total.sum / per, places) + unit
    return known + (f" + {len(total.unknown)} unknown" if total.unknown else "")


def _unknown(facts: RigFacts) -> Iterator[str]:
    kinds = {"price": facts.price, "weight": facts.weight_g, "current": facts.current_ma, "size": facts.area_mm2}
    for kind, total in kinds.items():
        if total.unknown:
            yield f"{facts.rig}: {kind} not known of {'; '.join(total.unknown)}"
    yield from (f"{facts.rig} cannot play {hands.gig}: {hands.refused}" for hands in facts.gigs if hands.refused)
