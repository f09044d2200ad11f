"""A slot begins as a copy of what is nearest, so that hands have least to set."""

from typing import Any

from scenebook.planning.copying import begun_as_copies
from scenebook.planning.slot_plans import SlotPlan, VariantPlan, changes, same_sound

OFF = dict.fromkeys(("drive", "chorus", "delay", "reverb"), "off")


def slot(label: str, *on: str, **said: Any) -> SlotPlan:
    stores = {member: "on" if member in on else "off" for member in OFF}
    return SlotPlan(
        0, label, said.pop("name", ""), said.pop("copy_of", ""), stores, said.pop("variants", ()), (), **said
    )


def begun(slots: list[SlotPlan], kept: list[SlotPlan] | None = None, told: tuple[str, ...] = ()) -> dict[str, str]:
    return {each.label: each.begins_as for each in begun_as_copies(slots, kept or [], told)}


def test_the_nearest_slot_that_is_there_by_then_is_copied() -> None:
    """Two switches are set, not four; what comes later on the sheet is not there yet."""
    slots = [slot("2A", "drive"), slot("2B", "drive", "delay"), slot("2C", "drive", "delay", "reverb")]

    assert begun(slots) == {"2A": "", "2B": "2A", "2C": "2B"}


def test_where_more_than_half_would_be_set_anyway_nothing_is_copied() -> None:
    """A copy that is turned round is more to go wrong than a slot made anew."""
    assert begun([slot("2A", "drive", "chorus"), slot("2B", "delay", "reverb", "drive")]) == {"2A": "", "2B": ""}


def test_a_preset_that_is_more_than_what_is_said_of_it_is_no_source() -> None:
    """Its pitches would come along unheard of."""
    kept = [slot("1A", "drive", kept=True)]

    assert begun([slot("2A", "drive")], kept) == {"2A": ""}
    assert begun([slot("2A", "drive")], kept, ("1A",)) == {"2A": "1A"}


def test_a_copy_of_a_preset_begins_as_another_of_that_preset_where_that_is_nearer() -> None:
    """What the preset has beside its words comes along either way."""
    kept = [slot("1A", name="plain", kept=True), slot("1B", "drive", "delay", kept=True)]
    slots = [slot("2A", "drive", "delay", copy_of="1A plain"), slot("2B", "drive", "delay", copy_of="1A plain")]

    assert begun(slots, kept, ("1B",)) == {"2A": "", "2B": "2A"}


def test_variants_come_along_only_where_the_slot_wants_the_same() -> None:
    """A variant that nobody asked for lies under a foot."""
    lift = VariantPlan("lift", "foot", {"reverb": "on"}, ())
    slots = [slot("2A", "drive", variants=(lift,)), slot("2B", "drive"), slot("2C", "drive", variants=(lift,))]

    assert begun(slots) == {"2A": "", "2B": "", "2C": "2A"}
    assert same_sound(slots[0], slots[2])
    assert not same_sound(slots[0], slots[1])


def test_what_is_left_to_set_counts_what_a_preset_turns_off_by_itself() -> None:
    """Such a preset says: every other stored switch is off."""
    source = SlotPlan(0, "1A", "", "", {"drive": "on"}, (), (), kept=True, rest_off=True)

    assert changes(slot("2A", "drive", "delay"), source) == {"delay": "on"}
