"""What a scene asks of one carried unit (rules S2, S3, S6): a packed target, the same object for the same asking."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from scenebook.errors import NoWayError
from scenebook.model import MAIN
from scenebook.model.units import RESERVED
from scenebook.states.lanes import Lanes
from scenebook.states.stage import Way

__all__ = ["Target", "UnitTargets"]

_ON = 1


@dataclass(slots=True, eq=False)  # not frozen: that makes making one five times as slow; nothing changes one
class Target:
    """Where one unit must stand. Lanes outside `known` are free; `left` are those that the scene leaves.

    `preset` and `variant` are what the scene asks to be in; None leaves the preset open. `wants` says whether the unit
    should sound as far as itself is concerned, before its loop is looked at.
    """

    value: int
    known: int
    left: int
    preset: int | None
    variant: str | None
    left_unit: bool
    wants: bool
    is_on: bool  # its own main switch, or it has none
    words: Mapping[str, str]  # the scene's own writing


class UnitTargets:
    """Makes the targets of one carried unit."""

    def __init__(self, lanes: Lanes) -> None:
        self.lanes = lanes
        self._main = lanes.main
        self._alone = lanes.carried.alone and lanes.main is not None
        self._home_value, self._home_known, self._home_preset, self._home_variant = self._home_state()
        self._plain: dict[tuple[tuple[str, str], ...], Target] = {}
        ways = zip(lanes.members, lanes.ways, strict=True)
        self.unreachable = {m for m, way in ways if way is Way.PRESET and not lanes.mask_of(m) & lanes.stored_mask}
        self.last_setting: Mapping[str, str] | None = None
        self._made: dict[object, Target] = {}
        self.home = self.last_target = self._finished(
            self._home_value, self._home_known, self._home_preset, self._home_variant
        )
        self.at_home = self.home  # as it really stands at home, where its loops follow the units in them

    def of(self, setting: Mapping[str, str], tempo: float | None, before: Target | None) -> Target:
        """Return the target of a scene that names this unit.

        `before` is its target at the cue before; without one `leave` means home (rule S6).
        """
        items = tuple(setting.items())
        found = self._plain.get(items)
        if found is not None:
            self.last_setting, self.last_target = setting, found
        return found if found is not None else self._first_time(items, setting, tempo, before)

    def with_lanes(self, target: Target, lanes: Mapping[int, int], *, opened: bool = False) -> Target:
        """Return `target` with some lanes set, and its preset open if that is asked for."""
        key = (target, tuple(lanes.items()), opened)
        found = self._made.get(key)
        if found is None:
            value, known = target.value, target.known
            for index, lane in lanes.items():
                value = value & ~(0xFF << (index << 3)) | lane << (index << 3)
                known |= 0xFF << (index << 3)
            preset, variant = (None, None) if opened else (target.preset, target.variant)
            found = self._made[key] = Target(
                value,
                known,
                target.left,
                preset,
                variant,
                target.left_unit,
                target.wants,
                self._is_on(value),
                _without(target.words, [self.lanes.members[index] for index in lanes]),
            )
        return found

    def _first_time(
        self, items: tuple[tuple[str, str], ...], setting: Mapping[str, str], tempo: float | None, before: Target | None
    ) -> Target:
        """Make a target, and keep it: for all cues, or for those with the same tempo or the same target before."""
        leaves = "leave" in setting or "leave" in setting.values()
        timed = self.lanes.tempo_matters(setting)
        if not leaves and not timed:
            found = self._plain[items] = self._of(setting, tempo, before)
            return found
        key = (items, tempo if timed else None, before if leaves else None)
        kept = self._made.get(key)
        if kept is None:
            kept = self._made[key] = self._of(setting, tempo, before)
        return kept

    def _of(self, setting: Mapping[str, str], tempo: float | None, before: Target | None) -> Target:
        if not any(key in RESERVED or key in self.lanes.index for key in setting):
            return self.home  # nothing is named, or only what is held for a moment
        if "leave" in setting:
            if before is None:
                return self.at_home
            everything = self.lanes.stored_mask | before.known
            return Target(before.value, before.known, everything, None, None, True, before.wants, before.is_on, {})
        value, known, preset, variant = self._home_value, self._home_known, None, None
        if "preset" in setting:
            preset, variant = self.lanes.slot(setting["preset"]), setting.get("variant")
            for effect in (self.lanes.effect(preset), *([self.lanes.effect(preset, variant)] if variant else [])):
                value, known = value & ~effect.known | effect.value, known | effect.known
        own_value, own_known = self.lanes.packed(setting, tempo)
        value, known = value & ~own_known | own_value, known | own_known
        left, words, wanted = 0, setting, None
        if "leave" in setting.values():
            left = sum(self.lanes.mask_of(member) for member, text in setting.items() if text == "leave")
            words = {member: text for member, text in setting.items() if text != "leave"}
            stood = before or self.at_home
            wanted = stood.wants if setting.get(MAIN) == "leave" else None
            value, known = value & ~left | stood.value & left, known & ~left | stood.known & left
        if self.unreachable:
            self._check_ways(words)
        return self._finished(value, known, preset, variant, left=left if before else 0, words=words, wanted=wanted)

    def _finished(
        self,
        value: int,
        known: int,
        preset: int | None,
        variant: str | None,
        *,
        left: int = 0,
        words: Mapping[str, str] | None = None,
        wanted: bool | None = None,
    ) -> Target:
        wants = True
        if self._main is not None:
            mask = 0xFF << (self._main << 3)
            wants = bool(value & mask) if wanted is None else wanted
            if self._alone:
                value, known, left = value & ~mask | _ON << (self._main << 3), known | mask, left & ~mask
                words = _without(words or {}, [MAIN])  # they are said of the loop
        return Target(value, known, left, preset, variant, False, wants, self._is_on(value), words or {})

    def _is_on(self, value: int) -> bool:
        return self._main is None or bool(value >> (self._main << 3) & 0xFF)

    def _check_ways(self, words: Mapping[str, str]) -> None:
        """Raise NoWayError if a scene's own words set what nothing works on this rig and no preset stores."""
        lanes = self.lanes
        for member in self.unreachable.intersection(words):
            if member in lanes.unit.controls or words[member] != "off":
                raise NoWayError(
                    f"nothing works {member!r} on this rig",
                    where=f"unit {lanes.carried.name!r}",
                    accepted="a message (with a port and channel in the rig), foot, hand, or a preset that stores it",
                    remedy="Say in the unit how it is worked, or take the setting out of the scene",
                )

    def _home_state(self) -> tuple[int, int, int | None, str | None]:
        lanes, home = self.lanes, self.lanes.carried.home
        value, known = 0, lanes.switch_mask
        preset = variant = None
        if "preset" in home:
            preset, variant = (
                lanes.unit.preset_at(home["preset"], f"home of {lanes.carried.name!r}")[0],
                home.get("variant"),
            )
            for effect in (lanes.effect(preset), *([lanes.effect(preset, variant)] if variant else [])):
                value, known = value & ~effect.known | effect.value, known | effect.known
        own, own_known = lanes.packed(home, None)
        return value & ~own_known | own, known | own_known, preset, variant


def _without(words: Mapping[str, str], members: Sequence[str]) -> Mapping[str, str]:
    """Return a scene's words without those on members that stand otherwise than it says of them."""
    if not any(member in words for member in members):
        return words
    return {member: text for member, text in words.items() if member not in members}
