"""How rigs side by side are said."""

from collections.abc import Iterator, Sequence

from scenebook.cli.plain import columns
from scenebook.model.amounts import counted, number_words, share_words, time_words
from scenebook.planning.compare import NotCompared, RigFacts, Total

__all__ = ["compare_lines"]


def compare_lines(facts: Sequence[RigFacts], failed: Sequence[NotCompared]) -> Iterator[str]:
    """Yield rigs side by side, then what is not known of their units, and which rigs cannot be compared and why."""
    if facts:
        yield from columns(_rows(facts))
    for each in facts:
        yield from _unknown(each)
    yield from (f"{each.rig} cannot be compared: {each.why}" for each in failed)
    if facts:
        yield "Weight is of all that travels, leads too; set-up lasts from the case to the end of the line check."
        yield "Its times, and what a lead weighs, are common practice, with no source."
        yield from _mixed(facts)


def _mixed(facts: Sequence[RigFacts]) -> Iterator[str]:
    """Yield that a set-up on a board stands beside a loose one only since nobody noted a board."""
    loose = [each.rig for each in facts if not each.is_fixed]
    if loose and len(loose) < len(facts):
        yield (
            f"No frame_g or case_g is noted of {'; '.join(loose)}: loose units are built one by one, so these set-up "
            "times and weights are not like the others."
        )


def _rows(facts: Sequence[RigFacts]) -> Iterator[tuple[str, ...]]:
    yield ("", *(each.rig for each in facts))
    yield ("carried", *(each.load for each in facts))
    yield ("price of what is not owned", *(_amount(each.price, "", 1, 2) for each in facts))
    yield ("weight", *(_amount(each.weight_g, " kg", 1000, 2) for each in facts))
    yield ("current", *(_amount(each.current_ma, " mA") for each in facts))
    yield ("area", *(_amount(each.area_mm2, " cm²", 100) for each in facts))
    yield ("reach", *(share_words(each.share, 1.0) for each in facts))
    yield ("computer or sender", *(_computer(each) for each in facts))
    yield from _hand_rows(facts)
    yield ("set-up", *(_set_up(each) for each in facts))


def _set_up(facts: RigFacts) -> str:
    return f"{time_words(facts.set_up_s)}, {'fixed on a board' if facts.is_fixed else 'loose: no board noted'}"


def _computer(facts: RigFacts) -> str:
    return f"needs one: MIDI to {counted(len(facts.hear_midi), 'unit')}" if facts.hear_midi else "none"


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
    yield from (f"{facts.rig} cannot play {gig}, which is left out of its reach: {why}" for gig, why in facts.left_out)
