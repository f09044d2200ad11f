"""Which supply of the library goes with a rig: one that is owned and feeds every unit, the lightest of them."""

from scenebook.model import Library, Rig
from scenebook.planning.power import ChangeKind, Power, power

__all__ = ["supply_for"]

_NEW = "the rig that is asked about"


def supply_for(library: Library, rig: Rig) -> Power | None:
    """Return how the best owned supply feeds a rig's units; None where the library has no owned supply.

    Best leaves the fewest units without an outlet, then the fewest that a lead would not help; then the lightest, one
    of unknown weight last; then by name.
    """
    able = [name for name, unit in library.units.items() if unit.outlets and unit.owned]
    if not able:
        return None
    asked = library.model_copy(update={"rigs": {**library.rigs, _NEW: rig.model_copy(update={"supply": None})}})
    plans = {name: power(asked, _NEW, name) for name in able if name not in rig.carried}

    def rank(name: str) -> tuple[int, int, bool, float, str]:
        weight, plan = library.units[name].weight_g, plans[name]
        helpless = sum(change.kind is not ChangeKind.LEAD for change in plan.changes)
        return len(plan.unfed), helpless, weight is None, weight or 0, name

    return plans[min(plans, key=rank)] if plans else None
