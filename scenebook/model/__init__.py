"""What a library says: values, units, rigs, songs, gigs, messages, and the protocol's table. Pure."""

from scenebook.model.base import MAIN, Frozen, Setting, find_name, near_name
from scenebook.model.gigs import Gig, GigSet, SetEntry
from scenebook.model.library import Library, Settings
from scenebook.model.objects import Outlet, Size, Supply
from scenebook.model.on_stage import Lists, Playback, Sender, StepTrigger, Wire
from scenebook.model.practice import Practice
from scenebook.model.rigs import Lead, Parallel, Placement, Rig, StandIn
from scenebook.model.songs import FormEntry, Instrument, Scene, Song
from scenebook.model.units import Control, Preset, Programs, Role, Switch, Trigger, Unit, Variant

__all__ = [
    "MAIN",
    "Control",
    "FormEntry",
    "Frozen",
    "Gig",
    "GigSet",
    "Instrument",
    "Lead",
    "Library",
    "Lists",
    "Outlet",
    "Parallel",
    "Placement",
    "Playback",
    "Practice",
    "Preset",
    "Programs",
    "Rig",
    "Role",
    "Scene",
    "Sender",
    "SetEntry",
    "Setting",
    "Settings",
    "Size",
    "Song",
    "StandIn",
    "StepTrigger",
    "Supply",
    "Switch",
    "Trigger",
    "Unit",
    "Variant",
    "Wire",
    "find_name",
    "near_name",
]
