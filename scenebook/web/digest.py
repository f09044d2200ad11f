"""Whether two stands would do the same: short digests of what each cue sends and asks of hands."""

import hashlib
import json
from collections.abc import Iterator

from scenebook.live.programme import Programme, Step

__all__ = ["programme_digest", "step_digest", "steps_of"]

_LENGTH = 16  # 64 bits: two evenings that differ by accident do not meet


def step_digest(step: Step) -> str:
    """Return the digest of one cue: its name, its messages lean and full, its moves by hand."""
    said: list[object] = [step.place, step.full.song, step.full.scene]
    for cue in (step.lean, step.full):
        said.append([[m.port, m.unit, m.data.hex(), m.at_us] for m in cue.messages])
        said.append([tuple(move) for move in cue.by_hand])
    return _digest(json.dumps(said))


def steps_of(programme: Programme) -> Iterator[Step]:
    """Yield every cue that can be called, in a fixed order."""
    yield from programme.steps
    for spare in programme.spares:
        yield from spare
    yield from programme.house
    yield programme.safe


def programme_digest(programme: Programme) -> str:
    """Return the digest of all that can be called tonight."""
    return _digest(" ".join(step_digest(step) for step in steps_of(programme)))


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8", "backslashreplace")).hexdigest()[:_LENGTH]
