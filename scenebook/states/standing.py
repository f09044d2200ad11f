"""How a rig must stand at each cue: every carried unit's target, what sounds, and what the scene lacks there."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from scenebook.errors import ScenebookError
from scenebook.model import MAIN, Library, Scene, Song
from scenebook.model.base import place_text
from scenebook.states.lanes import Lanes
from scenebook.states.stage import Stage, Way
from scenebook.states.stand_ins import Met, meet
from scenebook.states.targets import Target, UnitTargets

__all__ = ["Standing", "Standings"]


@dataclass(slots=True, eq=False)  # not frozen, as Target is not
class Standing:
    """How the rig stands at a cue: one target a carried unit, a bit in `sounds` for each that is heard."""

    targets: tuple[Target, ...]
    sounds: int
    met: Met
    triggers: tuple[tuple[int, str], ...] = ()  # unit, trigger
    not_heard: tuple[str, ...] = ()


class Standings:
    """Works out standings on one stage; equal questions get the same object."""

    def __init__(self, library: Library, stage: Stage) -> None:
        self.stage, self._tuning = stage, library.settings.tuning
        self.lanes = tuple(Lanes(carried, tuning=self._tuning) for carried in stage.carried)
        self.units = tuple(UnitTargets(lanes) for lanes in self.lanes)
        self._index = {carried.name: carried.index for carried in stage.carried}
        self._inside = self._loops()
        self._holders = [self._index[loop.holder] if (loop := c.loop) else -1 for c in stage.carried]
        self._looped = [carried for carried in stage.carried if carried.loop is not None]
        self._may_be_silent = bool(self._looped) or any(
            MAIN in c.ways and (c.unit.programs or c.ways[MAIN] is Way.PRESET or len(c.unit.switches) > 1)
            for c in stage.carried
        )
        self._home_targets = [unit.home for unit in self.units]
        self.home = self._standing(list(self._home_targets), None, Met({}), {})
        for unit, target in zip(self.units, self.home.targets, strict=True):
            unit.at_home = target

    def of(
        self,
        song: Song,
        song_name: str,
        scene_name: str,
        tempo: float | None,
        before: Standing,
        *,
        afresh: bool = False,
    ) -> Standing:
        """Return how the rig stands in a scene that follows `before`; `afresh`: what it leaves stands as at home.

        Raises:
            ScenebookError: a value is off its scale, a switch has no way, a preset is unknown; says where.
        """
        scene = song.scenes[scene_name]
        try:
            met = meet(self.stage, scene, None if afresh else before.met)
            targets = list(self._home_targets)
            for name, setting in met.settings.items():
                index = self._index[name]
                unit = self.units[index]
                if setting == unit.last_setting:  # most scenes say of most units what the one before said
                    targets[index] = unit.last_target
                else:
                    targets[index] = unit.of(setting, tempo, None if afresh else before.targets[index])
            return self._standing(targets, before, met, met.settings, scene, afresh=afresh)
        except ScenebookError as error:
            raise error.at(place_text("song", song_name, f"scene {scene_name!r}")) from None

    def _standing(
        self,
        targets: list[Target],
        before: Standing | None,
        met: Met,
        settings: Mapping[str, Mapping[str, str]],
        scene: Scene | None = None,
        *,
        afresh: bool = False,
    ) -> Standing:
        if self._inside:
            self._set_loops(targets, before, settings, afresh=afresh)
        sounds = self._sounding(targets)
        fired = scene.triggers if scene else ()
        triggers = tuple(self._trigger(text) for text in fired if self.stage.has_trigger(text))
        unheard = self._unheard(sounds, targets, settings) if self._may_be_silent else ()
        return Standing(tuple(targets), sounds, met, triggers, unheard)

    def _loops(self) -> dict[tuple[int, int], list[int]]:
        """Return the units with a main switch in each switcher's loop, by (holder, lane of its switch).

        A loop in which no unit has one is a switch like any other.
        """
        inside: dict[tuple[int, int], list[int]] = {}
        for carried in self.stage.carried:
            loop = carried.loop
            if loop is not None and not loop.is_send and self.lanes[carried.index].main is not None:
                holder = self._index[loop.holder]
                inside.setdefault((holder, self.lanes[holder].index[loop.switch]), []).append(carried.index)
        return inside

    def _set_loops(
        self,
        targets: list[Target],
        before: Standing | None,
        settings: Mapping[str, Mapping[str, str]],
        *,
        afresh: bool,
    ) -> None:
        """Set each loop's switch from what should sound in it, and hold own switches while it is off (S11)."""
        left = None if afresh else before
        for holder in dict.fromkeys(holder for holder, _ in self._inside):
            lanes, says = self.lanes[holder], settings.get(self.stage.carried[holder].name, {})
            derived = {
                lane: int(any(self._should_sound(unit, lane, targets[unit], settings, left) for unit in units))
                for (owner, lane), units in self._inside.items()
                if owner == holder and not self._says(holder, lane, says)
            }
            if derived and "leave" not in says:
                opened = "preset" not in says and any(True for _ in lanes.presets)
                targets[holder] = self.units[holder].with_lanes(targets[holder], derived, opened=opened)
        for (holder, lane), units in self._inside.items():
            loop = self.stage.carried[units[0]].loop
            if before is not None and loop is not None and loop.shared and not targets[holder].value >> (lane << 3) & 1:
                for unit in units:
                    self._hold_main(unit, targets, before)

    def _should_sound(
        self,
        unit: int,
        lane: int,
        target: Target,
        settings: Mapping[str, Mapping[str, str]],
        left: Standing | None,
    ) -> bool:
        """Whether a unit should sound in its loop; one that is left, or whose main switch is, if it did before."""
        carried = self.stage.carried[unit]
        says = settings.get(carried.name, {})
        if left is None or not ("leave" in says or says.get(MAIN) == "leave"):
            return target.wants
        is_open = left.targets[self._holders[unit]].value >> (lane << 3) & 1
        return bool(is_open) and (carried.alone or left.targets[unit].is_on)

    def _says(self, holder: int, lane: int, says: Mapping[str, str]) -> bool:
        lanes = self.lanes[holder]
        if lanes.members[lane] in says:
            return True
        if "preset" not in says:
            return False
        slot = lanes.slot(says["preset"])
        known = lanes.effect(slot).known | lanes.effect(slot, says.get("variant")).known
        return bool(known >> (lane << 3) & 0xFF)

    def _hold_main(self, unit: int, targets: list[Target], before: Standing) -> None:
        lane = self.lanes[unit].main
        if lane is not None and not targets[unit].left_unit:
            was = before.targets[unit].value >> (lane << 3) & 0xFF
            targets[unit] = self.units[unit].with_lanes(targets[unit], {lane: was})

    def _sounding(self, targets: list[Target]) -> int:
        sounds = 0
        for index, target in enumerate(targets):
            if target.is_on:
                sounds |= 1 << index
        for carried in self._looped:
            holder, loop = self._holders[carried.index], carried.loop
            hops = 0
            while holder >= 0 and loop is not None and hops < len(targets):
                lane = self.lanes[holder].index.get(loop.switch)
                if lane is not None and not targets[holder].value >> (lane << 3) & 1:
                    sounds &= ~(1 << carried.index)
                loop, holder, hops = self.stage.carried[holder].loop, self._holders[holder], hops + 1
        return sounds

    def _unheard(
        self, sounds: int, targets: Sequence[Target], settings: Mapping[str, Mapping[str, str]]
    ) -> tuple[str, ...]:
        """Name the units that the scene turns on or recalls and that are not heard, and why."""
        said = []
        for name, setting in settings.items():
            index = self._index[name]
            if not sounds >> index & 1 and (MAIN in setting or "leave" not in setting):
                why = self._why_unheard(index, setting, is_on=targets[index].is_on)
                said += [f"{name} {why}"] if why else []
        return tuple(said)

    def _why_unheard(self, index: int, setting: Mapping[str, str], *, is_on: bool) -> str:
        """Say why a unit that the scene turns on, recalls or sets is not heard; nothing where that is meant."""
        carried, loop = self.stage.carried[index], self.stage.carried[index].loop
        if setting.get(MAIN) == "on":
            return f"is on but not heard: {loop.switch!r} of {loop.holder!r} is off" if loop else ""
        if "preset" in setting and MAIN not in setting:
            off = "the scene does not turn it on" if carried.alone else "its main switch is off"
            return f"is in preset {setting['preset']} but not heard: {off}"
        if MAIN in self.units[index].unreachable and MAIN not in setting:
            return "is set but never heard: nothing says how its main switch is worked"
        if MAIN not in setting and any(text == "on" and m in carried.unit.switches for m, text in setting.items()):
            off = f"{loop.switch!r} of {loop.holder!r} is off" if loop and is_on else "the scene does not turn it on"
            return f"is set but not heard: {off}"
        return ""

    def _trigger(self, text: str) -> tuple[int, str]:
        unit, name = self.stage.trigger(text)
        return self._index[unit], name
