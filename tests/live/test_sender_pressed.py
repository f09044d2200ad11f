"""A rig with a sender on stage: what is pressed brings every unit where its scene wants it, whatever is changed."""

import random
from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Any

from scenebook.cueing.cues import Action, Cue, MessageKind
from scenebook.cueing.sender import StoredList
from scenebook.cueing.sender_tonight import stored_for
from scenebook.errors import ScenebookError
from scenebook.live.acts import Act, Verb
from scenebook.live.caller import Caller
from scenebook.live.changing import changed
from scenebook.live.places import HOME, SAFE, Part, Place
from scenebook.live.programme import Programme, Step, programme_of
from scenebook.live.tonight import Tonight, applied, rebuilt, tonight_of
from scenebook.model import Library
from scenebook.proof.reading import Reading
from scenebook.states.stage import Way, stage_of
from tests.cueing.test_proved_lists import is_heard_whole
from tests.support.build import GIG, RIG
from tests.support.calling import evening
from tests.support.on_stage import readings
from tests.support.random_evenings import playable_evening
from tests.support.second_receiver import State, state_after, table_of
from tests.support.senders import HOLDER, with_sender

APART = 60_000_000  # µs between two cues, and half of it between two presses
CHANGES = [Verb.OUT, Verb.DEAF, Verb.DEAF, Verb.PLAYED_BY, Verb.CUT, Verb.CUT, Verb.TEMPO]
HANDS = (Action.PRESS, Action.TURN, Action.PEDAL, Action.CHECK)


class Board:
    """The units that a sender serves, as they stand: fed with what its presses send, and with what hands do."""

    def __init__(self, library: Library, tonight: Tonight) -> None:
        self.programme = programme_of(library, GIG, RIG, tonight)
        self.asked: dict[Place, Reading] = readings(library, GIG, RIG, tonight, self.programme)
        stored = stored_for(library, GIG, RIG)
        assert stored is not None
        self.lists = {each.label: each for each in stored.lists.lists}
        alone = rebuilt(library.rigs[RIG], sender=None)
        self.raw = programme_of(rebuilt(library, rigs={RIG: alone}), GIG, RIG, tonight)
        there = applied(library, GIG, RIG, tonight, stays=self.programme.stays)
        stage = stage_of(there, RIG, there.gigs[GIG])
        heard = [each for each in stage.carried if each.placement.port in stored.lists.ports]
        self.units = [each for each in heard if is_heard_whole(each.unit) and not self._is_disturbed(each.name)]
        self.states: dict[str, State] = {}
        self.took = Counter[str]()
        self.lacking = set[str]()  # units that nobody could bring there, since a list was pressed last

    def _is_disturbed(self, name: str) -> bool:
        return any(text.startswith(f"{name!r} hears") for text in self.programme.warnings)

    def play(self, step: Step, *, full: bool) -> list[str]:
        """Do what a step says, and return what stands otherwise than its scene asks."""
        cue = step.full if full else step.lean
        pressed = [
            self.lists[move.member] for move in cue.by_hand if (move.unit, move.action) == (HOLDER, Action.PRESS)
        ]
        self.took["presses"] += len(pressed)
        self.lacking -= {unit.name for unit in self.units if pressed}
        self._hear(pressed)
        by_hand = any("no list of the sender" in text for text in cue.lacks) or step.full.scene in self._unstored(step)
        if by_hand:
            self.took["by hand"] += 1
            self._by_hand(step, cue)
        return self._differing(step, cue, by_hand=by_hand)

    def _unstored(self, step: Step) -> list[str]:
        name = f"{step.full.song}: {step.full.scene}" if step.full.song else "home"
        return [step.full.scene] if name in self.programme.unstored else []

    def _hear(self, pressed: Sequence[StoredList]) -> None:
        for unit in self.units:
            stream = [
                (place * APART // 2 + each.at_us, each.data)
                for place, one in enumerate(pressed)
                for each in one.messages
                if each.port == unit.placement.port
            ]
            self._feed(unit.name, stream)

    def _feed(self, name: str, stream: list[tuple[int, bytes]]) -> None:
        unit = next(each for each in self.units if each.name == name)
        begun = self.states.get(name)
        self.states[name] = state_after(unit.unit, unit.placement, stream, begun, table_of(unit.unit))

    def _by_hand(self, step: Step, cue: Cue) -> None:
        """Recall by hand as the unit's own message would, then set what hands set."""
        names = {unit.name: unit for unit in self.units}
        for move in (move for move in cue.by_hand if move.unit in names and move.action is Action.RECALL):
            whole = self.raw.by_place[step.place].full.messages
            sent = [m for m in whole if m.unit == move.unit and m.kind is MessageKind.RECALL]
            self._feed(move.unit, [(m.at_us, m.data) for m in sent])
        for move in cue.by_hand:
            if move.unit in names and move.action in HANDS and move.member != "preset":
                wanted = self.asked[step.place].units[move.unit].values.get(move.member)
                if wanted is not None:
                    self.states[move.unit]["members"][move.member] = wanted

    def _differing(self, step: Step, cue: Cue, *, by_hand: bool) -> list[str]:
        found = []
        for unit in self.units:
            asked, state, how = self.asked[step.place].units[unit.name], self.states[unit.name], cue.states[unit.index]
            if any(text.startswith(unit.name) and "no list of the sender" in text for text in cue.lacks):
                self.lacking.add(unit.name)
            if unit.name in self.lacking or (by_hand and not how.sounds):
                self.took["lacks"] += 1
                continue
            for member, way in unit.ways.items():
                if way is Way.MESSAGE and member in asked.values:
                    if state["members"].get(member) != asked.values[member]:
                        found.append(f"{step.place} {unit.name} {member} {state['members'].get(member)}")
                    self.took["members"] += 1
            if asked.slot is not None and (state["slot"], state["variant"]) != (asked.slot, asked.variant):
                found.append(f"{step.place} {unit.name} preset {state['slot']}")
        return found


def boards(count: int) -> Iterator[tuple[int, Library, Board]]:
    """Yield random evenings with a sender; one in two has something changed tonight."""
    for seed in range(count):
        chance, base = random.Random(seed), playable_evening(seed)
        ports = base.rigs[RIG].ports
        if not ports:
            continue
        holds = {"pauses": chance.random() < 0.5, "switches": chance.choice([None, 1, 4])}
        library = with_sender(base, *(ports[:1] if chance.random() < 0.3 else ports), **holds)
        try:
            yield seed, library, Board(library, tonight_at_random(library, chance))
        except ScenebookError:
            continue


def tonight_at_random(library: Library, chance: random.Random) -> Tonight:
    tonight = tonight_of(library.gigs[GIG])
    for _ in range(chance.choice([0, 0, 1, 2, 3])):
        place = Place(Part.SET, chance.randrange(len(library.gigs[GIG].entries)), chance.randrange(3))
        unit = chance.choice([name for name in library.rigs[RIG].carried if name != HOLDER])
        verb = chance.choice(CHANGES)
        act = Act(verb, place=place, unit=unit, other=f"twin of {unit}", text="93" if verb is Verb.TEMPO else "")
        try:
            tonight = changed(library, GIG, RIG, tonight, act)
        except ScenebookError:
            continue
    return tonight


def rows(programme: Programme) -> list[tuple[Step, ...]]:
    return [programme.steps, *programme.spares]


def test_a_set_that_is_pressed_through_stands_at_every_cue_as_its_scene_asks() -> None:
    """Lean, in order: no press where the list has been pressed last, none that is not stored."""
    took = Counter[str]()
    for seed, _, board in boards(80):
        for row in rows(board.programme):
            board.play(board.programme.home, full=True)
            for step in row:
                assert board.play(step, full=step.place == HOME) == [], seed
        took += board.took

    assert took["members"] > 1000
    assert took["presses"] > 400
    assert took["by hand"] > 15


def test_after_a_jump_the_list_of_the_cue_brings_everything_there() -> None:
    """The full step tells the press as well; spare songs, house sounds and the safe state too."""
    took = Counter[str]()
    for seed, _, board in boards(40):
        steps = list(board.programme.by_place.values())
        random.Random(seed).shuffle(steps)
        for step in steps:
            assert board.play(step, full=True) == [], seed
            following = board.programme.neighbour(step.place, 1)
            if following is not None:
                assert board.play(following, full=False) == [], seed
        took += board.took

    assert took["members"] > 1000
    assert took["presses"] > 400


def test_no_message_of_the_senders_ports_is_left_to_the_computer() -> None:
    """Each message is sent by one of the two; the line check still knows of what a press sends."""
    for _, library, board in boards(30):
        sender = library.rigs[RIG].sender
        assert sender is not None
        for step in board.programme.by_place.values():
            assert not [m for m in (*step.lean.messages, *step.full.messages) if m.port in sender.ports]
            raw = board.raw.by_place[step.place].full
            if not board._unstored(step):
                heard = [m for m in raw.messages if m.port not in sender.ports]
                assert list(step.full.messages) == heard


def small(**of_rig: Any) -> Library:
    """Return the small evening, its delay served by a sender with banks of four; the laptop serves the reverb."""
    library = with_sender(evening(), "front", switches=4)
    board = library.rigs[RIG]
    return rebuilt(library, rigs={RIG: rebuilt(board, **of_rig)}) if of_rig else library


def pressed(cue: Cue) -> list[str]:
    return [move.member for move in cue.by_hand if move.unit == HOLDER]


def words(caller: Caller) -> list[str]:
    return [notice.words for notice in caller.parts.notices]


def go(caller: Caller, verb: Verb, place: Place | None = None, unit: str = "", other: str = "") -> str:
    return caller.take(Act(verb, "key", place, unit=unit, other=other), 1.0).refused


def test_a_step_tells_the_press_and_a_jump_tells_that_of_its_cue() -> None:
    """On the page it stands with what hands do; the laptop sends only what is its own."""
    caller = Caller(small(), GIG, RIG)
    caller.port_back("wet", 0)
    go(caller, Verb.AGAIN)

    go(caller, Verb.NEXT)
    step = caller.parts.step
    assert (pressed(step.lean), [m.port for m in step.lean.messages]) == (["bank 2, switch 1"], [])
    assert caller.parts.in_turn
    go(caller, Verb.GO, Place(Part.SET, 1, 1))
    check = caller.parts.check
    assert [(move.action, move.member) for move in check if move.unit == HOLDER] == [(Action.PRESS, "bank 1, switch 1")]
    assert check[0].unit == HOLDER


def test_cutting_a_verse_renumbers_nothing_and_a_spare_song_has_its_own_lists() -> None:
    """What is stored is stored: the numbers are those of the sheet at home."""
    caller = Caller(small(), GIG, RIG)
    before = {place: pressed(step.full) for place, step in caller.programme.by_place.items()}

    assert go(caller, Verb.CUT, Place(Part.SET, 0, 0)) == ""

    after = {place: pressed(step.full) for place, step in caller.programme.by_place.items()}
    assert after == {place: press for place, press in before.items() if place != Place(Part.SET, 0, 0)}
    assert after[Place(Part.SPARE, 0, 0)] == ["bank 2, switch 1"]
    assert words(caller) == []


def test_a_unit_that_is_out_leaves_its_lists_as_they_are() -> None:
    """Its messages go to nobody; a stand-in or another unit with other messages has none stored."""
    library = small()
    caller = Caller(library, GIG, RIG)
    before = [pressed(step.full) for step in caller.programme.steps]

    assert go(caller, Verb.OUT, unit="reverb") == ""
    assert [pressed(step.full) for step in caller.programme.steps] == before
    assert words(caller) == []


def test_a_scene_without_a_list_is_named_and_done_by_hand_or_lacking() -> None:
    """Another delay on other controllers: nothing stored works it, and it has a footswitch but no hand for levels."""
    library = small()
    other = library.units["delay"].model_dump()
    other["switches"]["main"]["message"]["controller"], other["switches"]["main"]["foot"] = 99, True
    library = Library.model_validate({**library.model_dump(), "units": {**library.units, "other": other}})
    caller = Caller(library, GIG, RIG)

    assert go(caller, Verb.PLAYED_BY, unit="delay", other="other") == ""

    steps = caller.programme.steps
    assert [pressed(step.lean) for step in steps] == [[], [], [], [], []]
    moves = [[(m.action, m.unit, m.after) for m in step.lean.by_hand if m.unit == "other"] for step in steps]
    assert moves[1] == [(Action.PRESS, "other", "on")]
    assert steps[2].lean.lacks == ("other hit does not fire: no list of the sender does it",)
    assert [text for text in words(caller) if text.startswith("The sender has no list of 'home', 'one: a', 'one: b'")]


def test_the_safe_state_is_pressed_where_its_list_is_stored() -> None:
    """The quiet house sound is; a state of the rig's own is stored as well."""
    library = small()
    assert pressed(programme_of(library, GIG, RIG).by_place[SAFE].full) == ["bank 1, switch 1"]


def test_a_sender_that_is_out_tonight_says_what_to_do() -> None:
    """Its lists are in it: nothing else has them."""
    caller = Caller(small(), GIG, RIG)

    assert go(caller, Verb.OUT, unit=HOLDER) == ""

    assert words(caller) == [
        "holder is not there, and nothing else has its lists: unless this computer serves 'front', "
        "say of what hears it that it is deaf, and hands work it"
    ]
    assert [m.port for m in caller.programme.steps[1].full.messages if m.port == "front"] != []
    assert go(caller, Verb.IN, unit=HOLDER) == ""
    assert words(caller) == []


def test_the_line_check_knows_what_a_press_sends() -> None:
    """The delay's trigger fires by a list; its port is touched by a press."""
    caller = Caller(small(), GIG, RIG)

    assert go(caller, Verb.CHECK) == ""

    checking = caller.parts.checking
    assert checking is not None
    touched = {(str(thing.kind), *thing[1:]) for check in checking.checks for thing in check.first}
    assert any("front" in thing for thing in touched)
    assert not any("front" in thing[1:] for thing in checking.untouched)
