"""What the gig has written, in words for the tech: what was sent, when, by which trigger, to which port. Pure."""

import time
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from scenebook.live.record_words import record_words

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
    is_cut_off = False
    for record in records:
        try:
            words = record_words(_shortened(record), is_cut_off=is_cut_off)
            at = time.strftime("%H:%M:%S", time.localtime(float(record["at"])))
        except (KeyError, TypeError, ValueError, AttributeError, OverflowError, OSError):
            continue
        if words is not None:
            is_cut_off = is_cut_off if record.get("copied") else record["kind"] != "closed"
            yield LogLine(at, str(record["kind"]), words)


def _shortened(record: Mapping[str, Any]) -> Mapping[str, Any]:
    """Return a record with no more messages than one line shows."""
    messages = record.get("bytes")
    if not isinstance(messages, list) or len(messages) <= _MOST_BYTES:
        return record
    last = f"{messages[_MOST_BYTES - 1]} and {len(messages) - _MOST_BYTES} more"
    return {**record, "bytes": [*messages[: _MOST_BYTES - 1], last]}
