"""A small evening to call, and a caller's answers as short words."""

from typing import Any

from scenebook.cueing.cues import Message
from scenebook.live.acts import Act, Verb
from scenebook.live.caller import Caller, Outcome
from scenebook.live.places import Place
from scenebook.model import Gig, Library
from tests.support.build import GIG, RIG, library, rig, song, unit
from tests.support.compiling import on_port

__all__ = ["DELAY", "OFF", "ON", "REVERB", "ask", "at", "begun", "evening", "forms", "sent"]

DELAY = unit(
    switches={"main": {"message": {"controller": 80}}},
    controls={"level": {"scale": "percent", "message": {"controller": 20}}},
    triggers={"hit": {"note": 60}},
)
REVERB = unit(switches={"main": {"message": {"controller": 81}, "foot": True}})
ON, OFF = {"main": "on"}, {"main": "off"}


def evening() -> Library:
    """Return a gig of two songs, a spare song and house sounds; the delay is on one port, the reverb on another."""
    songs = {
        "one": song({"a": {"delay": ON}, "b": {"units": {"reverb": ON}, "triggers": ["delay.hit"]}}),
        "two": song({"c": {"delay": ON, "reverb": ON}, "d": {}}),
        "spare": song({"s": {"delay": ON}, "t": {"reverb": ON}}),
        "sounds": song({"clean": {}, "quiet": {"reverb": ON}}),
    }
    said = {"rig": RIG, "sets": [{"name": "first", "songs": ["one", "two"]}], "spares": ["spare"], "house": "sounds"}
    placements = {**on_port("delay"), **on_port("reverb", port="wet")}
    board = rig("delay", "reverb", units=placements)
    return library({"delay": DELAY, "reverb": REVERB}, board, songs, Gig.model_validate(said))


def begun(of: Library | None = None, **said: Any) -> Caller:
    """Return a caller at home whose ports are there and stand as at home."""
    caller = Caller(of or evening(), GIG, RIG, **said)
    for port in ("front", "wet"):
        caller.port_back(port, 0)
    ask(caller, Verb.AGAIN)
    return caller


def ask(
    caller: Caller, verb: Verb, place: Place | None = None, waiting: tuple[Message, ...] = (), **said: str
) -> Outcome:
    return caller.take(Act(verb, "key", place, **said), 1.0, waiting)


def forms(outcome: Outcome) -> dict[str, str]:
    return {each.port: str(each.form) for each in outcome.plan.ports} if outcome.plan else {}


def sent(outcome: Outcome, port: str = "front") -> list[str]:
    plans = [each for each in outcome.plan.ports if each.port == port] if outcome.plan else []
    return [message.data.hex(" ").upper() for each in plans for message in each.messages]


def at(caller: Caller) -> tuple[str, int, int]:
    return str(caller.standing.place.part), *caller.standing.place[1:]
