"""A second laptop whose first is killed, dead from the beginning, or says what nobody can read."""

import threading
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import pytest

from scenebook.errors import AccessError, WebError
from scenebook.live.acts import Act, Verb
from scenebook.live.snapshot import Role
from scenebook.web.follower import Following
from scenebook.web.link import Link
from tests.support.running import CHORUS, FIRST
from tests.web.laptops import key_of, laptop, step, take_over, words
from tests.web.support import Written, house, until


def test_a_first_that_is_killed_is_taken_over_and_made_silent_when_it_is_back(tmp_path: Path) -> None:
    """SIGKILL in the middle of a song; then somebody starts it again, and it would call as well."""
    with laptop(tmp_path) as (process, address), house(follows=address) as second:
        remote = Link.opened(address.replace(address.rsplit("/", 1)[1], key_of(second, tmp_path)))
        for _ in range(2):
            assert remote.act("next", "test") == ""
        until(lambda: second.snapshot.step.place == CHORUS)
        process.kill()
        process.wait()
        until(lambda: words(second, "first") == "The other stand does not answer: to go on from here, take over")
        assert take_over(second) == ""
        assert (second.snapshot.role, second.snapshot.step.place) == (Role.CALLING, CHORUS)
        step(second)
        until(lambda: second.ports.sent)

        with laptop(tmp_path, int(address.split(":")[2].split("/")[0])):
            until(lambda: remote.state()["role"] == "following", 20)
            assert remote.state()["cue"]["scene"] == "chorus"
            until(lambda: words(second, "take") == "" and words(second, "first") == "")
            assert second.snapshot.role is Role.CALLING


def test_a_second_that_is_restarted_while_the_first_is_dead_takes_over(tmp_path: Path) -> None:
    """Both laptops were on the mains that failed: the second comes back alone, by the command that began it."""
    file, written = tmp_path / "second.first", Written()
    with laptop(tmp_path) as (process, address):
        with house(follows=Link.again(address, file), journal=written) as before:
            remote = Link.opened(address.replace(address.rsplit("/", 1)[1], key_of(before, tmp_path)))
            assert remote.act("next", "test") == ""
            until(lambda: before.snapshot.step.place == FIRST)
        with house(follows=Link.again(address, file), journal=written) as before:  # its key is used up
            assert remote.act("next", "test") == ""
            until(lambda: before.snapshot.step.place == CHORUS)
        process.kill()
        process.wait()

    assert file.stat().st_mode & 0o777 == 0o600
    with house(follows=Link.again(address, file), goes_on=True, journal=written) as second:
        assert words(second, "first") == "The other stand does not answer: to go on from here, take over"
        assert (second.snapshot.role, second.snapshot.step.place) == (Role.FOLLOWING, CHORUS)
        assert take_over(second) == ""
        step(second)
        until(lambda: second.ports.sent)

        with laptop(tmp_path, int(address.split(":")[2].split("/")[0])):
            until(lambda: remote.state()["role"] == "following", 20)
            until(lambda: words(second, "take") == "" and words(second, "first") == "")


def test_a_second_that_never_followed_is_not_begun_without_a_first(tmp_path: Path) -> None:
    """The address was mistyped: better said at once than a laptop that stands at home and seems to follow."""
    with laptop(tmp_path) as (process, address):
        link = Link.again(address, tmp_path / "kept")
        with pytest.raises(AccessError, match="has been used"):
            Link.again(address, tmp_path / "other")
        (tmp_path / "kept").write_text("{")
        with pytest.raises(AccessError, match="has been used"):
            Link.again(address, tmp_path / "kept")
        process.kill()
        process.wait()

    with pytest.raises(WebError, match="does not answer"), house(follows=link):
        pass
    with pytest.raises(WebError, match="does not answer"):
        Link.again(address, tmp_path / "kept")


# The first says what nobody can read.


class Odd(Link):
    """A first laptop of another version, or one that has gone wrong: what it says of its records is `said`."""

    def __init__(self, said: Callable[[int], Any]) -> None:
        super().__init__("127.0.0.1", 1, "")
        self.said = said

    def _read(self, path: str, *needs: str) -> Mapping[str, Any]:
        if path == "/api/state":
            return {"gig": "gig", "rig": "rig", "role": "following"}
        if path.startswith("/api/records"):
            return {"records": [], "next": 0, **self.said(int(path.rsplit("=")[-1]))}
        return {"steps": [], "spares": [], "house": [], "safe": {}}


NOTICE = {"kind": "notice", "at": 1.0, "words": "x", "about": ""}


def fault(_: int) -> Any:
    raise RuntimeError("a fault of our own")


@pytest.mark.parametrize(
    "said",
    [
        lambda after: {"records": [NOTICE] * 5, "next": after + 5},  # without an end
        lambda after: {"records": [NOTICE], "next": after},
        lambda after: {"records": [], "next": "zz"},
        lambda after: {"records": {"a": 1}, "next": after + 1},
        lambda after: {"records": [], "next": None},
        lambda after: threading.Event().wait(3),
        fault,
    ],
)
def test_nothing_that_the_other_says_holds_up_who_takes_over(said: Callable[[int], Any]) -> None:
    """The gig goes on here, whatever is wrong there, within the time that a player waits."""
    with house(role=Role.FOLLOWING) as second:
        second.stand = Following(second.engine, Odd(said), every=0.02)
        begun = time.monotonic()

        taken = second.stand.ask(Act(Verb.TAKE, "touch"))

        assert (taken.role, taken.refused) == (Role.CALLING, "")
        assert time.monotonic() - begun < 2.5


def test_only_records_that_a_stand_writes_are_copied() -> None:
    """Whatever else is said would stand in the evening's log for ever."""
    odd: list[Any] = [NOTICE, {"kind": "fly", "at": 1}, {"kind": "notice"}, {**NOTICE, "at": 1e999}, 7, None]
    odd += [{**NOTICE, "words": "x" * 2_000_000}, {**NOTICE, "at": "now"}, {**NOTICE, "kind": ["notice"]}]
    odd += [{"kind": "closed", "at": 1.0, "why": ""}, {**NOTICE, "words": "last"}]

    with house(role=Role.FOLLOWING) as second:
        second.stand = Following(second.engine, Odd(lambda at: {"records": odd[at:], "next": len(odd)}), every=0.02)
        until(lambda: second.journal[-1].get("words") == "last")

        came = [record for record in second.journal if record.get("copied")]
        assert [record["words"] for record in came] == ["x", "last"]
