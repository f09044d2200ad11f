"""How a rig is run on stage: how its ports leave the computer, what steps through the gig, what holds lists itself."""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from scenebook.model.base import Frozen, Line, Name
from scenebook.model.protocol import CHANNELS

__all__ = ["Lists", "Playback", "Sender", "StepTrigger", "Wire"]

_Data = Annotated[int, Field(ge=0, le=127)]
_Channel = Annotated[int, Field(ge=1, le=CHANNELS[-1])]


class Wire(Frozen):
    """How one of the rig's ports leaves the computer.

    A 5-pin plug carries 31,250 baud, and what is sent is paced to it; a USB device is sent to as fast as it takes.
    `midi` is the MIDI port on the player's computer. With `clock` the song's tempo goes out as MIDI clock, 24 a quarter
    note, and with `start_stop` Start and Stop as well.
    """

    plug: Literal["5-pin", "usb"] = "5-pin"
    midi: Line = ""
    clock: bool = False
    start_stop: bool = False

    @model_validator(mode="after")
    def _start_with_clock(self) -> Self:
        if self.start_stop and not self.clock:
            raise ValueError("start_stop needs clock: Start means nothing without it")
        return self


class StepTrigger(Frozen):
    """A message that steps the running gig: one press of a footswitch that speaks MIDI.

    `listens` is the MIDI port that it comes in by; without it, any. A controller counts from value 64 up, and with
    `latching` at every change, for a footswitch that sends 127 and 0 in turn. It had better be a message that the gig
    itself never sends: one that went out less than a quarter of a second ago, on any port, is taken for our own that
    has come back around a thru, and steps nothing.
    """

    does: Literal["next", "back", "send again", "safe", "resume the set"]
    listens: Line = ""
    channel: _Channel | None = None
    note: _Data | None = None
    controller: _Data | None = None
    program: _Data | None = None
    song: _Data | None = None
    latching: bool = False

    @model_validator(mode="after")
    def _one_message(self) -> Self:
        given = [name for name in ("note", "controller", "program", "song") if getattr(self, name) is not None]
        if len(given) != 1:
            raise ValueError("give one of: note, controller, program, song (Song Select)")
        if (self.channel is None) != (given == ["song"]):
            raise ValueError("note, controller and program need a channel; Song Select has none")
        return self


class Playback(Frozen):
    """How a playback rig calls songs: by a program change on one channel, or by Song Select, or both.

    The number is the song's own `number`, else its place in the evening, from 0. A controller on the same channel
    reaches a part of the form, from 0. What is called twice is done once.
    """

    listens: Line = ""
    channel: _Channel | None = None
    song_select: bool = False
    part_controller: _Data | None = None

    @model_validator(mode="after")
    def _something(self) -> Self:
        if self.channel is None and not self.song_select:
            raise ValueError("give channel, or song_select: by what songs are called")
        if self.part_controller is not None and self.channel is None:
            raise ValueError("part_controller needs a channel")
        return self


class Lists(Frozen):
    """What a unit can hold of message lists: how many, how many messages in each, on how many channels in each.

    `switches` are its footswitches in one bank, so that a list is shown as the unit shows it: bank and switch. With
    `pauses` a list can hold a pause between two messages.
    """

    count: Annotated[int, Field(ge=1, le=100_000)]
    messages: Annotated[int, Field(ge=1, le=10_000)]
    channels: Annotated[int, Field(ge=1, le=16)] = 16
    switches: Annotated[int, Field(ge=1, le=128)] | None = None
    pauses: bool = Field(default=False, description="a list can hold a pause between two messages")


class Sender(Frozen):
    """A unit of the rig that holds the lists of messages itself and sends them to ports of its own, with no laptop."""

    unit: Name
    ports: tuple[Name, ...]
