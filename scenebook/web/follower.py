"""A second laptop: it copies what another stand writes and goes where that one goes, silently, until it takes over.

Whoever takes over tells the other to be silent first. Where the other takes over again, its records say so and this one
falls silent. So at most one sends, as long as they hear of each other; where they do not, the player is told.
"""

import json
import logging
import queue
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from dataclasses import replace
from typing import Any, Final, Protocol

from scenebook.errors import AccessError, BadValueError, WebError
from scenebook.live.acts import Act, Verb
from scenebook.live.facing import Follows, Records, Stand
from scenebook.live.records import after as standing_after
from scenebook.live.snapshot import Notice, Role, Snapshot
from scenebook.live.stepping import Standing
from scenebook.web.digest import step_digest, steps_of
from scenebook.web.link import Link

__all__ = ["Following", "FollowsAStand"]

_EVERY_S: Final = 0.2
_SILENT_S: Final = 1.5
_SETTLE_S: Final = 2.0
_TALK_S: Final = 1.5  # to make the other silent
_COPY_S: Final = 1.0
_TURN_S: Final = 0.001  # for others that wait to copy
_OTHER: Final = "the other stand"
_AT_ONCE: Final = 500
_STANDING: Final = ("opened", "tonight", "learned", "line check", "step")
_COPIED: Final = "copied"

_log = logging.getLogger("scenebook.web")


class FollowsAStand(Stand, Follows, Protocol):
    """This laptop's own gig."""


class Following:
    """This laptop's own gig, as a `Stand` that follows another one; "take over" goes to both. `close` ends it."""

    def __init__(
        self,
        stand: FollowsAStand,
        first: Link,
        *,
        records: Records | None = None,
        goes_on: bool = False,
        every: float = _EVERY_S,
    ) -> None:
        """Begin to follow. `records` are this laptop's own: what was copied before a restart is not copied again.

        One that `goes_on` has followed before, on the same evening: the other may be dead by now.

        Raises:
            BadValueError: the other plays another gig, or another rig.
            WebError: it does not answer, and this one does not go on; or it does not let this one in (AccessError).
        """
        self._stand, self._first, self._after, self._every = stand, first, 0, every
        self._known = set(map(_as_text, _all(records))) if records else set()
        self._is_alone = not self._meets(goes_on)
        self._newest: dict[str, Mapping[str, Any]] = {}  # of the other's records, by kind: where it stands
        self._is_owed = False  # the other has not been told to be silent
        self._is_compared, self._is_closed = False, False
        self._heard_at = time.monotonic()
        self._notices: dict[str, str] = {}
        self._changes = 0
        self._dressed: tuple[Snapshot, int, Snapshot] | None = None
        self._watchers: tuple[Callable[[Snapshot], None], ...] = ()
        self._dressing, self._reading, self._ended = threading.Lock(), threading.Lock(), threading.Event()
        if self._is_alone:
            self._tell("first", self._silence())
        self._thread = threading.Thread(target=self._run, name="follow", daemon=True)
        self._thread.start()

    @property
    def is_alone(self) -> bool:
        """Whether the other has not answered since this one began."""
        return self._is_alone

    # As a stand.

    @property
    def snapshot(self) -> Snapshot:
        """How the gig stands here, with what the player has to be told of the other stand."""
        return self._dress(self._stand.snapshot)

    def act(self, act: Act) -> None:
        """Ask for something; to take over, a thread of its own asks the other stand first."""
        if act.verb is Verb.TAKE:
            threading.Thread(target=self.ask, args=(act,), name="take over", daemon=True).start()
        else:
            self._stand.act(act)

    def ask(self, act: Act, *, seconds: float = 2.0) -> Snapshot:
        """Ask for something and return the snapshot after it."""
        if act.verb is Verb.TAKE and self._stand.snapshot.role is Role.FOLLOWING:
            refused = self._make_silent()
            if refused:
                self._tell("take", refused)
                return replace(self.snapshot, refused=refused)
        return self._dress(self._stand.ask(act, seconds=seconds))

    def watch(self, told: Callable[[Snapshot], None]) -> Callable[[], None]:
        """Call `told` with every new snapshot, and whenever there is news of the other stand."""
        stop = self._stand.watch(lambda snapshot: told(self._dress(snapshot)))
        with self._dressing:
            self._watchers = (*self._watchers, told)
        return lambda: self._leave(told, stop)

    def close(self) -> None:
        """Follow no more, and end this laptop's own gig."""
        self._ended.set()
        self._thread.join(_SETTLE_S)
        self._stand.close()

    def _leave(self, told: Callable[[Snapshot], None], stop: Callable[[], None]) -> None:
        stop()
        with self._dressing:
            self._watchers = tuple(each for each in self._watchers if each is not told)

    def _dress(self, snapshot: Snapshot) -> Snapshot:
        """Add the notices; the same snapshot gives the same object, so that a page is drawn once for each."""
        with self._dressing:
            if self._dressed is None or self._dressed[0] is not snapshot or self._dressed[1] != self._changes:
                notices = tuple(Notice(words, about) for about, words in self._notices.items())
                made = replace(
                    snapshot, version=snapshot.version + self._changes, notices=(*snapshot.notices, *notices)
                )
                self._dressed = (snapshot, self._changes, made)
            return self._dressed[2]

    def _tell(self, about: str, words: str = "") -> None:
        """Give a notice, or take it back."""
        if self._notices.get(about, "") == words:
            return
        with self._dressing:
            self._notices = {key: said for key, said in self._notices.items() if key != about}
            if words:
                self._notices[about] = words
            self._changes += 1
        for told in self._watchers:
            with suppress(Exception):
                told(self.snapshot)

    # Following.

    def _run(self) -> None:
        while not self._ended.wait(self._every):
            try:
                self._look()
            except Exception:
                _log.exception("The other stand could not be followed")
                self._lacks("What the other stand says is not understood: is it of the same version?")

    def _meets(self, goes_on: bool) -> bool:
        """See that the other plays the same; return whether it answers, which it has to unless this one goes on."""
        try:
            _check_the_same(self._stand.snapshot, self._first.state())
        except AccessError:
            raise
        except WebError:
            if not goes_on:
                raise
            return False
        return True

    def _look(self) -> None:
        try:
            if self._is_alone:
                self._is_alone = not self._meets(False)
            if self._is_owed:
                self._tell_it_now()
            if not self._copy() and not self._is_compared and self._has_arrived():
                self._compare()
            self._heard_at = time.monotonic()
            self._tell("first")
        except BadValueError as error:
            self._lacks(f"This stand follows no other: {error}")
        except AccessError as error:
            self._lacks(f"The other stand lets this one follow no more: {error}")
        except WebError:
            if time.monotonic() - self._heard_at > _SILENT_S:
                self._is_compared = False
                self._lacks(self._silence())

    def _lacks(self, words: str) -> None:
        """Say why the other is not followed; what was said before of who calls holds no more, unless it is owed."""
        if not self._is_owed:
            self._tell("take")
        self._tell("first", words)

    def _silence(self) -> str:
        if self._stand.snapshot.role is Role.CALLING:
            return "The other stand does not answer; this one calls"
        gone = "has been closed" if self._is_closed else "does not answer"
        return f"The other stand {gone}: to go on from here, take over"

    def _copy(self) -> bool:
        """Take over what the other has written since, for as long as others can wait; return whether that was any."""
        is_any, ends = False, time.monotonic() + _COPY_S
        while not self._ended.is_set() and time.monotonic() < ends:
            with self._reading:
                records, following = self._first.records(self._after)
                is_end, self._after = following <= self._after, following
                for record in records:
                    self._hear(record)
                if is_end:
                    self._known.clear()  # what comes from here on is new
                    break
            is_any = True
            time.sleep(_TURN_S)
        return is_any

    def _hear(self, record: Mapping[str, Any]) -> None:
        """Do what the other has done. That it was closed is no end of this one, so that is not written down here."""
        kind = str(record.get("kind"))
        self._is_closed = kind == "closed" or (self._is_closed and kind != "opened")
        if kind in _STANDING:
            self._newest.pop(kind, None)  # so that they stay in their order
            self._newest[kind] = record
        if kind in ("opened", "tonight"):
            self._is_compared = False
        if kind == "closed" or (self._known and _as_text(record) in self._known):
            return
        if self._stand.snapshot.role is Role.FOLLOWING:
            self._follow(record)
        elif kind == "role" and record.get("role") == Role.CALLING:
            self._give_back()
        elif kind == "opened" and record.get("role") == Role.CALLING:
            self._is_owed = True

    def _follow(self, record: Mapping[str, Any]) -> None:
        """Go along, and let the journal tell whose record it was: a role in it is the other's."""
        self._stand.follow({**record, _COPIED: True})

    def _give_back(self) -> None:
        """Fall silent: the other was told to take over again. Then go where it stands."""
        self._stand.ask(Act(Verb.YIELD, _OTHER))
        for record in self._newest.values():
            self._follow(record)
        self._tell("take", "The other stand has taken over again; this one follows")

    def _has_arrived(self) -> bool:
        """Whether this gig has done all that the other has written."""
        snapshot, standing = self._stand.snapshot, Standing()
        for record in self._newest.values():
            standing = standing_after(standing, record) or standing
        if standing.tonight is not None and standing.tonight != snapshot.tonight:
            return False
        return not self._newest or snapshot.step.place == standing.place

    def _compare(self) -> None:
        """See whether both would do the same at every cue."""
        self._is_compared = True
        theirs = _digests(self._first.programme())
        self._copy()  # a change in the meantime is in its records before it is in its programme
        if not (self._is_compared and self._has_arrived()):
            self._is_compared = False
            return
        if self._stand.snapshot.role is not Role.FOLLOWING:
            return
        ours = {tuple(step.place): (step_digest(step), step) for step in steps_of(self._stand.snapshot.programme)}
        words = ""
        for place, (digest, step) in ours.items():
            if theirs.get(place) != digest:
                cue = step.full
                where = f"{cue.song}, {cue.scene}" if cue.song else cue.scene or "the safe state"
                words = f"The two libraries differ, first at {where}: bring the same library to both laptops"
                break
        if not words and theirs.keys() != ours.keys():
            words = "The two libraries differ: the other stand has cues that this one lacks"
        self._tell("libraries", words)

    # Taking over.

    def _make_silent(self) -> str:
        """Make the other stand silent and arrive where it stands; return why this one must not call, "" if it may.

        One that does not answer, or says what nobody understands, is left, and told as soon as it does.
        """
        said = queue.SimpleQueue[str | None]()
        threading.Thread(target=lambda: said.put(self._silenced()), name="make silent", daemon=True).start()
        try:
            refused = said.get(timeout=_TALK_S)
        except queue.Empty:
            refused = None
        if refused is None:
            self._is_owed = True
            self._tell("take", "The other stand did not answer: see that it is off, or both may send")
        if refused is None or refused:
            return refused or ""
        ends = time.monotonic() + _SETTLE_S
        while not self._has_arrived() and time.monotonic() < ends:
            time.sleep(0.002)
        self._is_owed = False
        self._tell("take")
        return ""

    def _silenced(self) -> str | None:
        """Tell the other to be silent and hear what it did last; return why it is not, None where it is not known."""
        try:
            if self._first.state()["role"] == Role.CALLING:
                self._first.act(Verb.YIELD, _OTHER)
            if self._first.state()["role"] == Role.CALLING:
                return "The other stand goes on calling, so this one does not: try again"
            self._copy()
        except AccessError as error:
            return f"The other stand cannot be made silent from here, so it has to be closed first. {error}"
        except Exception:
            _log.exception("The other stand could not be made silent")
            return None
        return ""

    def _tell_it_now(self) -> None:
        """The other stand was away when this one took over, or was started again: make it silent now."""
        if self._stand.snapshot.role is Role.CALLING and self._first.state()["role"] == Role.CALLING:
            try:
                self._first.act(Verb.YIELD, _OTHER)
            except AccessError:
                self._tell("take", "The other stand is back and calls as well: close it, or both send")
                return
        self._is_owed = False
        self._tell("take")


def _all(records: Records) -> Iterator[Mapping[str, Any]]:
    after = 0
    while True:
        found, after = records.read(after, _AT_ONCE)
        if not found:
            return
        yield from found


def _as_text(record: Mapping[str, Any]) -> str:
    return json.dumps({key: said for key, said in record.items() if key != _COPIED}, sort_keys=True)


def _check_the_same(here: Snapshot, there: Mapping[str, Any]) -> None:
    for kind, ours in (("gig", here.programme.gig), ("rig", here.programme.rig)):
        if there[kind] != ours:
            raise BadValueError(
                f"the other stand plays the {kind} {there[kind]!r}, and this one {ours!r}",
                remedy=f"Start this one with the same {kind}",
            )


def _digests(programme: Mapping[str, Any]) -> dict[tuple[Any, ...], str]:
    cues = [*programme["steps"], *programme["house"], programme["safe"]]
    cues += [cue for spare in programme["spares"] for cue in spare]
    return {(cue["place"]["part"], cue["place"]["entry"], cue["place"]["form"]): cue["digest"] for cue in cues}
