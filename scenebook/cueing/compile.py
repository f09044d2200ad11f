"""Compile a gig: from a library to its cues, lean or full.

Pure: no port, no clock, no database. The order of work: the points of the gig, how the rig stands at each, a path
for each unit, moves, times, and what hands do when.
"""

import gc
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass

from scenebook.cueing.charted import Charted
from scenebook.cueing.cues import Action, ByHand, Cue, CueList, Moment, SongCues, UnitState
from scenebook.cueing.hands import Wanted, placed
from scenebook.cueing.moves import HandMove, UnitMoves, checks, moves_of, trigger_moves
from scenebook.cueing.order import Sequenced, sequenced
from scenebook.cueing.path import UnitPath
from scenebook.cueing.points import Point, gig_points, instruments, song_points
from scenebook.cueing.steps import Demand, Step, start_state
from scenebook.cueing.warnings import check_controllers, crowded, disturbances, undescribed
from scenebook.errors import SceneError, UnknownNameError
from scenebook.model import Gig, Library, Role, SetEntry
from scenebook.model.base import place_text
from scenebook.states.lanes import LaneValues, lane_indexes
from scenebook.states.stage import Way, stage_of
from scenebook.states.standing import Standing, Standings
from scenebook.states.targets import Target

__all__ = ["Compiler", "compile_gig"]

_NOTHING = Sequenced((), 0, 0, 0, 0, 0)


def compile_gig(library: Library, gig_name: str, rig_name: str | None = None, *, full: bool = False) -> CueList:
    """Return the cues of a gig on its rig, or on another one.

    Raises:
        UnknownNameError: the gig names no rig, or one that is not in the library.
        SceneError: a scene cannot be reached; says which song, scene and unit.
        ControllerError: a controller that the rig needs for Bank Select, or a channel mode message.
    """
    gig = library.gigs[gig_name]
    rig = rig_name or gig.rig
    if rig is None or rig not in library.rigs:
        found = f"no rig is called {rig!r}" if rig else "the gig names no rig"
        remedy = "" if rig else "Name one in the gig, or say which one to compile for"
        accepted = ", ".join(library.rigs)
        raise UnknownNameError(found, where=place_text("gig", gig_name), accepted=accepted, remedy=remedy)
    with _nothing_collected():
        compiler = Compiler(library, gig, rig)
        cues = compiler.cues(gig_points(library, gig), full=full)
        spares = tuple(compiler.song(entry, full=full) for entry in gig.spares)
        house = compiler.song(SetEntry(song=gig.house), full=True) if gig.house else None
        stage = compiler.standings.stage
        disturbed, untold = disturbances(library, stage, cues), undescribed(stage, compiler.named)
        warnings = (*compiler.warnings, *disturbed, *untold, *compiler.crowded)
    return CueList(gig_name, rig, full, cues, spares, house, warnings)


@contextmanager
def _nothing_collected() -> Iterator[None]:
    """Keep the garbage collector still: nearly all that a compiler makes lives on, and walking it finds nothing."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


@dataclass(frozen=True, slots=True)
class _UnitRun:
    """One unit through a list of points: the cues at which it is asked something new, what, and its step there."""

    path: UnitPath
    starts: Sequence[int]
    demands: Sequence[Demand]
    steps: Sequence[Step]


class Compiler:
    """Compiles lists of points on one stage; what it has worked out for one list serves the next."""

    def __init__(self, library: Library, gig: Gig, rig: str) -> None:
        stage = stage_of(library, rig, gig)
        self.warnings = tuple(check_controllers(library, stage))
        self.standings = Standings(library, stage)
        self._settings = library.settings
        self._library = library
        self._charts = tuple(Charted(lanes, library.settings) for lanes in self.standings.lanes)
        self.paths = tuple(UnitPath(chart) for chart in self._charts)
        self._with_momentary = {
            each.name for each in stage.carried if any(switch.momentary for switch in each.unit.switches.values())
        }
        self.named: dict[str, dict[str, None]] = {}  # slots as displayed that scenes or home ask for, by unit
        self.crowded: dict[str, None] = {}  # warnings of too many sections at once
        self._states: dict[tuple[object, ...], UnitState] = {}
        self._moves: dict[tuple[object, ...], UnitMoves] = {}

    def song(self, entry: SetEntry, *, full: bool) -> SongCues:
        """Return a song outside the sets, compiled by itself from home.

        It may follow anything, so what is sent at its first cue is a full list.
        """
        points = song_points(self._library, entry)
        cues = self.cues(points, full=full)[1:]
        if full or not cues:
            return SongCues(entry.song, cues)
        whole = self.cues(points[:1], full=True)[1]
        sent = {name: getattr(whole, name) for name in ("messages", "bytes", "running_bytes", "settled_us")}
        return SongCues(entry.song, (cues[0]._replace(**sent), *cues[1:]))

    def cues(self, points: Sequence[Point], *, full: bool = False) -> tuple[Cue, ...]:
        """Return cue 0 and one cue for each point."""
        standings = self._standings(points)
        self.crowded.update(dict.fromkeys(crowded(self.standings.stage, points, standings[1:])))
        sounds = [standing.sounds for standing in standings]
        asked = zip(*(standing.targets for standing in standings), strict=True)
        runs = [self._run(index, targets, sounds, points) for index, targets in enumerate(asked)]
        moves = self._all_moves(standings, runs, points, full=full)
        by_hand, late = placed(points, self._wanted(moves, points, standings), sounds)
        by_unit = [self._unit_states(index, run, len(standings)) for index, run in enumerate(runs)]
        states = zip(*by_unit, strict=True) if by_unit else [()] * len(standings)  # a rig may have no units yet
        return tuple(
            self._cue(
                number, points, standings[number], moves[number], by_hand[number], late[number], states_then, full
            )
            for number, states_then in enumerate(states)
        )

    def _standings(self, points: Sequence[Point]) -> list[Standing]:
        standing = self.standings.home
        standings = [standing]
        for p in points:
            standing = self.standings.of(p.song, p.song_name, p.part.scene, p.tempo, standing, afresh=p.afresh)
            standings.append(standing)
        return standings

    def _run(self, index: int, asked: Sequence[Target], sounds: Sequence[int], points: Sequence[Point]) -> _UnitRun:
        path, chart = self.paths[index], self._charts[index]
        # A recall that no message may follow can be possible one cue after the messages, so each cue is looked at.
        every = chart.programs is not None and chart.settle_us is None
        starts, demands = _demands(index, asked, sounds, every=every)
        self._note_named(index, demands)
        try:
            return _UnitRun(path, starts, demands, path.steps(demands, start_state(path.chart, demands[0].target)))
        except SceneError as error:
            place = _place_of(starts[int(error.path[0])] if error.path else 0, points)
            raise type(error)(error.found, where=f"{place}, {error.where}", remedy=error.remedy) from None

    def _note_named(self, index: int, demands: Sequence[Demand]) -> None:
        """Keep which slots are asked for by name: by scenes, or by home."""
        chart = self._charts[index]
        slots = {demand.target.preset for demand in demands}
        for slot in sorted(slot for slot in slots if slot is not None):
            self.named.setdefault(chart.name, {})[chart.programs.label(slot) if chart.programs else ""] = None

    def _all_moves(
        self, standings: Sequence[Standing], runs: Sequence[_UnitRun], points: Sequence[Point], *, full: bool
    ) -> list[list[UnitMoves]]:
        """Return for each cue the moves of the units that have any, along the chain."""
        cues: list[list[UnitMoves]] = [[] for _ in standings]
        for index, run in enumerate(runs):
            before: Step | None = None
            for which, (number, step) in enumerate(zip(run.starts, run.steps, strict=True)):
                if (number == 0 or not full) and (step.fixes or step.recalls or step.variant):
                    cues[number].append(moves_of(run.path, index, step, run.demands[which], before))
                if full:
                    stop = run.starts[which + 1] if which + 1 < len(run.starts) else len(standings)
                    try:
                        moves = self._full_moves(index, run.path, step, run.demands[which].target)
                    except SceneError as error:
                        raise error.at(_place_of(number, points)) from None
                    if moves is not None:
                        for cue in cues[max(number, 1) : stop]:
                            cue.append(moves)
                before = step
        for number, standing in enumerate(standings):
            if standing.triggers:
                cues[number] = self._with_triggers(cues[number], standing)
        return cues

    def _with_triggers(self, units: list[UnitMoves], standing: Standing) -> list[UnitMoves]:
        found = {moves.number: moves for moves in units}
        for index in dict.fromkeys(index for index, _ in standing.triggers):
            names = [name for unit, name in standing.triggers if unit == index]
            found[index] = trigger_moves(self._charts[index], index, names, found.get(index))
        return [found[index] for index in sorted(found)]

    def _full_moves(self, index: int, path: UnitPath, lean: Step, target: Target) -> UnitMoves | None:
        """Return what a full list says of a unit: the preset and variant that lean is in, and all that differs."""
        chart, after = self._charts[index], lean.after
        by_message = chart.recall_way is Way.MESSAGE
        preset, variant = (after.preset, after.variant) if by_message else (None, None)
        key = index, target, preset, variant
        found = self._moves.get(key)
        if found is None:
            step = path.forced(start_state(chart, target), target, preset, variant)
            if not (step.fixes or step.recalls or step.variant):
                return None
            found = self._moves[key] = moves_of(path, index, step, Demand(target, False, False), None)
        return found

    def _wanted(
        self, moves: Sequence[Sequence[UnitMoves]], points: Sequence[Point], standings: Sequence[Standing]
    ) -> list[Wanted]:
        wanted = [
            Wanted(number, each.number, each.chart.name, move)
            for number, units in enumerate(moves)
            for each in units
            for move in each.by_hand
        ]
        wanted += [Wanted(0, index, name, move) for index, name, move in self._checks(standings[0], everything=True)]
        wanted += self._held(points, standings)
        for number, change in enumerate(instruments(points), 1):
            if change is not None:
                move = HandMove(
                    Action.CHANGE, "instrument", *change, round(self._settings.instrument_ms * 1000), 1, True
                )
                wanted.append(Wanted(number, -1, "instrument", move))
        return wanted

    def _checks(self, standing: Standing, *, everything: bool = False) -> list[tuple[int, str, HandMove]]:
        return [
            (index, chart.name, move)
            for index, chart in enumerate(self._charts)
            for move in checks(chart, standing.targets[index], heard=everything or bool(standing.sounds >> index & 1))
        ]

    def _held(self, points: Sequence[Point], standings: Sequence[Standing]) -> list[Wanted]:
        """Return what momentary switches are for in each scene; they have no state, so nothing else tells of them."""
        held = []
        for number, standing in enumerate(standings):
            for name in self._with_momentary.intersection(standing.met.settings) if number else ():
                carried = self.standings.stage.by_name[name]
                for member, text in standing.met.settings[name].items():
                    switch = carried.unit.switches.get(member)
                    if switch is not None and switch.momentary:
                        move = HandMove(Action.HOLD, member, "", text, 0, 1, on_cue=True)
                        held.append(Wanted(number, carried.index, name, move))
        return held

    def _cue(
        self,
        number: int,
        points: Sequence[Point],
        standing: Standing,
        moves: Sequence[UnitMoves],
        by_hand: tuple[ByHand, ...],
        late: str,
        states: tuple[UnitState, ...],
        full: bool,
    ) -> Cue:
        point = points[number - 1] if number else None
        try:
            timed = sequenced(moves) if moves else _NOTHING
        except SceneError as error:
            raise error.at(_place(point) if point else "home") from None
        if full and number:
            by_hand = (*by_hand, *self._check_list(number, standing, states))
        met = standing.met
        return Cue(
            number,
            point.entry if point else None,
            point.form if point else None,
            point.song_name if point else "",
            point.part.scene if point else "home",
            point.part.bars if point else None,
            point.part.free if point else 0,
            point.part.words if point else "",
            timed.messages,
            by_hand,
            met.lacks,
            met.without,
            met.stand_ins,
            met.not_carried,
            (*standing.not_heard, *self._no_promise(standing)) if full else standing.not_heard,
            late,
            max([each.silence_us for each in moves], default=0),
            tuple([each.chart.name for each in moves if each.cuts_tail]),
            timed.overlap_us,
            timed.interrupted_us,
            timed.bytes,
            timed.running_bytes,
            timed.settled_us,
            states,
        )

    def _check_list(self, number: int, standing: Standing, states: Sequence[UnitState]) -> list[ByHand]:
        """Return what to look at: presets that hands recall, by the display; then switches and knobs."""
        shown = [
            (chart.name, "preset", chart.slot_name(chart.programs.slots[state.preset]))
            for chart, state in zip(self._charts, states, strict=True)
            if chart.programs and state.preset is not None and chart.recall_way is not Way.MESSAGE
        ]
        shown += [(name, move.member, move.after) for _, name, move in self._checks(standing)]
        return [ByHand(Action.CHECK, *each[:2], "", each[2], Moment.CUE, number, 0, 0) for each in shown]

    def _no_promise(self, standing: Standing) -> list[str]:
        notes = []
        for chart in self._charts:
            toggles = [chart.lanes.members[lane] for lane in lane_indexes(chart.toggle_mask)]
            notes += [f"{chart.name} {member}: a toggling switch, look at its lamp" for member in toggles]
            if Role.LOOPER in chart.unit.roles:
                notes.append(f"{chart.name}: what it has recorded cannot be promised")
        return notes

    def _unit_states(self, index: int, run: _UnitRun, count: int) -> list[UnitState]:
        """Return how one unit stands after each cue; cues at which nothing changed share one value."""
        states: list[UnitState] = []
        stops = [*run.starts[1:], count]
        for start, stop, demand, step in zip(run.starts, stops, run.demands, run.steps, strict=True):
            key = index, demand.target, step.after.preset, step.after.variant, demand.heard_after
            found = self._states.get(key)
            if found is None:
                found = self._states[key] = self._unit_state(index, demand.target, step, sounds=demand.heard_after)
            states += [found] * (stop - start)
        return states

    def _unit_state(self, index: int, target: Target, step: Step, *, sounds: bool) -> UnitState:
        chart, lanes = self._charts[index], self.standings.lanes[index]
        preset = step.after.preset
        values = LaneValues(lanes, target.value, target.known, target.words)
        left = frozenset(lanes.members[lane] for lane in lane_indexes(target.left))
        label = chart.programs.label(preset) if chart.programs and preset is not None else None
        return UnitState(chart.name, sounds, label, target.preset is not None, step.after.variant, values, left)


def _demands(
    index: int, asked: Sequence[Target], sounds: Sequence[int], *, every: bool
) -> tuple[list[int], list[Demand]]:
    """Return the cues at which one unit is asked something new (or `every` cue), and what."""
    starts: list[int] = []
    demands: list[Demand] = []
    last, heard, before, heard_before, bit = None, -1, 0, 0, 1 << index
    for number, target in enumerate(asked):
        now = sounds[number] & bit
        if every or target is not last or now != heard or before != heard_before:
            last, heard, heard_before = target, now, before
            starts.append(number)
            demands.append(Demand(target, bool(before), bool(now)))
        before = now
    return starts, demands


def _place_of(number: int, points: Sequence[Point]) -> str:
    return _place(points[number - 1]) if number else "home"


def _place(point: Point) -> str:
    return place_text("song", point.song_name, f"scene {point.part.scene!r}")
