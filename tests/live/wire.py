"""What the tests of a running gig send and listen with: short messages, a port that keeps what it gets."""

from scenebook.cueing.cues import Message, MessageKind
from scenebook.errors import PortError
from scenebook.midi import OutPort

__all__ = ["Kept", "message", "note", "recall", "release"]


class Kept(OutPort):
    """A port that keeps what it is sent, and can be pulled out."""

    def __init__(self, name: str = "kept") -> None:
        self.name, self.sent, self.is_out, self.closed = name, list[bytes](), False, False

    def send(self, message: bytes) -> None:
        if self.is_out:
            raise PortError(f"the port '{self.name}' is gone")
        self.sent.append(message)

    def close(self) -> None:
        self.closed = True


def message(unit: str, data: str, kind: MessageKind = MessageKind.CONTROL, *, port: str = "front") -> Message:
    return Message(port, unit, kind, "member", "value", bytes.fromhex(data), 0)


def recall(unit: str, data: str) -> Message:
    return message(unit, data, MessageKind.RECALL)


def note(unit: str, data: str) -> Message:
    return Message("front", unit, MessageKind.TRIGGER, "hit", "60", bytes.fromhex(data), 0)


def release(unit: str, data: str) -> Message:
    return Message("front", unit, MessageKind.TRIGGER, "hit", "release", bytes.fromhex(data), 0)
