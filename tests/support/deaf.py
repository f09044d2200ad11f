"""Real links that are not quite whole: leads that lose or change what passes."""

from scenebook.midi import InPort

__all__ = ["ChangingIn", "DroppingIn"]


class DroppingIn(InPort):
    """Gives what another input gives, but for the message of one number, counted from 1."""

    def __init__(self, inner: InPort, *, message: int) -> None:
        self.name, self._inner, self._message, self._count = inner.name, inner, message, 0

    def poll(self) -> list[bytes]:
        kept = []
        for data in self._inner.poll():
            self._count += 1
            kept += [] if self._count == self._message else [data]
        return kept

    def close(self) -> None:
        self._inner.close()


class ChangingIn(InPort):
    """Gives what another input gives, but for one bit in the last byte of the message of one number, from 1."""

    def __init__(self, inner: InPort, *, message: int) -> None:
        self.name, self._inner, self._message, self._count = inner.name, inner, message, 0

    def poll(self) -> list[bytes]:
        given = []
        for data in self._inner.poll():
            self._count += 1
            given.append(data[:-1] + bytes([data[-1] ^ 1]) if self._count == self._message else data)
        return given

    def close(self) -> None:
        self._inner.close()
