"""What the pages say, from snapshots of a gig that runs: what was sent, what hands do, what comes, what was written."""

import pytest

from scenebook.live.acts import Verb
from scenebook.live.places import HOME, SAFE, Part, Place
from scenebook.live.record_words import record_words
from scenebook.live.records import closed
from scenebook.live.snapshot import Snapshot
from scenebook.model import Library
from scenebook.model.on_stage import Wire
from scenebook.web.known import Known, letter, set_words
from scenebook.web.log_words import log_lines
from scenebook.web.over import go_sheet, tonight_sheet
from scenebook.web.pages import document, page_html, refusal, tech_html
from scenebook.web.player import PlayerPage, player_page
from scenebook.web.running_order import running_order
from scenebook.web.strip import strip_of
from tests.support.build import GIG, RIG
from tests.support.running import CHORUS, FIRST, Running, begun, gig, library_on_stage
from tests.web.evening import evening


def said(snapshot: Snapshot) -> PlayerPage:
    return player_page(snapshot)


def by_hand() -> Running:
    """Return a gig whose fuzz is pressed by foot and whose multi-effects gets its messages."""
    whole = library_on_stage().model_dump(mode="json", exclude_unset=True)
    del whole["rigs"][RIG]["units"]["fuzz"]
    whole["units"]["fuzz"] = {"switches": {"main": {"foot": True}}}
    return Running(Library.model_validate(whole))


@pytest.mark.parametrize(("form", "mark"), [(0, "A"), (25, "Z"), (26, "AA"), (53, "BBB")])
def test_parts_have_rehearsal_marks(form: int, mark: str) -> None:
    """Letters, doubled after the alphabet, as they stand in printed parts."""
    assert letter(form) == mark


def test_at_a_start_nothing_was_sent_and_everything_is_to_be_checked() -> None:
    """The rig may stand anywhere: the page says that first, and aloud as well."""
    page = said(gig().snapshot)

    assert (page.title, page.name, page.cue) == ("Before the first song", "home", 0)
    assert (page.sent_title, page.sent, page.groups) == ("Nothing was sent yet", (), ())
    assert page.spoken.startswith("The rig may stand anywhere: send again. Before the first song, home, cue 0.")


def test_what_changes_is_what_was_sent_with_by_what_and_when() -> None:
    """A 5-pin lead gives no answer: the page says sent, and to which unit."""
    running = begun(gig())

    running.act(Verb.NEXT, by="footswitch")
    under_way = said(running.snapshot)
    running.run(1)
    page = said(running.snapshot)

    assert under_way.sent_title.startswith("Going out · by footswitch · ")
    assert page.sent_title.startswith("Sent · by footswitch · ")
    assert [(each.unit, each.words) for each in page.sent] == [
        ("multi", "mix 80"),
        ("fuzz", "on"),
        ("delay", "on"),
        ("sampler", "hit"),
    ]
    assert [each.unit for each in page.heard] == ["fuzz", "multi", "delay"]


def test_after_a_jump_the_page_tells_what_to_check_and_no_press() -> None:
    """A press that a cue lists is a press from the cue before: after a jump it might turn off what is on."""
    running = begun(by_hand())
    in_turn = said(running.act(Verb.NEXT))
    running.act(Verb.NEXT)
    running.act(Verb.GO, place=CHORUS)
    running.run(1)
    jumped = said(running.snapshot)

    assert [do.words for group in in_turn.groups for do in group.dos] == ["press fuzz: on"]
    assert [group.moment for group in in_turn.groups] == ["Now"]
    assert in_turn.checks == ()
    assert jumped.groups == ()
    assert [do.words for do in jumped.checks] == ["fuzz: on"]
    assert jumped.check_title == "Check: it must stand so"
    assert jumped.sent_title.startswith("Sent, everything to front · by key · ")


def test_what_comes_next_is_told_with_its_own_presses() -> None:
    """Who looks up in the last bar sees the next part, and what it asks of a foot."""
    page = said(begun(by_hand()).snapshot)

    coming = page.coming
    assert coming is not None
    assert (coming.mark, coming.name, coming.song, coming.bars) == ("B", "chorus", "", "8 bars")
    assert [(group.moment, [do.words for do in group.dos]) for group in coming.groups] == [
        ("At the cue", ["press fuzz: on"])
    ]


def test_the_next_song_is_told_with_its_number_and_tempo() -> None:
    """Between songs there is more to know than a letter."""
    running = begun(gig())
    coming = said(running.act(Verb.NEXT)).coming

    assert coming is not None
    assert (coming.number, coming.song, coming.mark, coming.facts) == ("2", "two", "A", ("♩ 120",))


def test_while_a_port_is_gone_its_units_whole_state_is_to_be_made_by_hand() -> None:
    """Two missed cues and a jump later, what changes would bring about a wrong sound; the whole state never does."""
    running = begun(gig())
    running.ports.pull("box front")
    running.turns(3)
    missed = said(running.act(Verb.NEXT))
    running.act(Verb.NEXT)
    jumped = said(running.act(Verb.GO, place=CHORUS))

    for page in (missed, jumped):
        assert [(group.moment, [do.words for do in group.dos]) for group in page.away] == [
            (
                "By hand, front is gone: it must stand so",
                ["recall 1 on multi: mix 80", "fuzz: on", "delay: on", "sampler: hit, once"],
            )
        ]
        assert page.sent_title == "Not sent: front is gone"
        assert "By hand, front is gone: it must stand so: recall 1 on multi: mix 80; fuzz: on" in page.spoken
    assert [(port.words, port.asks_care) for port in missed.ports] == [("GONE, work by hand", True)]
    running.ports.plug("box front")
    assert said(running.turns(3)).away == ()


def test_without_a_midi_port_everything_is_the_players_work() -> None:
    """A rehearsal without the cable: every cue says how what it would set must stand, and nothing was sent."""
    running = Running(library_on_stage(wires={}), wires={})
    begins = said(running.snapshot)
    page = said(running.act(Verb.NEXT))

    assert begins.sent_title == "Nothing was sent yet"
    assert page.sent_title == "Not sent: no MIDI port for front"
    assert [group.moment for group in page.away] == ["By hand, nothing reaches front: it must stand so"]
    assert "recall 1 on multi: mix 50" in [do.words for do in page.away[0].dos]
    assert "lost" in running.journal[-1]
    assert record_words(running.journal[-1]) == "next by key: one, verse; not sent, front is gone"


def test_a_switch_that_messages_only_flip_is_part_of_the_state_to_make_by_hand() -> None:
    """No list sets it, so it is told from the scene; after a jump the check list says it already."""
    whole = library_on_stage().model_dump(mode="json", exclude_unset=True)
    whole["units"]["fuzz"] = {"switches": {"main": {"toggle": {"controller": 80}}}}
    running = begun(Running(Library.model_validate(whole)))
    running.ports.pull("box front")
    running.turns(3)
    page = said(running.act(Verb.NEXT))
    jumped = said(running.act(Verb.GO, place=CHORUS) and running.act(Verb.AGAIN))

    assert "fuzz: on" in [do.words for do in page.away[0].dos]
    assert "fuzz: on" not in [do.words for do in jumped.away[0].dos]
    assert "fuzz: on" in [do.words for do in jumped.checks]


def test_where_all_of_it_will_be_sent_no_press_is_told_beforehand() -> None:
    """From the safe state a press that turns something off might turn it on."""
    running = begun(by_hand())
    safe = said(running.act(Verb.SAFE)).coming
    back = said(running.act(Verb.RESUME)).coming

    assert safe is not None
    assert back is not None
    assert (safe.groups, safe.late) == ((), "")
    assert safe.whole.startswith("All of it is sent then")
    assert [do.words for group in back.groups for do in group.dos] == ["press fuzz: on"]
    assert back.whole == ""
    assert safe.whole in page_html(running.act(Verb.SAFE), True)


def test_only_ports_that_got_something_are_told_of() -> None:
    """A port on which the cue has nothing got nothing, whether all was sent or not."""
    whole = library_on_stage().model_dump(mode="json", exclude_unset=True)
    rig = whole["rigs"][RIG]
    whole["units"]["wash"] = {"switches": {}, "triggers": {"swell": {"note": 61}}}
    rig["chain"].append("wash")
    rig["units"]["wash"] = {"port": "second", "channel": 9}
    wires = {name: Wire(midi=f"box {name}", plug="usb") for name in ("front", "second")}
    running = Running(Library.model_validate(whole), wires=wires)
    running.act(Verb.NEXT)
    running.run(1)

    assert [port.words for port in said(running.snapshot).ports] == ["there", "there"]
    assert said(running.snapshot).sent_title.startswith("Sent, everything to front · by key · ")


def test_the_safe_state_says_where_the_set_was_left() -> None:
    """Out of trouble and back: the place is not lost."""
    page = said(begun(gig()).act(Verb.SAFE))

    assert (page.title, page.name, page.is_safe, page.cue) == ("Safe", "the quiet state", True, None)
    assert page.resume == "1 one A"


def test_a_line_check_says_how_far_it_is_and_what_to_listen_for() -> None:
    """Whoever stands at the desk hears what is called out, one cue after the other."""
    running = begun(gig())
    begins = said(running.act(Verb.CHECK)).check
    first = said(running.act(Verb.NEXT)).check

    assert begins is not None
    assert begins.title == "Line check of 1 cue: next begins it"
    assert first is not None
    assert first.title == "Line check, 1 of 1: next ends it"
    assert any(words.startswith("sounds: ") for words in first.touches)


def test_a_cut_part_stays_in_the_strip_struck_out() -> None:
    """What is not played is seen as not played, not missed."""
    running = begun(gig())
    running.act(Verb.CUT, place=CHORUS)
    strip = strip_of(Known.of(running.snapshot), FIRST)

    assert [(part.mark, part.bars, part.is_now, part.is_cut) for part in strip.stretches] == [
        ("A", 8, True, False),
        ("B", 8, False, True),
    ]
    assert strip.stretches[1].words == "B, chorus, 8 bars, cut tonight"


def test_a_spare_song_and_home_have_no_place_in_the_sets() -> None:
    """A spare song has a number of its own; home has no form at all."""
    running = begun(gig())
    known = Known.of(running.act(Verb.GO, place=Place(Part.SPARE, 0, 0)))

    assert (known.number(Place(Part.SPARE, 0, 0)), known.where(Place(Part.SPARE, 0, 0))) == ("S1", "spare song")
    assert strip_of(known, HOME).stretches == ()
    assert strip_of(known, SAFE).stretches == ()


def test_everywhere_to_go_is_on_one_sheet() -> None:
    """Sets, spare songs, the parts of this song, home: each says whether it stands."""
    sheet = go_sheet(begun(gig()).snapshot)

    assert [(rows.title, [each.name for each in rows.choices]) for rows in sheet.sets] == [
        ("first", ["one", "two"]),
        ("second", ["three"]),
    ]
    assert [rows.title for rows in sheet.others] == ["Spare songs", "Home"]
    assert [(each.number, each.is_now) for each in sheet.parts.choices] == [("A", True), ("B", False)]


def test_a_spare_song_is_not_called_by_the_letter_that_means_safe() -> None:
    """S1 on paper; on the page S is a key, and would be pressed."""
    running = begun(gig())
    sheet = go_sheet(running.act(Verb.GO, place=Place(Part.SPARE, 0, 0)))

    assert [each.number for each in sheet.others[0].choices] == ["spare 1"]
    assert said(running.snapshot).number == "spare 1"
    assert [song.number for song in tonight_sheet(running.snapshot).songs][-1] == "spare 1"


@pytest.mark.parametrize(
    ("name", "words"),
    [("first", "first set"), ("set 1", "set 1"), ("the late set", "the late set"), ("sunset", "sunset set")],
)
def test_a_set_is_called_a_set_once(name: str, words: str) -> None:
    """A set without a name is called by its number."""
    assert set_words(name) == words


def test_before_the_second_touch_it_is_said_what_is_deaf_with_a_unit() -> None:
    """What hears through its thru goes with it, and comes back with it in one act."""
    with evening() as house:
        before = {unit.unit: unit for unit in tonight_sheet(house.snapshot).units}
        assert before["multi-effects, large"].going_deaf == "multi-effects, large; delay, tape voiced"

        house.act(Verb.DEAF, unit="multi-effects, large")
        after = {unit.unit: unit for unit in tonight_sheet(house.snapshot).units}
        assert after["multi-effects, large"].hearing_again == "multi-effects, large; delay, tape voiced"
        assert after["delay, tape voiced"].hearing_again == "delay, tape voiced"

        assert not house.act(Verb.HEARS, unit="multi-effects, large").tonight.deaf


def test_why_a_press_is_not_learned_stands_in_the_open_sheet() -> None:
    """Whoever teaches a footswitch looks at the sheet over the page, and not at what is under it."""
    running = gig(steps=[{"does": "next", "channel": 16, "note": 60}])
    running.act(Verb.LEARN, text="back")
    running.press("9F 3C 64")

    sheet = page_html(running.snapshot, True).partition('<dialog id="tonight"')[2]

    assert "Not done: steps: note 60 on channel 16 would do two things" in sheet


def test_tonight_says_what_is_different() -> None:
    """A unit that is out is called out, and the song has tonight's tempo."""
    running = begun(gig())
    running.act(Verb.OUT, unit="fuzz")
    running.act(Verb.DEAF, unit="delay")
    sheet = tonight_sheet(running.act(Verb.TEMPO, place=FIRST, text="104"))

    assert [(unit.unit, unit.state) for unit in sheet.units if unit.state] == [("fuzz", "out"), ("delay", "deaf")]
    assert [(song.name, song.tempo) for song in sheet.songs][:2] == [("one", "104"), ("two", "120")]


def test_the_running_order_marks_what_stands_and_what_is_next() -> None:
    """A tech follows by songs, not by cues."""
    running = begun(gig())
    order = running_order(running.act(Verb.NEXT))

    marked = [(line.number, line.is_now, line.is_next) for part in order for line in part.lines]
    assert marked == [("1", True, False), ("2", False, True), ("3", False, False), ("S1", False, False)]
    assert [part.title for part in order] == ["first set", "second set", "spare songs"]


def test_the_log_is_told_newest_first_and_what_is_torn_is_left_out() -> None:
    """What was sent, when, by which trigger, to which port."""
    running = begun(gig())
    running.act(Verb.NEXT, by="footswitch")
    running.run(1)
    many = {"kind": "sent", "at": 1, "port": "front", "bytes": [f"C0 {n:02X}" for n in range(14)]}
    running.act(Verb.CHECK, by="key")

    lines = log_lines([many, *running.journal, {"kind": "sent"}, {"kind": "of a newer program", "at": 1}])

    said = [line.words for line in lines]
    assert said[0].startswith("line check by key: ")
    assert said[1] == "sent, front: B1 14 66, B0 50 7F, B2 52 7F, 93 3C 64, 83 3C 40"
    assert "next by footswitch: one, chorus; lean to front" in said
    assert said[-1].endswith("C0 0A, C0 0B and 2 more")


def test_the_log_and_the_evening_that_is_told_afterwards_have_the_same_words() -> None:
    """Who compares them looks at one thing."""
    running = begun(gig())
    copied = [{**record, "copied": True} for record in gig().journal]
    records = [*running.journal, closed("", 2.0), *copied, *gig().journal, *gig().journal]

    said = [line.words for line in log_lines(records)][::-1]

    begins = [words for words in said if "begun" in words]
    assert begins.pop(1) == "the other stand: begun on rig (calling)"
    assert begins == ["begun on rig (calling)", "begun on rig (calling)", "begun again: it had been cut off (calling)"]
    assert said[1:4] == [record_words(record) for record in running.journal[1:4]]


def test_what_a_player_wrote_is_never_markup() -> None:
    """A song may be called anything."""
    whole = library_on_stage().model_dump(mode="json", exclude_unset=True)
    whole["songs"]["<b>one & only</b>"] = whole["songs"].pop("one")
    whole["gigs"][GIG]["sets"][0]["songs"][0] = "<b>one & only</b>"
    running = begun(Running(Library.model_validate(whole)))

    for inner in (page_html(running.snapshot, True), tech_html(running.snapshot, False, running.journal)):
        assert "<b>one" not in inner
        assert "&lt;b&gt;one &amp; only&lt;/b&gt;" in inner
    assert "<script>" not in refusal("<script>")


def test_only_a_page_that_may_step_has_what_steps() -> None:
    """Who looks on is sent no button at all; the frame says which of the two it is."""
    snapshot = begun(gig()).snapshot

    assert "data-verb" in page_html(snapshot, True)
    assert "data-verb" not in page_html(snapshot, False)
    assert 'data-may="see"' in document("player", "", can_step=False, version=1)
    assert "style=" not in page_html(snapshot, True)  # the policy forbids it
