"""Short builders for small hand-made libraries: only the detail that matters stands in a test.

Everything goes through the model's own validation, in the words of the neutral format.
"""

from collections.abc import Iterable, Mapping
from typing import Any

from scenebook.model import Gig, Library, Rig, Song, Unit

__all__ = ["GIG", "RIG", "SONG", "gig", "library", "rig", "song", "unit"]

GIG, RIG, SONG = "gig", "rig", "song"  # the names that `library` gives when there is only one


def unit(*, preset: Iterable[Mapping[str, Any]] = (), **said: Any) -> Unit:
    """Return a unit; `preset` lists its presets, for which it has programs unless told otherwise."""
    presets = list(preset)
    if presets and "programs" not in said:
        said["programs"] = {"count": 128, "first": "0", "settle_ms": 0}
    return Unit.model_validate({**said, "presets": presets})


def rig(*chain: str, **said: Any) -> Rig:
    """Return a rig with these units in its chain."""
    return Rig.model_validate({"chain": chain, **said})


def song(scenes: Mapping[str, Any], *form: str | Mapping[str, Any], **said: Any) -> Song:
    """Return a song; a scene is its units' settings, or with `units` among its keys the whole of it."""
    whole = {name: scene if "units" in scene else {"units": scene} for name, scene in scenes.items()}
    return Song.model_validate({"scenes": whole, "form": form, **said})


def gig(*songs: str | Mapping[str, Any], **said: Any) -> Gig:
    """Return a gig of one set."""
    return Gig.model_validate({"rig": RIG, "sets": [{"name": "first", "songs": songs}], **said})


def library(
    units: Mapping[str, Unit], of_rig: Rig, songs: Mapping[str, Song] | Song, of_gig: Gig | None = None
) -> Library:
    """Return a library with one rig and one gig; without one, all songs in their order."""
    named = {SONG: songs} if isinstance(songs, Song) else dict(songs)
    return Library(
        units=dict(units), rigs={RIG: of_rig}, songs=named, gigs={GIG: of_gig if of_gig is not None else gig(*named)}
    )
