"""Rigs: the units that travel together, in their chain, with their ports, loops, home and stand-ins."""

from functools import cached_property
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from scenebook.model.base import Frozen, Line, Name, Prose, Setting
from scenebook.model.on_stage import Playback, Sender, StepTrigger, Wire
from scenebook.model.protocol import CHANNELS

__all__ = ["Channel", "Lead", "Parallel", "Placement", "Rig", "StandIn"]

Channel = Annotated[int, Field(ge=1, le=CHANNELS[-1])]


class Parallel(Frozen):
    """A place in the chain where the signal runs side by side; an empty path is the dry signal."""

    parallel: tuple[tuple[Name, ...], ...]


class Placement(Frozen):
    """Where a unit hears its messages: a port, the channel to send on, and what else it hears.

    `hears` is all channels (`omni`) or several; unless given it is `channel` alone. With no channel a unit is worked by
    hand throughout, its recalls included.
    """

    port: Name | None = None
    channel: Channel | None = None
    hears: Literal["omni"] | tuple[Channel, ...] | None = None

    @cached_property
    def channels(self) -> frozenset[int]:
        """The channels whose messages the unit obeys; empty without MIDI."""
        if self.port is None:
            return frozenset()
        if self.hears == "omni":
            return frozenset(CHANNELS)
        return frozenset(self.hears or ()) | ({self.channel} if self.channel else set())

    @model_validator(mode="after")
    def _port_and_channel(self) -> Self:
        if (self.port is None) != (self.channel is None):
            raise ValueError("port and channel go together")
        if self.hears is not None and self.port is None:
            raise ValueError("hears needs a port and a channel")
        return self


class StandIn(Frozen):
    """What plays the part of a unit, switch or preset that stays at home.

    `part` is the unit that is missing; `part_switch` or `part_preset` narrows it to one of its switches or presets.
    `by` with `switch` or `preset` plays it, with a `likeness` of 0 to 1 by the player's ear. `controls` carries
    controls over, from the missing unit's to the carried one's.
    """

    part: Name
    part_switch: Name | None = None
    part_preset: Line | None = None
    by: Name
    switch: Name | None = None
    preset: Line | None = None
    likeness: Annotated[float, Field(ge=0, le=1)] = 1.0
    controls: dict[Name, Name] = Field(default_factory=dict)

    @model_validator(mode="after")
    def _one_place(self) -> Self:
        if (self.switch is None) == (self.preset is None):
            raise ValueError("give switch or preset: what plays the part")
        if self.part_switch is not None and self.part_preset is not None:
            raise ValueError("give part_switch or part_preset, not both")
        return self


class Lead(Frozen):
    """A MIDI lead: from a port of the computer (`port`) or a unit's thru, to a unit."""

    port: Name | None = None
    thru: Name | None = None
    to: Name

    @model_validator(mode="after")
    def _one_end(self) -> Self:
        if (self.port is None) == (self.thru is None):
            raise ValueError("give port or thru: where the lead comes from")
        return self


class Rig(Frozen):
    """The units that travel together.

    `chain` is the order of the signal; a unit whose send and return hold others stands in it twice. `loops` maps a
    switcher's switches to the units in each loop, `sends` a multi-effects' switch to the units in its send and return.
    `home` is how the rig stands before its first scene. `supply`, `frame_g` and `case_g` travel too, outside the chain.
    """

    chain: tuple[Name | Parallel, ...] = ()
    units: dict[Name, Placement] = Field(default_factory=dict)
    loops: dict[Name, dict[Name, tuple[Name, ...]]] = Field(default_factory=dict)
    sends: dict[Name, dict[Name, tuple[Name, ...]]] = Field(default_factory=dict)
    home: dict[Name, Setting] = Field(default_factory=dict)
    stand_ins: tuple[StandIn, ...] = ()
    leads: tuple[Lead, ...] = ()
    supply: Name | None = Field(default=None, description="the unit with outlets that feeds the others")
    frame_g: Annotated[float, Field(gt=0, le=100_000)] | None = Field(default=None, description="the bare board")
    case_g: Annotated[float, Field(gt=0, le=100_000)] | None = Field(default=None, description="its case or bag")
    wires: dict[Name, Wire] = Field(default_factory=dict, description="how its ports leave the computer, by port")
    steps: tuple[StepTrigger, ...] = Field(default=(), description="messages that step the running gig")
    playback: Playback | None = Field(default=None, description="how a playback rig calls songs")
    safe: dict[Name, Setting] = Field(default_factory=dict, description="the player's own quiet state")
    sender: Sender | None = Field(default=None, description="the unit that holds message lists itself")
    notes: Prose = ""

    @cached_property
    def carried(self) -> tuple[str, ...]:
        """The units in chain order, each once, then those that are outside the chain (a switcher, a tuner)."""
        order: dict[str, None] = {}
        for link in self.chain:
            names = [link] if isinstance(link, str) else [name for path in link.parallel for name in path]
            order.update(dict.fromkeys(names))
        order.update(dict.fromkeys(self.loops))
        order.update(dict.fromkeys(self.units))
        return tuple(order)

    def placement(self, unit: str) -> Placement:
        """Where `unit` hears its messages; a unit of which nothing is said hears none."""
        return self.units.get(unit, _NOWHERE)

    @cached_property
    def ports(self) -> tuple[str, ...]:
        """The MIDI ports that the rig uses, in chain order."""
        return tuple(dict.fromkeys(p for name in self.carried if (p := self.placement(name).port)))


_NOWHERE = Placement()
