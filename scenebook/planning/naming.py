"""A rig from a set of units: its chain (ordering.py), free channels for what hears MIDI, and its stand-ins."""

from collections.abc import Sequence

from scenebook.model import Library, Placement, Rig, Unit
from scenebook.model.protocol import CHANNELS
from scenebook.planning.asking import PORT, hears_midi
from scenebook.planning.homes import homes_of
from scenebook.planning.loop_rigs import loop_switches
from scenebook.planning.ordering import ordered_chain
from scenebook.planning.worth import all_stand_ins

__all__ = ["rig_of"]


def rig_of(library: Library, names: Sequence[str], *, by_hand: bool = False) -> Rig:
    """Return a rig of the named units; with `by_hand` none of them has a port and channel.

    Its stand-ins are all of the library's rigs that these units can play: with fewer, places could be shared out
    otherwise than was reckoned with, or a carried unit that dies would seem to have nothing in its place. What feeds
    others, or holds loops, stands outside the chain.
    """
    outside = [name for name in names if library.units[name].outlets or loop_switches(library.units[name])]
    chain = tuple(name for name in names if name not in outside)
    stand_ins = tuple(each for each in all_stand_ins(library) if each.by in names)

    def built(order: Sequence[str]) -> Rig:
        placed = {} if by_hand else _placements({name: library.units[name] for name in (*order, *outside)})
        units = {name: Placement() for name in outside} | placed
        return Rig(chain=tuple(order), units=units, home=homes_of(library, order), stand_ins=stand_ins)

    return built(ordered_chain(library, built(chain)))


def _placements(units: dict[str, Unit]) -> dict[str, Placement]:
    """Return a channel for each unit that hears MIDI; a second port where one port's channels run out."""
    placed = {}
    channels = [channel for channel in CHANNELS if channel]
    for number, name in enumerate(name for name, unit in units.items() if hears_midi(unit)):
        port, channel = divmod(number, len(channels))
        placed[name] = Placement(port=PORT if port == 0 else f"{PORT} {port + 1}", channel=channels[channel])
    return placed
