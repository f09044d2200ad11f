"""The API of a running gig, asked as a page or a second laptop asks it."""

from collections.abc import Callable, Iterator
from typing import Any

import pytest

from scenebook.live.acts import Act, Verb
from scenebook.live.doors import aside
from scenebook.live.places import Part, Place
from scenebook.live.tonight import Tonight
from scenebook.web.digest import programme_digest
from scenebook.web.keys import Right
from scenebook.web.models import TonightBody
from tests.support.running import FIRST, library_on_stage
from tests.web.support import Browser, House, house, until

SECOND = {"part": "set", "entry": 1, "form": 0}


@pytest.fixture
def one() -> Iterator[House]:
    with house() as made:
        until(lambda: made.snapshot.ports[0].state == "there")
        yield made


@pytest.fixture
def browser(one: House) -> Browser:
    return one.client(Right.STEP)


def ask(browser: Browser, verb: str, **said: Any) -> dict[str, Any]:
    answer = browser.post("/api/act", json={"verb": verb, **said})
    assert answer.status_code == 200, answer.text
    body: dict[str, Any] = answer.json()
    return body


def test_the_state_says_where_the_gig_stands_and_what_comes(browser: Browser) -> None:
    """A second screen, or a program of the player's own, needs nothing else."""
    state = browser.get("/api/state").json()

    assert (state["gig"], state["rig"], state["role"], state["may"]) == ("gig", "rig", "calling", "step")
    assert state["cue"]["place"] == {"part": "set", "entry": -1, "form": 0}
    assert (state["ahead"]["song"], state["ahead"]["scene"], state["ahead"]["bars"]) == ("one", "verse", 8)
    assert state["ports"] == [{"port": "front", "midi": "box front", "state": "there", "words": ""}]
    assert (state["sent"]["form"], state["offer"]) == ("nothing", "The rig may stand anywhere: send again")


def test_a_step_answers_with_the_state_after_it(one: House, browser: Browser) -> None:
    """The page need not wait for its next update."""
    state = ask(browser, "next", by="key")

    assert (state["cue"]["song"], state["cue"]["scene"]) == ("one", "verse")
    assert (state["sent"]["form"], state["sent"]["by"], state["sent"]["full"]) == ("full", "key", ["front"])
    assert one.snapshot.step.place == FIRST
    until(lambda: one.ports.sent)


def test_a_jump_goes_to_a_place(one: House, browser: Browser) -> None:
    """The song that somebody in the hall has called for."""
    state = ask(browser, "go", place=SECOND)

    assert state["cue"]["place"] == SECOND
    assert one.journal[-1]["kind"] in ("step", "sent")


def test_what_is_different_tonight_is_asked_and_shown(browser: Browser) -> None:
    """The delay has died in the van; the second song is in another key, and slower."""
    ask(browser, "out", unit="delay")
    ask(browser, "key", place=SECOND, text="Eb")
    state = ask(browser, "tempo", place=SECOND, text="96")

    assert state["tonight"]["out"] == ["delay"]
    assert state["tonight"]["keys"] == [{"place": SECOND, "text": "Eb"}]
    assert state["tonight"]["tempos"] == [{"place": SECOND, "tempo": 96}]


def test_a_step_in_its_turn_is_told_from_a_jump(browser: Browser) -> None:
    """After a jump the cue's own moves by hand are not all that there is to do."""
    ask(browser, "next")
    assert ask(browser, "next")["in_turn"]
    assert not ask(browser, "go", place={**SECOND, "entry": 2})["in_turn"]


def test_a_line_check_says_what_to_listen_for_and_what_to_heed_first(browser: Browser) -> None:
    """A program of the player's own can read it out."""
    assert browser.get("/api/state").json()["checking"] is None

    begun = ask(browser, "line check")["checking"]
    cautions, touched = [begun["caution"]], []
    for _ in range(begun["count"]):
        now = ask(browser, "next")["checking"]
        cautions.append(now["caution"])
        touched += now["touches"]

    assert (begun["at"], begun["touches"]) == (-1, [])
    assert (now["at"], now["caution"]) == (begun["count"] - 1, "")
    assert len([each for each in cautions if "loudest" in each]) == 1
    assert begun["loudness"].startswith("assumed from how many")
    assert any(each.startswith("messages go out by: front") for each in touched)
    assert ask(browser, "next")["checking"] is None


def test_all_that_is_different_tonight_has_its_place() -> None:
    """Whatever `Tonight` learns to hold, the API has to say."""
    cut = frozenset({Place(Part.SPARE, 0, 1)})
    whole = Tonight(frozenset({"b", "a"}), {"a": "c"}, frozenset({"d"}), {FIRST: "E"}, {FIRST: 90.5}, cut)

    said = TonightBody.of(whole).model_dump(mode="json")

    assert said.keys() == {"out", "played_by", "deaf", "keys", "tempos", "cut"} == set(Tonight.__dataclass_fields__)
    assert all(said.values())
    assert said["out"] == ["a", "b"]


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ({"verb": "resume the set"}, "The set has not been left."),
        ({"verb": "back"}, "This is where the gig begins."),
        ({"verb": "go", "place": {"part": "spare song", "entry": 99, "form": 0}}, "The gig has no such cue."),
        ({"verb": "go", "place": {"part": "set", "entry": 99, "form": 0}}, "The gig has no such cue."),
        ({"verb": "go"}, "The gig has no such cue."),
        ({"verb": "take over"}, "This stand calls already."),
    ],
)
def test_what_the_gig_cannot_do_is_said_and_changes_nothing(
    one: House, browser: Browser, said: dict[str, Any], why: str
) -> None:
    """A sentence for the player, and the gig goes on as before."""
    before = one.snapshot.step

    answer = browser.post("/api/act", json=said)

    assert (answer.status_code, answer.json()) == (409, {"error": why})
    assert one.snapshot.step is before


def test_what_takes_long_is_said_to_be_not_done_yet(monkeypatch: pytest.MonkeyPatch) -> None:
    """A slow laptop works a change out for seconds, and may refuse it then: "done" would have been a lie."""
    monkeypatch.setattr("scenebook.web.api.PATIENCE_S", 0.05)
    waiting: list[Callable[[], None]] = []

    def work(call: Callable[[], None]) -> None:
        aside(call) if not is_slow else waiting.append(call)

    is_slow = False
    with house(work=work) as made:
        until(lambda: made.snapshot.ports[0].state == "there")
        is_slow = True
        browser = made.client(Right.STEP)

        answer = browser.post("/api/act", json={"verb": "out", "unit": "no such unit"})

        said = {"unfinished": "This is still being worked out; the page shows when it is done."}
        assert (answer.status_code, answer.json()) == (202, said)
        assert browser.get("/api/state").json()["refused"] == ""
        waiting.pop()()
        until(lambda: made.snapshot.refused)


@pytest.mark.parametrize(
    ("body", "where"),
    [
        (b"", "Body: "),
        (b"{", "Body, "),
        (b"\xff\xfe", "Body, 0: "),
        (b"[" * 16_000, "The request could not be read"),
        (b'{"verb": ' + b"9" * 5_000 + b"}", "The request could not be read"),
        (b"null", "Body: "),
        (b"[]", "Body: "),
        (b"{}", "Body, verb: "),
        (b'{"verb": "fly"}', "Body, verb: "),
        (b'{"verb": "NEXT"}', "Body, verb: "),
        (b'{"verb": 1e999}', "Body, verb: "),
        (b'{"verb": "next", "more": 1}', "Body, more: "),
        (b'{"verb": "go", "place": {"part": "set", "entry": "1", "form": 0}}', "Body, place, entry: "),
        (b'{"verb": "go", "place": {"part": "set", "entry": 1e300, "form": 0}}', "Body, place, entry: "),
        (b'{"verb": "go", "place": {"part": "set", "entry": -2, "form": 0}}', "Body, place, entry: "),
        (b'{"verb": "go", "place": {"part": "set", "entry": true, "form": 0}}', "Body, place, entry: "),
        (b'{"verb": "out", "unit": "\\ud800"}', "Body, unit: "),
        (b'{"verb": "out", "unit": "a\\nb"}', "Body, unit: "),
        (b'{"verb": "key", "text": "' + b"x" * 201 + b'"}', "Body, text: "),
        (b'{"verb": "next", "\\ud800": 1}', "Body: "),
    ],
)
def test_a_request_that_is_not_understood_is_said_to_be(one: House, browser: Browser, body: bytes, where: str) -> None:
    """Whatever a page or a program sends: where, and what is accepted."""
    answer = browser.post("/api/act", content=body, headers={"content-type": "application/json"})

    assert answer.status_code in (400, 422)
    assert answer.json()["error"].startswith(where)
    assert one.snapshot.step.place.entry == -1


def test_the_programme_names_every_cue_once(one: House, browser: Browser) -> None:
    """What a page needs to jump by number, and a second laptop to compare."""
    said = browser.get("/api/programme").json()

    cues = [*said["steps"], *(cue for spare in said["spares"] for cue in spare), *said["house"], said["safe"]]
    assert [cue["number"] for cue in said["steps"]] == list(range(7))
    places = [tuple(cue["place"].values()) for cue in cues]
    assert len(set(places)) == len(places) == len(one.snapshot.programme.by_place)
    assert [cue["song"] for cue in said["steps"]][1::2] == ["one", "two", "three"]


def test_the_digest_tells_libraries_apart() -> None:
    """A song that was changed on one laptop alone would sound otherwise after a change of laptops."""
    with house() as one, house() as same, house(library_on_stage(home={"multi": "1"})) as other:
        digests = [programme_digest(each.snapshot.programme) for each in (one, same, other)]

    assert digests[0] == digests[1] != digests[2]


def test_records_are_read_in_pieces_and_each_once(one: House, browser: Browser) -> None:
    """A second laptop that lost the network for a song goes on where it was."""
    for _ in range(3):
        ask(browser, "next")
    until(lambda: one.journal.kinds()[-1] == "sent")
    found: list[Any] = []
    after = 0
    while True:
        answer = browser.get(f"/api/records?after={after}&count=2").json()
        found += answer["records"]
        if answer["next"] == after:
            break
        after = answer["next"]

    assert [each["kind"] for each in found] == one.journal.kinds()
    assert [each["song"] for each in found if each["kind"] == "step"] == ["one", "one", "two"]


@pytest.mark.parametrize("query", ["after=-1", "after=x", "count=0", "count=100000", "after=99999999999999999999"])
def test_a_cursor_that_cannot_be_is_refused(browser: Browser, query: str) -> None:
    """By its name and what is accepted."""
    answer = browser.get(f"/api/records?{query}")

    assert (answer.status_code, answer.json()["error"].startswith(f"Query, {query.split('=')[0]}: ")) == (422, True)


def test_a_cursor_beyond_the_end_gives_nothing(browser: Browser) -> None:
    """Another evening's journal; nothing breaks."""
    assert browser.get("/api/records?after=1000000").json()["records"] == []


def test_the_description_names_every_route_its_cookie_and_its_refusals(one: House, browser: Browser) -> None:
    """Whoever writes a program for the stand needs nothing but this."""
    said = browser.get("/openapi.json").json()

    schemes = said["components"]["securitySchemes"]
    assert [(each["in"], each["name"]) for each in schemes.values()] == [("cookie", one.keys.cookie)]
    for path, methods in said["paths"].items():
        for each in methods.values():
            assert each["description"], path
            assert each["security"], path
            assert "401" in each["responses"], path
    assert "HTTPValidationError" not in said["components"]["schemas"]


def test_an_act_of_the_gig_itself_shows_in_the_next_answer(one: House, browser: Browser) -> None:
    """A footswitch and a page have one position."""
    one.engine.ask(Act(Verb.NEXT, "footswitch"))

    assert browser.get("/api/state").json()["sent"]["by"] == "footswitch"
