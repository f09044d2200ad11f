"""What the player has to be told of ports and faults, in sentences."""

from collections.abc import Iterable, Mapping

from scenebook.live.snapshot import Notice, PortNow, PortState

__all__ = ["told"]


def told(ports: Iterable[PortNow], lacking: Iterable[str], faults: Mapping[str, str]) -> tuple[Notice, ...]:
    """Return the notices of ports that are gone, of inputs that are not there, and of faults by what they are about."""
    gone = [
        Notice(f"Nothing reaches the port '{each.port}', and the gig goes on by hand{_why(each)}", f"port {each.port}")
        for each in ports
        if each.state is PortState.GONE
    ]
    deaf = [
        Notice(f"The MIDI port '{name}', by which the gig is stepped, is not there", f"input {name}")
        for name in lacking
    ]
    return (*gone, *deaf, *(Notice(words, about) for about, words in faults.items()))


def _why(port: PortNow) -> str:
    return f": {port.words}" if port.words else ""
