"""Small gigs compiled, and their cues as short words: what a test of one rule asserts."""

from collections.abc import Mapping
from typing import Any

from scenebook.cueing.compile import compile_gig
from scenebook.cueing.cues import Action, Cue
from scenebook.model import Library, Rig, Unit
from tests.support.build import GIG, library, rig, song

__all__ = ["PORT", "compiled", "hands", "on_port", "one_song", "sent", "stands"]

PORT = "front"


def on_port(*names: str, port: str = PORT) -> dict[str, Any]:
    """Return placements: each unit on a channel of its own, from 1."""
    return {name: {"port": port, "channel": channel} for channel, name in enumerate(names, 1)}


def one_song(units: Mapping[str, Unit], /, *scenes: Mapping[str, Any], midi: bool = True, **of_rig: Any) -> Library:
    """Return a library with one song whose scenes "1", "2" and so on are played in order, 120 quarters a minute."""
    placements = on_port(*units) if midi else {}
    board: Rig = rig(*units, **{"units": placements, **of_rig})
    return library(units, board, song({str(n): scene for n, scene in enumerate(scenes, 1)}, tempo=120))


def compiled(of: Library, *, full: bool = False) -> tuple[Cue, ...]:
    """Return the cues of the library's only gig."""
    return compile_gig(of, GIG, full=full).cues


def sent(cue: Cue) -> list[str]:
    """Return a cue's messages as "ms: bytes", with the port in front where it is not the usual one."""
    return [
        ("" if m.port == PORT else f"{m.port} ") + f"{m.at_us / 1000:g}: {m.data.hex(' ').upper()}"
        for m in cue.messages
    ]


def hands(cue: Cue) -> list[str]:
    """Return what hands and feet do at a cue, checks by the lamp left out: "press fuzz main on, at the cue"."""
    return [
        f"{m.action} {m.unit} {m.member} {m.before + ' > ' if m.before else ''}{m.after}, {m.moment}"
        for m in cue.by_hand
        if m.action is not Action.CHECK
    ]


def stands(cue: Cue, unit: str) -> dict[str, str]:
    """Return the determined members of a unit after a cue, as written; its preset and variant too where known."""
    state = next(each for each in cue.states if each.unit == unit)
    words = {key: text for key, text in (("preset", state.preset), ("variant", state.variant)) if text is not None}
    return {**words, **state.values}
