"""How a unit that may be chosen stands at home: as in another rig of the library, else in its first preset."""

from collections.abc import Iterable

from scenebook.model import Library, Setting

__all__ = ["homes_of"]


def homes_of(library: Library, names: Iterable[str]) -> dict[str, Setting]:
    """Return how each unit stands before the first scene: as at home in another rig, else in its first preset.

    A unit with presets needs one at home, since what only presets work would be anyhow before the first recall.
    """
    homes: dict[str, Setting] = {}
    for name in names:
        known = next((rig.home[name] for rig in library.rigs.values() if name in rig.home), None)
        first = library.units[name].presets
        if known is not None:
            homes[name] = known
        elif first:
            homes[name] = {"preset": first[0].slot}
    return homes
