"""The wire: ports to send to and read from, and Standard MIDI Files.

The only room that knows mido and python-rtmidi; both are imported when first needed, since they cost start-up
time and may be missing. It knows the model alone.
"""

from scenebook.midi.links import Link, open_link, open_output, ports
from scenebook.midi.ports import InPort, OutPort, PortInfo, loopback_pair
from scenebook.midi.round_trip import exchange
from scenebook.midi.smf import (
    SmfEvent,
    SmfFile,
    SmfMeta,
    SmfTrack,
    cue_point,
    marker,
    smf_bytes,
    tempo,
    text,
    time_signature,
    track_name,
)
from scenebook.midi.smf_reader import read_smf, smf_from_bytes

__all__ = [
    "InPort",
    "Link",
    "OutPort",
    "PortInfo",
    "SmfEvent",
    "SmfFile",
    "SmfMeta",
    "SmfTrack",
    "cue_point",
    "exchange",
    "loopback_pair",
    "marker",
    "open_link",
    "open_output",
    "ports",
    "read_smf",
    "smf_bytes",
    "smf_from_bytes",
    "tempo",
    "text",
    "time_signature",
    "track_name",
]
