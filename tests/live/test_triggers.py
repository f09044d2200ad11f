"""A press steps once, an echo never; songs are called by absolute addresses, and one message means one thing."""

from itertools import count

import pytest

from scenebook.errors import BadValueError
from scenebook.live.acts import Act, Verb
from scenebook.live.places import HOME, SAFE, Part, Place
from scenebook.live.snapshot import Learned
from scenebook.live.triggers import Echoes, Triggers, is_press, numbered, trigger_of
from scenebook.model import Gig, GigSet, SetEntry, Song
from scenebook.model.on_stage import Playback, StepTrigger

NOTE = StepTrigger(does="next", channel=1, note=60)
FIRST = Place(Part.SET, 0, 0)
SECOND = Place(Part.SET, 1, 0)


def asked(triggers: Triggers, *messages: str, every_ms: float = 1_000, listens: str = "pedal", at: Place = HOME) -> str:
    """Return what each message asks for, in one line; each comes so many milliseconds after the one before."""
    moments = (int(n * every_ms * 1_000) for n in count())
    acts = [triggers.act(listens, bytes.fromhex(data), next(moments), at) for data in messages]
    return " ".join(act.verb.name if act else "-" for act in acts)


def test_a_note_steps_when_it_is_pressed_and_not_when_it_is_let_go() -> None:
    """A note off, and a note on with velocity 0, are the foot going up."""
    assert asked(Triggers([NOTE]), "90 3C 64", "80 3C 40", "90 3C 64", "90 3C 00") == "NEXT - NEXT -"


def test_the_act_says_by_what_it_was_asked() -> None:
    """The log of the evening tells a press from a page."""
    act = Triggers([NOTE]).act("pedal", bytes.fromhex("90 3C 64"), 0, HOME)

    assert act == Act(Verb.NEXT, "footswitch note 60 on, velocity 100, channel 1")


def test_other_channels_notes_and_kinds_step_nothing() -> None:
    """The keyboard of the singer hangs on the same lead."""
    assert asked(Triggers([NOTE]), "91 3C 64", "90 3D 64", "B0 3C 7F", "C0 3C", "F8", "F0 7D 3C F7") == "- - - - - -"


def test_a_press_that_bounces_steps_once() -> None:
    """Contacts chatter for some milliseconds; a foot needs more than 80."""
    assert asked(Triggers([NOTE]), *["90 3C 64"] * 6, every_ms=20) == "NEXT - - - NEXT -"


def test_the_same_press_by_two_ports_steps_once() -> None:
    """A merger and a direct lead both carry it."""
    triggers = Triggers([NOTE])

    assert triggers.act("pedal", bytes.fromhex("90 3C 64"), 0, HOME)
    assert triggers.act("merger", bytes.fromhex("90 3C 64"), 3_000, HOME) is None


def test_a_controller_steps_where_it_rises_to_64_and_once_on_its_way_up() -> None:
    """An expression pedal sends every value that it passes."""
    pedal = Triggers([StepTrigger(does="back", channel=2, controller=64)])

    assert asked(pedal, "B1 40 00", "B1 40 3F", "B1 40 40", "B1 40 50", "B1 40 7F", "B1 40 00", "B1 40 7F") == (
        "- - BACK - - - BACK"
    )


def test_a_footswitch_that_sends_only_its_on_value_steps_each_time() -> None:
    """Some send 127 with every press and nothing when they are let go."""
    assert asked(Triggers([StepTrigger(does="next", channel=1, controller=80)]), "B0 50 7F", "B0 50 7F") == "NEXT NEXT"


def test_a_latching_footswitch_steps_at_every_change() -> None:
    """It sends 127 and 0 in turn, one a press."""
    latching = Triggers([StepTrigger(does="next", channel=1, controller=80, latching=True)])

    assert asked(latching, "B0 50 7F", "B0 50 00", "B0 50 00", "B0 50 7F") == "NEXT NEXT - NEXT"


def test_programs_and_song_select_step_too() -> None:
    """Whatever the floor controller can send is good enough."""
    steps = [StepTrigger(does="safe", channel=16, program=127), StepTrigger(does="resume the set", song=9)]

    assert asked(Triggers(steps), "CF 7F", "F3 09", "CF 7E", "F3 08") == "SAFE RESUME - -"


def test_a_trigger_that_names_its_port_hears_no_other() -> None:
    """Names may be shortened, as everywhere."""
    mine = StepTrigger(does="next", listens="Foot", channel=1, note=60)

    assert asked(Triggers([mine]), "90 3C 64", listens="foot controller:out") == "NEXT"
    assert asked(Triggers([mine]), "90 3C 64", listens="keys") == "-"
    assert Triggers([mine]).listens == ("foot",)
    assert Triggers([mine, StepTrigger(does="back", channel=1, note=61)]).listens == ("",)


@pytest.mark.parametrize(
    ("one", "other", "said"),
    [
        ({"note": 60}, {"note": 60}, "note 60 on channel 1"),
        ({"program": 4, "listens": "foot"}, {"program": 4}, "program 4 on channel 1"),
        ({"controller": 9, "listens": "FOOT controller"}, {"controller": 9, "listens": "foot"}, "controller 9"),
    ],
)
def test_one_message_that_would_do_two_things_is_an_error(
    one: dict[str, int | str], other: dict[str, int | str], said: str
) -> None:
    """Found when the gig starts and not at the first press."""
    steps = [StepTrigger(does="next", channel=1, **one), StepTrigger(does="back", channel=1, **other)]

    with pytest.raises(BadValueError, match=f"{said}.* would do two things: 'back' and 'next'"):
        Triggers(steps)


@pytest.mark.parametrize(
    ("step", "playback"),
    [
        (StepTrigger(does="next", channel=16, program=4), Playback(channel=16)),
        (StepTrigger(does="next", song=4), Playback(song_select=True)),
        (StepTrigger(does="next", channel=16, controller=20), Playback(channel=16, part_controller=20)),
    ],
)
def test_a_footswitch_may_not_send_what_calls_a_song(step: StepTrigger, playback: Playback) -> None:
    """The press would jump across the evening."""
    with pytest.raises(BadValueError, match="the playback rig's calling of songs"):
        Triggers([step], playback)


def test_two_messages_on_two_ports_are_two_messages() -> None:
    """Two equal footswitches, each on a lead of its own."""
    steps = [
        StepTrigger(does="next", listens="left", channel=1, note=60),
        StepTrigger(does="back", listens="right", channel=1, note=60),
    ]

    assert asked(Triggers(steps), "90 3C 64", listens="right foot") == "BACK"


def test_songs_are_called_by_their_own_number_else_by_their_place() -> None:
    """A playback rig counts from 0; a song that has a number of its own keeps it wherever it is played."""
    songs = {"a": Song(), "b": Song(number=7), "c": Song(), "d": Song(number=7), "e": Song(number=2)}
    entries = tuple(SetEntry(song=name) for name in "abcd")
    gig = Gig(sets=(GigSet(name="one", songs=entries),), spares=(SetEntry(song="e"),))

    assert numbered(gig, songs) == {
        0: Place(Part.SET, 0, 0),
        7: Place(Part.SET, 1, 0),  # not d: the earlier song has it
        2: Place(Part.SPARE, 0, 0),  # its own number wins over c's place
    }


PLAYBACK = Triggers([], Playback(channel=16, song_select=True, part_controller=20), {0: FIRST, 1: SECOND})


@pytest.mark.parametrize(
    ("data", "at", "aim"),
    [
        ("CF 01", HOME, SECOND),
        ("CF 01", Place(Part.SET, 1, 4), None),  # it stands in that song already
        ("CF 01", FIRST, SECOND),
        ("CF 05", HOME, None),  # no such song
        ("C0 01", HOME, None),  # another channel
        ("F3 00", SECOND, FIRST),
        ("BF 14 03", SECOND, Place(Part.SET, 1, 3)),
        ("BF 14 00", SECOND, None),
        ("BF 14 03", HOME, None),  # home has no parts
        ("BF 14 03", Place(Part.SPARE, 0, 0), Place(Part.SPARE, 0, 3)),
        ("BF 14 03", Place(Part.HOUSE, 0, 0), None),  # nor do the others
        ("BF 14 03", SAFE, None),
        ("BF 15 03", SECOND, None),
    ],
)
def test_a_playback_rig_reaches_a_song_and_a_part_of_it(data: str, at: Place, aim: Place | None) -> None:
    """An address is absolute: received twice it does nothing."""
    act = PLAYBACK.act("player", bytes.fromhex(data), 0, at)

    assert (act.place if act else None) == aim
    assert act is None or (act.verb, act.by.split()[0]) == (Verb.GO, "playback")


def test_a_playback_rig_on_its_own_port_is_not_answered_from_another() -> None:
    """A program change of somebody's keyboard calls no song."""
    triggers = Triggers([], Playback(listens="player", channel=16), {0: FIRST})

    assert asked(triggers, "CF 00", listens="keys") == "-"
    assert triggers.listens == ("player",)


def test_without_a_playback_rig_programs_call_nothing() -> None:
    """The usual rig has none."""
    assert asked(Triggers([NOTE]), "CF 00", "F3 00") == "- -"


def test_a_message_is_learned_by_pressing_it() -> None:
    """The player presses; the rig says nothing of it beforehand."""
    triggers = Triggers([NOTE])
    triggers.learn(Learned("foot", bytes.fromhex("B2 15 7F"), "back"))

    assert asked(triggers, "B2 15 7F", "90 3C 64", listens="foot") == "BACK NEXT"


def test_what_is_learned_anew_takes_the_place_of_what_was_learned() -> None:
    """Pressed by mistake for the wrong step: press again for the right one."""
    triggers = Triggers([])
    triggers.learn(Learned("foot", bytes.fromhex("C2 15"), "back"))
    triggers.learn(Learned("foot", bytes.fromhex("C2 15"), "next"))

    assert asked(triggers, "C2 15", listens="foot") == "NEXT"


def test_what_the_rig_says_is_not_learned_over() -> None:
    """The rig's own footswitch would no longer do what the rig says, and the player would not know why."""
    triggers = Triggers([NOTE])

    with pytest.raises(BadValueError, match="would do two things: 'back' and 'next'"):
        triggers.learn(Learned("pedal", bytes.fromhex("90 3C 64"), "back"))
    assert asked(triggers, "90 3C 64") == "NEXT"


def test_what_a_press_does_already_is_learned_without_a_change() -> None:
    """The player makes sure, and is not told of a fault."""
    triggers = Triggers([NOTE])

    assert not triggers.learn(Learned("pedal", bytes.fromhex("90 3C 64"), "next"))
    assert triggers.learn(Learned("pedal", bytes.fromhex("C2 15"), "back"))
    assert not triggers.learn(Learned("pedal", bytes.fromhex("C2 15"), "back"))
    assert asked(triggers, "90 3C 64", "C2 15") == "NEXT BACK"


def test_a_step_that_is_written_twice_is_not_two_things() -> None:
    """The same line stands in the rig's file again, copied."""
    with pytest.raises(BadValueError, match="does 'next' twice"):
        Triggers([NOTE, NOTE])


@pytest.mark.parametrize("data", ["80 3C 40", "90 3C 00", "B0 40 00", "F8", "E0 00 40", "F2 00 00"])
def test_what_cannot_step_is_not_learned(data: str) -> None:
    """The foot going up, clock and wheels are no presses."""
    assert not is_press(bytes.fromhex(data))
    with pytest.raises(BadValueError, match="cannot step the gig"):
        trigger_of(Learned("pedal", bytes.fromhex(data), "next"))


def test_what_was_sent_a_moment_ago_is_an_echo() -> None:
    """A thru carries our own messages back; a press of the same message later is a press."""
    echoes = Echoes()
    echoes.sent(b"\xc0\x05", 1_000_000)

    assert echoes.is_echo(b"\xc0\x05", 1_001_000)
    assert not echoes.is_echo(b"\xc0\x06", 1_001_000)
    assert not echoes.is_echo(b"\xc0\x05", 1_250_000)


def test_the_memory_for_echoes_does_not_grow_with_the_evening() -> None:
    """Every message of a long gig is sent once; what is old is let go of."""
    echoes = Echoes()
    for number in range(20_000):
        echoes.sent(number.to_bytes(3, "big"), number * 1_000)

    assert len(echoes._sent) <= 512
