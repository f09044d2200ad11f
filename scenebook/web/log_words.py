"""What the gig has written, in words for the tech: what was sent, when, by which trigger, to which port. Pure."""

import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

__all__ = ["LogLine", "log_lines"]

_MOST_BYTES = 12  # messages that one line shows; the evening's file holds all


@dataclass(frozen=True, slots=True)
class LogLine:
    """One thing that happened: the time of day, what it is, and the words."""

    at: str
    kind: str
    words: str


def log_lines(records: Iterable[Mapping[str, Any]]) -> tuple[LogLine, ...]:
    """Return records in words, the newest first; one that cannot be read is left out."""
    return tuple(_lines(records))[::-1]


def _lines(records: Iterable[Mapping[str, Any]]) -> Iterator[LogLine]:
    for record in records:
        try:
            said = _SAYS[record["kind"]](record)
            yield LogLine(time.strftime("%H:%M:%S", time.localtime(float(record["at"]))), str(record["kind"]), said)
        except (KeyError, TypeError, ValueError, AttributeError, OverflowError, OSError):
            continue


def _opened(record: Mapping[str, Any]) -> str:
    return f"{record['gig']} on {record['rig']}, {record.get('role', '')}".rstrip(", ")


def _step(record: Mapping[str, Any]) -> str:
    forms = ", ".join(f"{form} to {port}" for port, form in record["forms"].items())
    where = " ".join(filter(None, [record["song"], record["scene"]])) or "home"
    by = f" by {record['by']}" if record.get("by") else ""
    return f"{record['verb']}{by}: {where}" + (f" ({forms})" if forms else "")


def _bytes(record: Mapping[str, Any]) -> str:
    messages = list(record["bytes"])
    more = len(messages) - _MOST_BYTES
    shown = ", ".join(messages[:_MOST_BYTES]) + (f" and {more} more" if more > 0 else "")
    return f"{record['port']}: {shown}"


def _tonight(record: Mapping[str, Any]) -> str:
    other = f" {record['other']}" if record.get("other") else ""
    said = f"{record.get('unit', '')} {record['verb']}{other} {record.get('text', '')}"
    return " ".join(said.split())


def _port(record: Mapping[str, Any]) -> str:
    midi = f" ({record['midi']})" if record.get("midi") else ""
    return f"{record['port']}{midi} is {record['state']}"


def _line_check(record: Mapping[str, Any]) -> str:
    by = f" by {record['by']}" if record.get("by") else ""
    return f"{'begins' if record.get('walk') else 'ends'}{by}"


def _learned(record: Mapping[str, Any]) -> str:
    return "; ".join(f"{each['bytes']} does {each['does']}" for each in record["learned"]) or "nothing"


def _notice(record: Mapping[str, Any]) -> str:
    return str(record["words"])


def _role(record: Mapping[str, Any]) -> str:
    return f"this stand is {record['role']}"


def _closed(record: Mapping[str, Any]) -> str:
    return str(record.get("why", "closed"))


_SAYS: Mapping[str, Callable[[Mapping[str, Any]], str]] = {
    "opened": _opened,
    "step": _step,
    "sent": _bytes,
    "dropped": _bytes,
    "tonight": _tonight,
    "port": _port,
    "learned": _learned,
    "line check": _line_check,
    "notice": _notice,
    "role": _role,
    "closed": _closed,
}
