"""The least cost of a small gig, by trying everything: written from the rules, in plain dictionaries.

It knows units without loops and rigs without stand-ins. All units are taken together; only two ways to the very same
state of the whole rig are held against each other, since nothing that follows can tell them apart. It shares nothing
with the compiler but the model. Rules: S1 to S6, S10, C1 to C3, C5, C9.
"""

from collections.abc import Iterator, Mapping, Sequence
from itertools import product
from typing import Any, NamedTuple

from scenebook.model import Control, Library, Switch
from scenebook.model.units import BankSelect
from scenebook.model.values import read_value, step_of

__all__ = ["BYTE", "FREE", "Answer", "Asked", "Bench", "Cost", "State", "cues_of", "least_cost"]

BYTE = 320  # µs on a MIDI lead
NOTHING = object()  # what nobody knows, since a recall moved it: equal to nothing
Cost = tuple[int, int, int, int, int]  # the five of C1, in µs
FREE: Cost = (0, 0, 0, 0, 0)
Member = bool | int | float | object
State = dict[str, Any]  # preset, variant, members: a free member is in it only once somebody has set it
Asked = dict[str, Any]  # values, left, preset, variant, left_unit
BY_HAND = ("foot", "hand", "pedal")


class Answer(NamedTuple):
    """The least cost of a gig, and what taking the least at each cue comes to; None where that does not get through."""

    least: Cost | None
    greedy: Cost | None


class Bench:
    """One unit of a rig: how it is worked there, what its presets do, what they take."""

    def __init__(self, library: Library, rig: str, name: str) -> None:
        place = library.rigs[rig].placement(name)
        self.name, self.unit, self.settings = name, library.units[name], library.settings
        self.midi = place.channel is not None
        self.ways = {member: self._way(thing) for member, thing in self.unit.members.items()}
        self.home = library.rigs[rig].home.get(name, {})
        self.programs = self.unit.programs
        self.presets = {self.slot(preset.slot): preset for preset in self.unit.presets}
        self.known_slots = sorted(self.presets)  # no one recalls by choice what nobody has described or named
        self.stored = {m for p in self.unit.presets for layer in _layers(p) for m in layer}

    # --- S1 and what a value is ---

    def _way(self, thing: Switch | Control) -> str:
        if self.midi and thing.message:
            return "message"
        if isinstance(thing, Control):
            return "hand" if thing.by_hand else "pedal" if thing.pedal else "preset"
        if self.midi and thing.toggle:
            return "toggle"
        return "foot" if thing.foot or thing.contact else "hand" if thing.hand else "preset"

    @property
    def recalled_by(self) -> str:
        if self.programs is None:
            return "nothing"
        if self.midi and self.programs.program_change:
            return "message"
        return "foot" if self.programs.foot else "hand" if self.programs.hand else "nothing"

    def slot(self, text: str) -> int:
        return self.unit.preset_at(text)[0]

    def value(self, member: str, text: str, tempo: float | None = None) -> Member:
        thing = self.unit.members[member]
        if isinstance(thing, Switch):
            return text == "on"
        number = read_value(text, thing.scale, tempo=tempo, choices=thing.choices)
        if self.ways[member] != "message":
            return number
        low, high = thing.range or (0.0, 1.0)
        return step_of(number, low, high)

    def equal(self, member: str, one: Member, other: Member) -> bool:
        """S10: steps and switches exactly, knobs within tolerance of where they stand; unknown equals nothing."""
        if one is NOTHING or isinstance(self.unit.members[member], Switch) or self.ways[member] == "message":
            return one is not NOTHING and one == other
        return abs(float(one) - float(other)) <= self.unit.controls[member].slack + 1e-9  # type: ignore[arg-type]

    # --- S2, S3, S6: what a scene asks ---

    def target(self, said: Mapping[str, str], tempo: float | None, before: Asked | None) -> Asked:
        """Return what a scene asks; `before` is what the cue before asked, and without it `leave` means home."""
        if said.get("leave") == "unit" and before is not None:
            return {**before, "left_unit": True, "preset": None, "variant": None}
        said = {} if "leave" in said else said
        texts = dict.fromkeys(self.unit.switches, "off")
        texts |= self._preset_says(self.home) | {m: t for m, t in self.home.items() if m in self.ways}
        texts |= self._preset_says(said) | {m: t for m, t in said.items() if m in self.ways}
        naming = said or self.home
        asked: Asked = {"left_unit": False, "preset": None, "variant": naming.get("variant")}
        asked["preset"] = self.slot(naming["preset"]) if "preset" in naming else None
        own = {m: t for m, t in said.items() if m in self.ways and t != "leave"}
        asked["no_way"] = [m for m, t in own.items() if self._has_no_way(m, t)]
        if asked["preset"] is not None:
            self.known_slots = sorted({*self.known_slots, asked["preset"]})
        asked["values"] = {m: self.value(m, t, tempo if m in own else None) for m, t in texts.items() if t != "leave"}
        left = [m for m, t in texts.items() if t == "leave"]
        if left:
            stood = (before or self.target({}, None, None))["values"]
            asked["values"] |= {m: stood[m] for m in left if m in stood}
        asked["left"] = set(left) if before is not None else set()
        return asked

    def _has_no_way(self, member: str, text: str) -> bool:
        """S1: what neither message, foot, hand nor preset sets cannot be asked for; off is how such a switch stands."""
        is_off = member in self.unit.switches and text == "off"
        return self.ways[member] == "preset" and member not in self.stored and not is_off

    def _preset_says(self, said: Mapping[str, str]) -> dict[str, str]:
        if "preset" not in said:
            return {}
        _, preset = self.unit.preset_at(said["preset"])
        rest = {m: "off" for m in self.stored if m in self.unit.switches} if preset.rest == "off" else {}
        variant = preset.variants[said["variant"]].stores if "variant" in said else {}
        return rest | preset.stores | variant

    # --- S4, S5: what a recall and a variant do ---

    def recalled(self, state: State, slot: int) -> State:
        preset = self.presets.get(slot)
        values: dict[str, Member] = dict.fromkeys(self.stored, NOTHING)
        if preset is not None:
            values |= {m: False for m in self.stored if m in self.unit.switches and preset.rest == "off"}
            values |= {m: self.value(m, text) for m, text in preset.stores.items()}
        return {"preset": slot, "variant": None, "members": {**state["members"], **values}}

    def reached(self, state: State, name: str) -> State:
        preset = self.presets[state["preset"]]
        siblings = {m for variant in preset.variants.values() for m in variant.stores}
        values: dict[str, Member] = dict.fromkeys(siblings, NOTHING)
        values |= {m: False for m in siblings if m in self.unit.switches and preset.rest == "off"}
        stores = {**preset.stores, **preset.variants[name].stores}
        values |= {m: self.value(m, text) for m, text in stores.items()}
        return {"preset": state["preset"], "variant": name, "members": {**state["members"], **values}}

    def start(self) -> State:
        """C5: before cue 0 hands have seen to what they work; what messages and presets alone set nobody knows."""
        members: dict[str, Member] = {}
        for member, value in self.target({}, None, None)["values"].items():
            way = self.ways[member]
            members[member] = NOTHING if way == "message" or (way == "preset" and member in self.stored) else value
        return {"preset": None, "variant": None, "members": members}

    # --- C2: what may be done at a cue ---

    def choices(self, state: State, asked: Asked) -> Iterator[tuple[tuple[int, ...], str | None]]:
        """Yield (recalls, variant) for everything that a unit may do, best liked first."""
        yield (), None
        if asked["left_unit"] or (asked["preset"] is None and not self._may_recall(asked)):
            return
        here = self.presets.get(state["preset"])
        yield from (((), name) for name in (here.variants if here else {}))
        for slot in self.known_slots if self.programs else ():
            ways: tuple[int, ...] = (slot,)
            if self.programs.repeat == "ignored" and state["preset"] in (slot, None):  # type: ignore[union-attr]
                ways = (int(slot == 0), slot)
            yield ways, None
            yield from ((ways, name) for name in (self.presets[slot].variants if slot in self.presets else {}))

    def _may_recall(self, asked: Asked) -> bool:
        return self.stored <= asked["values"].keys() and not self.stored & asked["left"]

    def step(
        self, state: State, asked: Asked, heard: tuple[bool, bool], recalls: tuple[int, ...], variant: str | None
    ) -> tuple[State, Cost] | None:
        """Return the state after, and the cost; None where that does not reach what is asked, or may not be done."""
        middle = state
        for slot in recalls:
            middle = self.recalled(middle, slot)
        end = self.reached(middle, variant) if variant is not None else middle
        named = asked["preset"] is not None and not asked["left_unit"]
        if named and (end["preset"], end["variant"]) != (asked["preset"], asked["variant"]):
            return None
        if asked["no_way"]:
            return None
        fixes = [] if asked["left_unit"] else self.differing(end, asked, heard[1])
        if not self._can(end, fixes, recalls, variant):
            return None
        cost = self.cost(state, middle, end, asked, heard, recalls, variant, fixes)
        members = {**end["members"], **{m: asked["values"][m] for m in fixes}}
        return {**end, "members": members}, cost

    def differing(self, state: State, asked: Asked, sounds: bool) -> list[str]:
        """Return what must be set; hand-worked members of a unit that is silent wait, all but its main switch (C9)."""
        now = state["members"]
        return [
            m
            for m, wanted in asked["values"].items()
            if (m == "main" or sounds or self.ways[m] not in BY_HAND)
            and (m not in now or not self.equal(m, now[m], wanted))
        ]

    def _can(self, end: State, fixes: Sequence[str], recalls: tuple[int, ...], variant: str | None) -> bool:
        if recalls and self.recalled_by == "nothing":
            return False
        by_message = any(self.ways[m] in ("message", "toggle") for m in fixes)
        if variant is not None:
            stored = self.presets[end["preset"]].variants[variant]
            sent = self.midi and (stored.controller is not None or stored.bytes is not None)
            if not sent and not stored.foot:
                return False
            by_message |= sent
        by_message |= len(recalls) > 1 and self.recalled_by == "message"
        if recalls and by_message and self.programs.settle_ms is None:  # type: ignore[union-attr]
            return False
        unknown = [m for m in fixes if end["members"].get(m) is NOTHING]
        return all(self.ways[m] == "message" for m in unknown) and all(self.ways[m] != "preset" for m in fixes)

    # --- C1, C9: what it costs ---

    def cost(
        self,
        state: State,
        middle: State,
        end: State,
        asked: Asked,
        heard: tuple[bool, bool],
        recalls: tuple[int, ...],
        variant: str | None,
        fixes: Sequence[str],
    ) -> Cost:
        """Price one step: by hand on the cue, hole, by hand, wire and settling, programs."""
        hands: list[tuple[int, bool]] = []  # µs, and whether it must fall on the cue
        length, programs, recall_on_cue = 0, 0, False
        for slot in recalls:
            if self.recalled_by == "message":
                length, programs, recall_on_cue = length + self.recall_bytes(), programs + 1, True
            else:
                recall_on_cue = heard[0] or (heard[1] and _sounds(middle) and not _sounds(state))
                hands.append((self.walk(state["preset"], slot), recall_on_cue))
            state = {**state, "preset": slot, "members": state["members"]}
        bound = set(self.stored) if recall_on_cue else set()  # what undoes a recall on the cue comes after it
        if variant is not None:
            stored = self.presets[end["preset"]].variants[variant]
            if self.midi and stored.controller is not None:
                length, variant_on_cue = length + 3, True
            else:
                begins = heard[1] and _sounds(end) and not _sounds(middle)
                variant_on_cue = heard[0] or begins or recall_on_cue
                hands.append((_us(self.settings.press_ms), variant_on_cue))
            if variant_on_cue:
                bound |= self.touched(end["preset"], variant)
        for member in fixes:
            if self.ways[member] in BY_HAND:
                begins = member == "main" and heard[1] and asked["values"]["main"] is True
                hands.append((self.hand_us(member), heard[0] or begins or member in bound))
            else:
                length += 3
        on_cue = sum(taken for taken, must in hands if must)
        hole = self.hole_us() * len(recalls) if all(heard) else 0
        wire = BYTE * length + self.settle_us() * len(recalls)
        return on_cue, hole, sum(taken for taken, _ in hands), wire, programs

    def touched(self, slot: int, variant: str) -> set[str]:
        preset = self.presets[slot]
        return set(preset.stores) | {m for each in preset.variants.values() for m in each.stores}

    def recall_bytes(self) -> int:
        """C3: Bank Select goes with every program change."""
        kind = self.programs.bank_select if self.programs else BankSelect.NONE
        return 2 + {BankSelect.NONE: 0, BankSelect.BOTH: 6}.get(kind, 3)

    def hand_us(self, member: str) -> int:
        settings = self.settings
        by_way = {"foot": settings.press_ms, "hand": settings.turn_ms, "pedal": settings.pedal_ms}
        return _us(by_way[self.ways[member]])

    def walk(self, here: int | None, slot: int) -> int:
        """C9: by foot a press for each bank between, then the switch; without banks a press for each slot between."""
        if self.recalled_by == "hand":
            return _us(self.settings.turn_ms)
        size, start = self.programs.bank_of if self.programs else None, here or 0
        presses = abs(slot // size - start // size) + 1 if size else max(1, abs(slot - start))
        return presses * _us(self.settings.press_ms)

    def settle_us(self) -> int:
        return _us(self.programs.settle_ms or 0) if self.programs else 0

    def hole_us(self) -> int:
        programs = self.programs
        return _us(max(programs.silence_ms, programs.tail_ms * (programs.tails == "cut"))) if programs else 0


def _sounds(state: State) -> bool:
    return state["members"].get("main", True) is True


def _us(ms: float) -> int:
    return round(ms * 1000)


def _layers(preset: Any) -> list[dict[str, str]]:
    return [preset.stores, *(variant.stores for variant in preset.variants.values())]


def cues_of(library: Library, gig: str, benches: Sequence[Bench]) -> list[list[tuple[Asked, tuple[bool, bool]]]]:
    """Return for each cue, home first, what is asked of each unit and whether it is heard before and after."""
    asked = [bench.target({}, None, None) for bench in benches]
    cues = [[(each, (False, _is_heard(each))) for each in asked]]
    segue = False
    for entry in library.gigs[gig].entries:
        song = library.songs[entry.song]
        for place, part in enumerate(song.played):
            goes_on = place > 0 or segue
            before, said = asked, song.scenes[part.scene].units
            asked = [
                bench.target(said.get(bench.name, {}), entry.tempo or song.tempo, was if goes_on else None)
                for bench, was in zip(benches, before, strict=True)
            ]
            cues.append([(n, (_is_heard(b), _is_heard(n))) for n, b in zip(asked, before, strict=True)])
        segue = entry.segue
    return cues


def _is_heard(asked: Asked) -> bool:
    return asked["values"].get("main", True) is True


def least_cost(library: Library, gig: str, rig: str) -> Answer:
    """Return the least cost of a gig over all that its units may do, and the cost of a greedy choice."""
    benches = [Bench(library, rig, name) for name in library.rigs[rig].carried]
    layer = {_key(starts): (FREE, starts) for starts in [[bench.start() for bench in benches]]}
    greedy: tuple[Cost, list[State]] | None = next(iter(layer.values()))
    for number, cue in enumerate(cues_of(library, gig, benches)):
        following: dict[Any, tuple[Cost, list[State]]] = {}
        for cost, states in layer.values():
            for more, after in _joint_steps(benches, states, cue, at_home=number == 0):
                total, key = _sum(cost, more), _key(after)
                if key not in following or total < following[key][0]:
                    following[key] = total, after
        if greedy is not None:
            steps = _joint_steps(benches, greedy[1], cue, at_home=number == 0)
            first = min(steps, key=lambda step: step[0], default=None)
            greedy = (_sum(greedy[0], first[0]), first[1]) if first else None
        layer = following
    least = min((cost for cost, _ in layer.values()), default=None)
    return Answer(least, greedy[0] if greedy else None)


def _joint_steps(
    benches: Sequence[Bench], states: Sequence[State], cue: Sequence[tuple[Asked, tuple[bool, bool]]], *, at_home: bool
) -> Iterator[tuple[Cost, list[State]]]:
    each = []
    for bench, state, (asked, heard) in zip(benches, states, cue, strict=True):
        tried = (bench.step(state, asked, heard, *choice) for choice in bench.choices(state, asked))
        each.append([step for step in tried if step is not None])
    for steps in product(*each):
        cost = FREE
        for _, more in steps:
            cost = _sum(cost, more)
        if at_home:  # before the first song nothing falls on a beat
            cost = (0, *cost[1:])
        yield cost, [state for state, _ in steps]


def _sum(one: Cost, other: Cost) -> Cost:
    return tuple(a + b for a, b in zip(one, other, strict=True))  # type: ignore[return-value]


def _key(states: Sequence[State]) -> Any:
    return tuple((s["preset"], s["variant"], tuple(sorted(s["members"].items(), key=lambda e: e[0]))) for s in states)
