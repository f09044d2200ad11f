"""The records of a running gig: plain values, one for each thing that happens, enough to stand where it stood.

Every record has "kind" and "at" (seconds since the epoch). Places are written as [part, entry, form]. Those that change
where the gig stands hold all that they change, so that each can be read by itself and read twice.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from scenebook.live.acts import Act
from scenebook.live.places import Part, Place
from scenebook.live.plans import Plan, Record
from scenebook.live.snapshot import Learned, Role
from scenebook.live.stepping import Standing
from scenebook.live.tonight import FASTEST, SLOWEST, Tonight
from scenebook.live.walking import Walk

__all__ = ["after", "changed_tonight", "checking", "closed", "dropped", "learned", "noticed", "opened", "port_changed"]
__all__ += ["replayed", "role_changed", "sent", "stepped", "tonight_in"]


def opened(gig: str, rig: str, standing: Standing, role: Role, at: float) -> Record:
    """Return the record with which a run begins: the whole standing."""
    return {
        "kind": "opened",
        "at": at,
        "gig": gig,
        "rig": rig,
        "role": str(role),
        **_where(standing),
        "tonight": _tonight(standing.tonight or Tonight()),
        "learned": [_learned(each) for each in standing.learned],
    }


def stepped(act: Act, standing: Standing, plan: Plan, at: float, *, jump: bool) -> Record:
    """Return the record of a step, to be written before its first byte: where it leads, by what, in which forms.

    "lost" are the ports for which there was something and that were not there.
    """
    cue = plan.step.full
    reached = {each.port for each in plan.ports}
    lost = dict.fromkeys(each.port for each in (cue if jump else plan.step.lean).messages if each.port not in reached)
    return {
        "kind": "step",
        "at": at,
        "verb": str(act.verb),
        "by": act.by,
        **_where(standing),
        "song": cue.song,
        "scene": cue.scene,
        "forms": {each.port: str(each.form) for each in plan.ports},
        **({"lost": list(lost)} if lost else {}),
        "jump": jump,
    }


def changed_tonight(act: Act, standing: Standing, at: float) -> Record:
    """Return the record of a change for tonight: what was asked, and all that is different now."""
    record: dict[str, Any] = {"kind": "tonight", "at": at, "verb": str(act.verb), "by": act.by, **_where(standing)}
    asked = {"unit": act.unit, "other": act.other, "text": act.text}
    record |= {key: text for key, text in asked.items() if text}
    if act.place is not None:
        record["asked"] = _place(act.place)
    return {**record, "tonight": _tonight(standing.tonight or Tonight())}


def checking(act: Act, standing: Standing, at: float) -> Record:
    """Return the record of a line check that begins: the places that it walks through, and where it was begun."""
    return {"kind": "line check", "at": at, "verb": str(act.verb), "by": act.by, **_where(standing)}


def port_changed(port: str, midi: str, state: str, at: float) -> Record:
    """Return the record of a port that is gone, or there again."""
    return {"kind": "port", "at": at, "port": port, "midi": midi, "state": state}


def role_changed(role: Role, by: str, at: float) -> Record:
    """Return the record of taking over, or of leaving it to another stand."""
    return {"kind": "role", "at": at, "role": str(role), "by": by}


def learned(known: Sequence[Learned], at: float) -> Record:
    """Return the record of all messages that were learned."""
    return {"kind": "learned", "at": at, "learned": [_learned(each) for each in known]}


def sent(port: str, messages: Sequence[bytes], at: float) -> Record:
    """Return the record of what has gone out on a port: {"kind": "sent", "port": ..., "bytes": ["C0 05", ...]}."""
    return {"kind": "sent", "at": at, "port": port, "bytes": [_hex(data) for data in messages]}


def dropped(port: str, messages: Sequence[bytes], at: float) -> Record:
    """Return the record of what will never go out on a port."""
    return {"kind": "dropped", "at": at, "port": port, "bytes": [_hex(data) for data in messages]}


def noticed(words: str, about: str, at: float) -> Record:
    """Return the record of a notice."""
    return {"kind": "notice", "at": at, "words": words, "about": about}


def closed(why: str, at: float) -> Record:
    """Return the record with which a run ends by itself; after a crash it lacks."""
    return {"kind": "closed", "at": at, "why": why}


def replayed(records: Iterable[Record]) -> Standing | None:
    """Return where a gig stands after its records, in their order; None where no record says anything of that.

    What it does not understand it passes over: a record of a newer program, a line that was torn.
    """
    standing: Standing | None = None
    for record in records:
        standing = after(standing or Standing(), record) or standing
    return standing


def after(standing: Standing, record: Record) -> Standing | None:
    """Return where a gig stands after one more record; None where the record says nothing of it, or not clearly."""
    try:
        return _READS[record["kind"]](standing, record)
    except (KeyError, TypeError, ValueError, AttributeError, OverflowError):
        return None


def tonight_in(record: Record) -> Tonight | None:
    """Return what a record says of tonight, if it does."""
    standing = after(Standing(), record)
    return standing.tonight if standing else None


def _after_step(standing: Standing, record: Record) -> Standing:
    left, back = record.get("left"), record.get("back")
    return replace(
        standing,
        place=_read_place(record["place"]),
        left=_read_place(left) if left is not None else None,
        back=_read_place(back) if back is not None else None,
        walk=_read_walk(record["walk"]) if "walk" in record else None,
    )


def _after_change(standing: Standing, record: Record) -> Standing:
    return replace(_after_step(standing, record), tonight=_read_tonight(record["tonight"]))


def _after_learning(standing: Standing, record: Record) -> Standing:
    known = [
        Learned(str(each["listens"]), bytes.fromhex(each["bytes"]), str(each["does"])) for each in record["learned"]
    ]
    return replace(standing, learned=tuple(known))


def _after_opening(standing: Standing, record: Record) -> Standing:
    return _after_handing_over(_after_learning(_after_change(standing, record), record), record)


def _after_handing_over(standing: Standing, record: Record) -> Standing:
    if record.get("copied"):  # the role of the stand that is followed
        return standing
    return replace(standing, role=Role(record.get("role", standing.role)))


_READS = {
    "opened": _after_opening,
    "step": _after_step,
    "line check": _after_step,
    "tonight": _after_change,
    "learned": _after_learning,
    "role": _after_handing_over,
}


def _where(standing: Standing) -> dict[str, Any]:
    ways = {"left": standing.left, "back": standing.back}
    said: dict[str, Any] = {"place": _place(standing.place)}
    said |= {key: _place(place) for key, place in ways.items() if place is not None}
    return said | ({"walk": _walk(standing.walk)} if standing.walk else {})


def _walk(walk: Walk) -> dict[str, Any]:
    ways = {"began": walk.began, "left": walk.left, "back": walk.back}
    said = {key: _place(place) for key, place in ways.items() if place is not None}
    return {**said, "at": walk.at, "places": [_place(place) for place in walk.places]}


def _read_walk(said: Mapping[str, Any]) -> Walk:
    places = tuple(_read_place(place) for place in said["places"])
    began, left, back = (_read_place(said[key]) if key in said else None for key in ("began", "left", "back"))
    at = int(said["at"])
    if began is None or not -1 <= at < len(places):
        raise ValueError("a line check that is not whole")
    return Walk(places, began, left, back, at)


def _place(place: Place) -> list[Any]:
    return [str(place.part), place.entry, place.form]


def _read_place(said: Sequence[Any]) -> Place:
    part, entry, form = said
    return Place(Part(part), int(entry), int(form))


def _tonight(tonight: Tonight) -> dict[str, Any]:
    return {
        "out": sorted(tonight.out),
        "played_by": dict(tonight.played_by),
        "deaf": sorted(tonight.deaf),
        "keys": [[_place(place), key] for place, key in tonight.keys.items()],
        "tempos": [[_place(place), tempo] for place, tempo in tonight.tempos.items()],
        "cut": [_place(place) for place in sorted(tonight.cut)],
    }


def _read_tonight(said: Mapping[str, Any]) -> Tonight:
    return Tonight(
        out=frozenset(map(str, said["out"])),
        played_by={str(old): str(new) for old, new in said["played_by"].items()},
        deaf=frozenset(map(str, said["deaf"])),
        keys={_read_place(place): str(key) for place, key in said["keys"]},
        tempos={_read_place(place): _read_tempo(tempo) for place, tempo in said["tempos"]},
        cut=frozenset(_read_place(place) for place in said["cut"]),
    )


def _read_tempo(said: Any) -> float:
    tempo = float(said)
    if not SLOWEST <= tempo <= FASTEST:  # so is what is no number at all
        raise ValueError("no tempo that can be played")
    return tempo


def _learned(each: Learned) -> dict[str, str]:
    return {"listens": each.listens, "bytes": _hex(each.data), "does": each.does}


def _hex(data: bytes) -> str:
    return data.hex(" ").upper()
