"""Two laptops: the second follows silently, takes over in one act, and at no time do both send."""

from collections.abc import Iterator

import pytest

from scenebook.errors import AccessError, BadValueError, WebError
from scenebook.live.acts import Act, Verb
from scenebook.live.places import Part, Place
from scenebook.live.records import replayed
from scenebook.live.snapshot import Role
from scenebook.model import Library
from scenebook.web.follower import Following
from scenebook.web.keys import Right
from scenebook.web.link import Link
from tests.support.running import CHORUS, FIRST, SECOND, library_on_stage
from tests.web.laptops import copied, roles, step, take_over, words
from tests.web.support import House, held, house, until

Two = tuple[House, House]


@pytest.fixture
def first() -> Iterator[House]:
    with house() as made:
        made.serve()
        yield made


@pytest.fixture
def two(first: House) -> Iterator[Two]:
    with house(follows=first.address(Right.STEP)) as second:
        until(lambda: second.journal.kinds().count("opened") == 2)
        yield first, second


def other_home() -> Library:
    return library_on_stage(home={"multi": "1"})


def test_the_second_goes_where_the_first_goes_and_sends_nothing(two: Two) -> None:
    """It stands by, ready, and the rig hears one laptop."""
    first, second = two
    for _ in range(3):
        step(first)
    step(first, Verb.GO, place=Place(Part.SPARE, 0, 0))

    until(lambda: second.snapshot.step.place == Place(Part.SPARE, 0, 0))

    assert roles(first, second) == ["calling", "following"]
    assert second.snapshot.left == SECOND
    assert second.ports.sent == []
    assert second.snapshot.notices == ()


def test_it_catches_up_with_all_that_was_done_before(first: House) -> None:
    """The second laptop was carried in after the first song."""
    step(first)
    step(first, Verb.OUT, unit="delay")
    step(first, Verb.TEMPO, place=SECOND, text="96")
    step(first)

    with house(follows=first.address(Right.STEP)) as second:
        until(lambda: second.snapshot.step.place == CHORUS and second.snapshot.tonight == first.snapshot.tonight)

        assert second.snapshot.tonight.out == {"delay"}
        assert second.snapshot.programme == first.snapshot.programme


def test_a_follower_steps_nothing_by_itself(two: Two) -> None:
    """A foot on its pedal or a finger on its page changes nothing until it has taken over."""
    first, second = two

    refused = second.stand.ask(Act(Verb.NEXT)).refused

    assert "take over first" in refused
    assert first.snapshot.step.place.entry == -1


def test_its_own_journal_tells_the_whole_evening(two: Two) -> None:
    """It is restarted, or taken home for the log: nothing of the first is missing."""
    first, second = two
    step(first)
    step(first, Verb.OUT, unit="delay")
    until(lambda: second.snapshot.tonight.out and second.journal.kinds()[-1] == first.journal.kinds()[-1])

    standing = replayed(second.journal)

    assert standing is not None
    assert (standing.place, standing.tonight) == (FIRST, first.snapshot.tonight)
    assert copied(second, first) == list(first.journal)
    assert [record["kind"] for record in second.journal if not record.get("copied")][:1] == ["opened"]


def test_a_second_that_is_restarted_copies_nothing_twice(first: House) -> None:
    """Its log tells the evening once, and it stands where the first stands."""
    step(first)
    with house(follows=first.address(Right.STEP)) as before:
        until(lambda: before.snapshot.step.place == FIRST)
        until(lambda: before.journal.kinds()[-1] == "sent")
    step(first)

    with house(follows=first.address(Right.STEP), journal=before.journal) as after:
        until(lambda: after.snapshot.step.place == CHORUS)
        until(lambda: copied(after, first)[-1:] == first.journal[-1:])

        assert copied(after, first) == list(first.journal)


def test_one_act_takes_over(two: Two) -> None:
    """The first falls silent, the second calls from where they stood; the rig is sent to again by the next step."""
    first, second = two
    step(first)
    step(first)

    assert take_over(second) == ""

    assert roles(first, second) == ["following", "calling"]
    assert second.snapshot.step.place == CHORUS
    assert second.snapshot.offer
    assert second.ports.sent == []
    until(lambda: first.snapshot.sent.done)
    first.ports.sent.clear()
    step(second)
    until(lambda: second.ports.sent)
    assert second.snapshot.step.place == SECOND
    assert "take over first" in first.stand.ask(Act(Verb.NEXT)).refused
    assert first.ports.sent == []


def test_what_was_done_just_before_is_not_lost(first: House) -> None:
    """A unit was taken out and a step taken the moment before; compiling that takes a while."""
    with house(follows=first.address(Right.STEP)) as second:
        until(lambda: len(second.journal) >= 2)
        step(first)
        step(first, Verb.OUT, unit="delay")
        step(first)

        assert take_over(second) == ""

        assert (second.snapshot.step.place, second.snapshot.tonight.out) == (CHORUS, frozenset({"delay"}))


def test_taking_over_from_a_page_shows_on_every_screen_of_both(two: Two) -> None:
    """Whoever looks at either laptop sees which one calls."""
    first, second = two
    seen: list[str] = []
    stop = second.stand.watch(lambda snapshot: seen.append(str(snapshot.role)))

    second.stand.act(Act(Verb.TAKE, "touch"))

    until(lambda: roles(first, second) == ["following", "calling"])
    until(lambda: seen and seen[-1] == "calling")
    stop()
    state = first.client(Right.SEE).get("/api/state").json()
    assert state["role"] == "following"


def test_the_first_may_take_over_again(two: Two) -> None:
    """Its battery is in; the second hears of it, falls silent and goes where the first stands."""
    first, second = two
    step(first)
    take_over(second)
    step(second)
    step(second)

    assert take_over(first) == ""

    until(lambda: roles(first, second) == ["calling", "following"])
    until(lambda: second.snapshot.step.place == first.snapshot.step.place == FIRST)
    until(lambda: words(second, "take") == "The other stand has taken over again; this one follows")
    until(lambda: second.snapshot.sent.done)  # a step that is under way goes out to its end
    second.ports.sent.clear()
    step(first)
    until(lambda: second.snapshot.step.place == CHORUS)
    assert second.ports.sent == []
    assert take_over(second) == ""
    assert words(second, "take") == ""


def test_a_key_that_only_sees_follows_and_does_not_take_over(first: House) -> None:
    """Two laptops that call at once are worse than one that is far away; the sentence says what to do."""
    with house(follows=first.address(Right.SEE)) as second:
        step(first)
        until(lambda: second.snapshot.step.place == FIRST)

        refused = take_over(second)

        assert refused.startswith("The other stand cannot be made silent from here, so it has to be closed first.")
        assert "see the gig and not step it" in refused
        assert roles(first, second) == ["calling", "following"]
        step(first, Verb.YIELD)
        assert take_over(second) == ""
        assert roles(first, second) == ["following", "calling"]


def test_what_contradicts_a_newer_notice_of_the_other_goes(two: Two) -> None:
    """Who reads that the other calls, and that it does not answer, does not know what to do."""
    first, second = two
    take_over(second)
    take_over(first)
    until(lambda: "has taken over again" in words(second, "take"))
    assert first.serving is not None

    first.serving.close()

    until(lambda: words(second, "first") == "The other stand does not answer: to go on from here, take over")
    assert words(second, "take") == ""


# The first goes.


def test_a_first_that_was_closed_is_said_and_left(two: Two) -> None:
    """Somebody has shut its lid between two songs: the second says it, and takes over all the same."""
    first, second = two
    step(first)
    until(lambda: second.snapshot.step.place == FIRST)
    assert first.serving is not None
    first.engine.close()
    until(lambda: first.journal.kinds()[-1] == "closed")
    until(lambda: isinstance(second.stand, Following) and second.stand._is_closed)
    first.serving.close()
    assert "closed" not in second.journal.kinds()  # this laptop's own run goes on
    until(lambda: words(second, "first") == "The other stand has been closed: to go on from here, take over")

    assert take_over(second) == ""

    assert second.snapshot.role is Role.CALLING
    assert "did not answer: see that it is off" in words(second, "take")
    step(second)
    until(lambda: second.ports.sent)


def test_a_first_whose_network_was_away_is_told_when_it_is_back(two: Two) -> None:
    """It went on calling, and knew nothing."""
    first, second = two
    assert first.serving is not None
    port = first.serving.port
    first.serving.close()
    assert take_over(second) == ""
    assert roles(first, second) == ["calling", "calling"]
    assert "both may send" in words(second, "take")

    first.app.state.site.readers.is_closed = False
    first.serve(port)

    until(lambda: roles(first, second) == ["following", "calling"])
    until(lambda: words(second, "take") == "")


def test_a_pause_of_the_network_mends_itself(two: Two) -> None:
    """Nothing is missing afterwards, and nothing there twice."""
    first, second = two
    assert first.serving is not None
    port = first.serving.port
    first.serving.close()
    step(first)
    step(first)
    until(lambda: words(second, "first").startswith("The other stand does not answer"))

    first.serve(port)

    until(lambda: second.snapshot.step.place == CHORUS)
    until(lambda: words(second, "first") == "")
    until(lambda: copied(second, first) == list(first.journal))


# The two do not fit.


def test_libraries_that_differ_are_said_with_the_place(first: House) -> None:
    """It would send something else; better known before the gig than at the moment of taking over."""
    with house(other_home(), follows=first.address(Right.STEP)) as second:
        until(lambda: words(second, "libraries"))

        assert words(second, "libraries") == (
            "The two libraries differ, first at home: bring the same library to both laptops"
        )
        step(first)
        until(lambda: second.snapshot.step.place == FIRST)


def test_libraries_that_are_alike_are_not_said_to_differ_after_a_change(two: Two) -> None:
    """Both compile the same change."""
    first, second = two
    step(first, Verb.OUT, unit="delay")
    until(lambda: second.snapshot.tonight.out)
    assert isinstance(second.stand, Following)

    until(lambda: isinstance(second.stand, Following) and second.stand._is_compared)

    assert words(second, "libraries") == ""


def test_another_gig_or_rig_is_no_gig_to_follow(first: House) -> None:
    """One sentence at the start, with both names."""
    link = Link.opened(first.address(Right.STEP))
    state = {**link.state(), "gig": "another"}
    link.state = lambda: state  # type: ignore[method-assign]

    with pytest.raises(BadValueError, match="the other stand plays the gig 'another', and this one 'gig'"):
        Following(first.engine, link)


@pytest.mark.parametrize(
    ("address", "error", "sentence"),
    [
        ("", BadValueError, "'' is no address of a stand; accepted: http://ADDRESS:PORT/open/KEY."),
        ("http://127.0.0.1:8737/", BadValueError, "is no address of a stand"),
        ("https://127.0.0.1/open/x", BadValueError, "is no address of a stand"),
        ("http://127.0.0.1:99999/open/x", BadValueError, "is no address of a stand"),
        ("http://[::1/open/x", BadValueError, "is no address of a stand"),
        (" http://127.0.0.1:{port}/open/wrong\n", AccessError, "127.0.0.1:{port}: This key is wrong, or has been used"),
        ("http://127.0.0.1:{port}/open/a b", BadValueError, "is no address of a stand"),
        ("http://127.0.0.1:1/open/x", WebError, "127.0.0.1:1: the other stand does not answer: "),
    ],
)
def test_an_address_that_leads_to_no_stand_is_said(
    first: House, address: str, error: type[Exception], sentence: str
) -> None:
    """A typing slip in the dark: what was found, what is accepted."""
    assert first.serving is not None
    port = str(first.serving.port)

    with pytest.raises(error) as raised:
        Link.opened(address.replace("{port}", port))

    assert sentence.replace("{port}", port) in str(raised.value)


def test_a_program_that_is_no_stand_is_said_to_be_none() -> None:
    """Something answers at that port, or only listens."""
    with held() as port, pytest.raises(WebError, match="does not answer"):
        Link("127.0.0.1", port, "", seconds=0.1).state()
