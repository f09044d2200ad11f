"""What is different tonight, and the library as it stands with it: songs and rigs themselves stay as they are."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from scenebook.live.places import Place

__all__ = ["Tonight"]


@dataclass(frozen=True)
class Tonight:
    """Units that are out, played by another or deaf to MIDI; keys and tempos of songs by place; what is cut of forms.

    The places of keys and tempos have form 0.
    """

    out: frozenset[str] = frozenset()
    played_by: Mapping[str, str] = field(default_factory=dict)
    deaf: frozenset[str] = frozenset()
    keys: Mapping[Place, str] = field(default_factory=dict)
    tempos: Mapping[Place, float] = field(default_factory=dict)
    cut: frozenset[Place] = frozenset()
