"""Put a whole library into a store, and compare two with the order of everything counting."""

from scenebook.model import Library
from scenebook.storage import Store

__all__ = ["fill", "text"]


def fill(store: Store, library: Library, what: str = "fill") -> None:
    """Put everything in one change."""
    with store.change(what) as change:
        change.put_settings(library.settings)
        for name, unit in library.units.items():
            change.put_unit(name, unit)
        for name, rig in library.rigs.items():
            change.put_rig(name, rig)
        for name, song in library.songs.items():
            change.put_song(name, song)
        for name, gig in library.gigs.items():
            change.put_gig(name, gig)


def text(library: Library) -> str:
    """Return a library as text in which the order of keys shows, but not that of the aggregates."""
    ordered = {kind: dict(sorted(getattr(library, kind).items())) for kind in ("units", "rigs", "songs", "gigs")}
    return Library(settings=library.settings, **ordered).model_dump_json(indent=1)
