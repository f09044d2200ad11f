"""Find the port that a player means: names are long, and typed in a dark hall."""

import re
from collections.abc import Iterable, Sequence
from typing import Final

from scenebook.errors import PortError

__all__ = ["CLIENT", "is_ours", "listed_ports", "port_named"]

CLIENT: Final = "scenebook"  # the name of our clients; a carrier's has "stand" and its process number behind it
# JACK puts "-01" behind a name that is taken. CoreMIDI shows a port that was made without the client before it.
_OURS: Final = re.compile(rf"{CLIENT}( stand( \d+)?)?(-\d+)?:|proof-\d+-\d+")
_TO_DO: Final = {"output port": "send to", "input port": "listen to"}


def is_ours(name: str) -> bool:
    """Return whether a port is one of our own clients', as a running gig and a proof make them."""
    return _OURS.match(name) is not None


def port_named(name: str, names: Sequence[str], *, kind: str = "output port", besides: Sequence[str] = ()) -> str:
    """Return the one of `names` that is meant: the same, the same but for capitals, or the only one that begins so.

    `besides` is what else would have been accepted.

    Raises:
        PortError: none, or several; it lists what there is.
    """
    wanted = name.casefold()
    by_closeness = (
        [port for port in names if port == name],
        [port for port in names if port.casefold() == wanted],
        [port for port in names if port.casefold().startswith(wanted)],
    )
    for hits in by_closeness:
        if len(set(hits)) == 1:
            return hits[0]
        if hits:
            raise PortError(
                f"several {kind}s begin with '{name}': {listed_ports(hits)}",
                remedy="Write more of the name",
            )
    raise _unknown(name, names, kind, besides)


def listed_ports(names: Iterable[str]) -> str:
    """Return names of ports as a sentence holds them."""
    return ", ".join(f"'{name}'" for name in names) or "none"


def _unknown(name: str, names: Sequence[str], kind: str, besides: Sequence[str]) -> PortError:
    if not names and not besides:
        return PortError(
            f"there is no {kind} '{name}': no MIDI port is there to {_TO_DO.get(kind, 'be used')}",
            remedy="Connect a MIDI interface and look with `scenebook ports`",
        )
    import difflib  # late: only an error needs it

    by_folded = {port.casefold(): port for port in names}
    near = difflib.get_close_matches(name.casefold(), by_folded, n=1, cutoff=0.4)
    return PortError(
        f"there is no {kind} '{name}'",
        accepted=listed_ports([*names, *besides]),
        remedy=f"The nearest is '{by_folded[near[0]]}'" if near else "Look with `scenebook ports`",
    )
