"""Say how a rig is run on stage: which MIDI port each of its ports leaves by, what steps the gig, the quiet state."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, get_args

from scenebook.actions.entry import said
from scenebook.actions.making import made
from scenebook.errors import BadValueError
from scenebook.model import Rig, StepTrigger, Wire, find_name
from scenebook.model.base import place_text
from scenebook.storage import open_library

__all__ = ["OnStage", "set_stage"]

_DOES = get_args(StepTrigger.model_fields["does"].annotation)
_KINDS = ("note", "controller", "program", "song")


@dataclass(frozen=True, slots=True)
class OnStage:
    """What a player says of a rig on stage; what is not named stays.

    `wires` are texts such as "front=interface 1" ("front=" names none any more); `usb`, `five_pin`, `clock` and
    `no_clock` are ports; `steps` are texts such as "next=note:60:16" or "safe=song:9" ("next=" takes those away);
    `safe` are settings such as "multi=plain", and "multi=home" takes one away.
    """

    wires: Sequence[str] = ()
    usb: Sequence[str] = ()
    five_pin: Sequence[str] = ()
    clock: Sequence[str] = ()
    no_clock: Sequence[str] = ()
    steps: Sequence[str] = ()
    safe: Sequence[str] = ()


def set_stage(path: Path, rig: str, on_stage: OnStage) -> tuple[str, Rig]:
    """Put into a rig what is said of it, and return its name and how it is now.

    Raises:
        UnknownNameError: no rig, port, unit, member or step of a name.
        BadValueError: a text cannot be read, or one message would do two things.
    """
    with open_library(path) as store, store.change(f"rig stage {rig}") as change:
        name = store.find("rig", rig)
        old, where = store.rig(name), place_text("rig", name)
        values: dict[str, Any] = {each: getattr(old, each) for each in old.model_fields_set}
        values["wires"] = _wires(old, on_stage, where)
        values["steps"] = _steps(old, on_stage.steps, where)
        values["safe"] = said(old.safe, on_stage.safe, old.carried, store.unit)[0]
        new = made(Rig, {key: value for key, value in values.items() if value or key in old.model_fields_set}, where)
        if new != old:
            change.put_rig(name, new)
    return name, new


def _wires(rig: Rig, on_stage: OnStage, where: str) -> dict[str, Wire]:
    wires = dict(rig.wires)

    def put(port: str, **fields: Any) -> None:
        full = find_name(port.strip(), rig.ports, "port of the rig")
        old = wires.get(full, Wire())
        kept = {each: getattr(old, each) for each in old.model_fields_set}
        wires[full] = made(Wire, {**kept, **fields}, where)

    for text in on_stage.wires:
        port, sign, midi = text.partition("=")
        if not sign:
            raise BadValueError(f"{text!r} does not say which MIDI port", where=where, accepted="PORT=MIDI PORT")
        put(port, midi=midi.strip())
    for port, fields in _switched(on_stage):
        put(port, **fields)
    return wires


def _switched(on_stage: OnStage) -> Iterable[tuple[str, Mapping[str, Any]]]:
    yield from ((port, {"plug": "usb"}) for port in on_stage.usb)
    yield from ((port, {"plug": "5-pin"}) for port in on_stage.five_pin)
    yield from ((port, {"clock": True}) for port in on_stage.clock)
    yield from ((port, {"clock": False, "start_stop": False}) for port in on_stage.no_clock)


def _steps(rig: Rig, texts: Sequence[str], where: str) -> tuple[StepTrigger, ...]:
    steps = list(rig.steps)
    for text in texts:
        does, sign, message = text.partition("=")
        verb = find_name(does.strip(), _DOES, "step")
        if not sign:
            raise _no_step(text, where)
        if not message.strip():
            steps = [each for each in steps if each.does != verb]
            continue
        kind, *numbers = (part.strip() for part in message.split(":"))
        if kind not in _KINDS or len(numbers) != (1 if kind == "song" else 2):
            raise _no_step(text, where)
        fields = {"does": verb, kind: numbers[0], **({"channel": numbers[1]} if kind != "song" else {})}
        steps.append(made(StepTrigger, fields, where))
    return tuple(dict.fromkeys(steps))


def _no_step(text: str, where: str) -> BadValueError:
    return BadValueError(
        f"{text!r} is no step",
        where=where,
        accepted="STEP=KIND:NUMBER:CHANNEL, such as next=note:60:16, safe=controller:67:16, back=song:9; "
        f"the steps are {', '.join(_DOES)}",
    )
