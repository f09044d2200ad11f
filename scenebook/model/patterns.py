"""Read lists of MIDI messages that a person wrote as hex, with `n` where the unit's channel belongs.

`Bn 50 7F` is controller 80 = 127 on whatever channel the unit has; `F0 7D 01 F7` is an exclusive message.
Pure: text in, bytes out.
"""

import re
from dataclasses import dataclass
from typing import Final, Self

from scenebook.model.protocol import (
    CHANNELS,
    STATUS_FIRST,
    SYSEX_END,
    facts_of,
)

__all__ = ["MessagePattern"]

_BYTE: Final = re.compile(r"[0-9A-Fa-f]{2}")
_OPEN_STATUS: Final = re.compile(r"[89A-Ea-e][nN]")
_ACCEPTED: Final = (
    'whole messages as hex bytes with spaces between them are accepted, such as "Bn 50 7F" (n: the unit\'s '
    'channel) or "F0 7D 01 F7"'
)


@dataclass(frozen=True, slots=True)
class MessagePattern:
    """One or more whole messages, as written and as bytes.

    `text` is the player's own writing. `messages` has channel 1 where `n` was written, and `open_channel` says
    of each message whether it was. Make one by `parse`.
    """

    text: str
    messages: tuple[bytes, ...]
    open_channel: tuple[bool, ...]

    @classmethod
    def parse(cls, text: str) -> Self:
        """Read hex text; commas and line ends count as spaces, capitals do not matter.

        Raises:
            ValueError: something is no hex byte, or the bytes are not whole messages; says at which byte.
        """
        words = text.replace(",", " ").split()
        if not words:
            raise ValueError(f"message: found nothing; {_ACCEPTED}")
        data = bytes(_byte(place, word) for place, word in enumerate(words, 1))
        starts = _starts(data, words)
        ends = [*starts[1:], len(data)]
        return cls(
            text=text,
            messages=tuple(data[start:end] for start, end in zip(starts, ends, strict=True)),
            open_channel=tuple(words[start][1] in "nN" for start in starts),
        )

    @property
    def needs_channel(self) -> bool:
        """True if any message goes to the unit's own channel."""
        return any(self.open_channel)

    def for_channel(self, channel: int) -> tuple[bytes, ...]:
        """Return the single messages with `channel` (1-16) in the place of each `n`.

        Raises:
            ValueError: `channel` is out of its range.
        """
        if channel not in CHANNELS:
            raise ValueError(f"channel: found {channel!r}; a whole number from 1 to 16 is accepted")
        return tuple(
            bytes((message[0] + channel - 1, *message[1:])) if is_open else message
            for message, is_open in zip(self.messages, self.open_channel, strict=True)
        )

    def __str__(self) -> str:
        """Return the pattern in its usual writing: capitals, one space between bytes, a small n."""
        return " ".join(
            f"{message[0] >> 4:X}n {message[1:].hex(' ').upper()}" if is_open else message.hex(" ").upper()
            for message, is_open in zip(self.messages, self.open_channel, strict=True)
        )


def _byte(place: int, word: str) -> int:
    if _BYTE.fullmatch(word):
        return int(word, 16)
    if _OPEN_STATUS.fullmatch(word):
        return int(word[0], 16) << 4
    if re.fullmatch(r"[Ff][nN]", word):
        raise _error(place, word, "a message that begins with F has no channel")
    raise _error(place, word, "which is no byte")


def _starts(data: bytes, words: list[str]) -> list[int]:
    """Return where each message begins, having checked that each is whole; `words` are for the errors."""
    starts, at = [], 0
    while at < len(data):
        starts.append(at)
        at = _end_of_message(data, at, words)
    return starts


def _end_of_message(data: bytes, start: int, words: list[str]) -> int:
    status = data[start]
    if status < STATUS_FIRST:
        raise _error(start + 1, words[start], "where a message has to begin: a status byte, 80 to FF")
    facts = facts_of(status)
    if facts is None or status == SYSEX_END:
        raise _error(start + 1, words[start], "which begins no message")
    if facts.data_bytes is None:
        return _end_of_exclusive(data, start, words)
    return _end_of_counted(data, start, words, facts.name, facts.data_bytes)


def _end_of_counted(data: bytes, start: int, words: list[str], name: str, count: int) -> int:
    found = data[start + 1 : start + 1 + count]
    for place, byte in enumerate(found, start + 1):
        if byte >= STATUS_FIRST:
            raise _error(place + 1, words[place], f"where the {name} begun at byte {start + 1} has a value, 00 to 7F")
    if len(found) < count:
        raise _error(start + 1, words[start], f"a {name} with {len(found)} of its {count} values")
    return start + 1 + count


def _end_of_exclusive(data: bytes, start: int, words: list[str]) -> int:
    for place in range(start + 1, len(data)):
        if data[place] == SYSEX_END:
            return place + 1
        if data[place] >= STATUS_FIRST:
            raise _error(place + 1, words[place], "inside an exclusive message, where values are 00 to 7F")
    raise _error(start + 1, words[start], "an exclusive message without its last byte, F7")


def _error(place: int, found: str, why: str) -> ValueError:
    return ValueError(f'message, byte {place}: found "{found}", {why}; {_ACCEPTED}')
