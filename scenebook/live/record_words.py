"""The records of a running gig in words: for the tech's page while it runs, and for who asks afterwards. Pure."""

from collections.abc import Callable, Mapping
from typing import Any

__all__ = ["record_words"]

Record = Mapping[str, Any]


def record_words(record: Record, *, is_cut_off: bool = False) -> str | None:
    """Return one record in words; None for one that says nothing to people, or of which something lacks.

    `is_cut_off` says that the run before this one did not end by itself. What was copied from another stand is told of
    that one.
    """
    try:
        if record.get("copied"):
            return f"the other stand: {_SAYS[record['kind']](record)}"
        if record["kind"] == "opened" and is_cut_off:
            return f"begun again: it had been cut off ({record['role']})"
        return _SAYS[record["kind"]](record)
    except (KeyError, TypeError, ValueError, AttributeError, IndexError):
        return None


def _opened(record: Record) -> str:
    return f"begun on {record['rig']} ({record['role']})"


def _step(record: Record) -> str:
    where = ", ".join(filter(None, [record["song"], record["scene"]])) or "home"
    part = record["place"][0]
    of_part = f" ({part})" if part in ("spare song", "house sound") else ""
    forms = dict(record["forms"])
    to = {form: ", ".join(port for port in forms if forms[port] == form) for form in dict.fromkeys(forms.values())}
    lost = [str(port) for port in record.get("lost", ())]
    gone = [f"not sent, {' and '.join(lost)} {'is' if len(lost) == 1 else 'are'} gone"] if lost else []
    said = "; ".join([f"{form} to {ports}" for form, ports in to.items()] + gone)
    return f"{record['verb']}{_by(record)}: {where}{of_part}; {said or 'nothing to send'}"


def _changed(record: Record) -> str:
    what = [record.get("unit"), record["verb"], record.get("other"), record.get("text")]
    asked = record.get("asked")
    at = f", {asked[0]} {asked[1] + 1}, part {asked[2] + 1}" if asked else ""
    return f"tonight{_by(record)}: {' '.join(filter(None, what))}{at}"


def _port(record: Record) -> str:
    midi = f" ({record['midi']})" if record.get("midi") else ""
    return f"port {record['port']}{midi} is {record['state']}"


def _line_check(record: Record) -> str:
    walk = record.get("walk")
    return f"line check{_by(record)}" + (f": {len(walk['places'])} cues to walk through" if walk else "")


def _learned(record: Record) -> str:
    return "learned: " + ("; ".join(f"{each['bytes']} does {each['does']}" for each in record["learned"]) or "nothing")


def _by(record: Record) -> str:
    return f" by {record['by']}" if record.get("by") else ""


_SAYS: Mapping[str, Callable[[Record], str]] = {
    "opened": _opened,
    "step": _step,
    "sent": lambda record: f"sent, {record['port']}: {', '.join(record['bytes'])}",
    "dropped": lambda record: f"not sent, {record['port']}: {', '.join(record['bytes'])}",
    "tonight": _changed,
    "port": _port,
    "learned": _learned,
    "line check": _line_check,
    "role": lambda record: f"this stand is {record['role']} now{_by(record)}",
    "notice": lambda record: f"notice: {record['words']}",
    "closed": lambda record: "ended",
}
