"""The records of a running gig: plain values, one for each thing that happens, enough to stand where it stood.

Every record has "kind" and "at" (seconds since the epoch). Places are written as [part, entry, form].
"""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from scenebook.live.stepping import Standing

__all__ = ["closed", "dropped", "noticed", "replayed", "sent"]

Record = Mapping[str, Any]


def sent(port: str, messages: Sequence[bytes], at: float) -> Record:
    """Return the record of what has gone out on a port: {"kind": "sent", "port": ..., "bytes": ["C0 05", ...]}."""
    raise NotImplementedError


def dropped(port: str, messages: Sequence[bytes], at: float) -> Record:
    """Return the record of what will never go out on a port."""
    raise NotImplementedError


def noticed(words: str, about: str, at: float) -> Record:
    """Return the record of a notice."""
    raise NotImplementedError


def closed(why: str, at: float) -> Record:
    """Return the record with which a run ends by itself; after a crash it lacks."""
    raise NotImplementedError


def replayed(records: Iterable[Record]) -> Standing | None:
    """Return where a gig stands after its records, in their order; None where no record says anything of that.

    What it does not understand it passes over: a record of a newer program, a line that was torn.
    """
    raise NotImplementedError
