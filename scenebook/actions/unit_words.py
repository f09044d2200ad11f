"""Read what a player types of a new unit: roles, knobs, pedals, switches, presets. Pure: texts in, values out."""

from collections.abc import Callable, Iterable
from typing import Any

from scenebook.actions.making import given
from scenebook.errors import BadValueError, UnknownNameError
from scenebook.model import Role
from scenebook.model.base import did_you_mean, find_name
from scenebook.model.values import Scale

__all__ = ["knob", "pedal", "preset", "role", "stores", "switch"]

# Words that players use for what a role is called here.
_ROLE_WORDS = {
    "boost": Role.DRIVE, "chorus": Role.MODULATION, "compressor": Role.DYNAMICS, "distortion": Role.DRIVE,
    "echo": Role.DELAY, "eq": Role.FILTER, "equaliser": Role.FILTER, "equalizer": Role.FILTER,
    "flanger": Role.MODULATION, "gate": Role.DYNAMICS, "harmoniser": Role.PITCH, "harmonizer": Role.PITCH,
    "limiter": Role.DYNAMICS, "loop": Role.LOOPER, "octaver": Role.OCTAVE, "overdrive": Role.DRIVE,
    "phaser": Role.MODULATION, "rotary": Role.MODULATION, "switcher": Role.UTILITY, "synthesiser": Role.SYNTH,
    "synthesizer": Role.SYNTH, "tremolo": Role.MODULATION, "vibrato": Role.MODULATION, "wah": Role.FILTER,
}  # fmt: skip


def role(text: str, where: str) -> Role:
    """Return the role that a word names: the role's own, or one that players use for it.

    Raises:
        UnknownNameError: no role is called so.
    """
    known = {str(each): each for each in Role} | _ROLE_WORDS
    found = known.get(text.strip().casefold())
    if found is None:
        near = did_you_mean(text, known)
        raise UnknownNameError(f"no role is called {text!r}", where=where, accepted=", ".join(Role), remedy=near)
    return found


def switch(text: str, where: str) -> tuple[str, dict[str, Any]]:
    """Return the name and the ways of a switch: "boost" (by foot), "fat:hand", "chorus:74", "chorus:foot:74".

    Raises:
        BadValueError: a way is none of these.
    """
    name, *parts = [part.strip() for part in text.split(":")]
    ways: dict[str, Any] = {}
    for part in parts:
        if part in ("foot", "hand", "momentary"):
            ways[part] = True
        elif part.isdigit():
            ways["message"] = {"controller": part}
        else:
            accepted = "NAME (by foot), or behind it :foot, :hand, :momentary, or the number of a controller"
            raise BadValueError(f"{text!r} is no switch", where=where, accepted=accepted)
    if not ways.keys() & {"foot", "hand", "message"}:
        ways["foot"] = True
    return name, ways


def pedal(text: str, where: str) -> tuple[str, dict[str, Any]]:
    """Return the name and the values of a control that a pedal sets, written as a knob is.

    Raises:
        BadValueError: the text cannot be read.
    """
    name, values = knob(text, where)
    return name, {**{key: value for key, value in values.items() if key != "hand"}, "pedal": True}


def knob(text: str, where: str) -> tuple[str, dict[str, Any]]:
    """Return the name and the values of a knob: "gain:clock", "time:ms:21:20 ms..1500 ms", "mode:room/hall".

    Raises:
        BadValueError: the text cannot be read.
    """
    name, *parts = [part.strip() for part in text.split(":")]
    if not name or not 1 <= len(parts) <= 3:
        raise BadValueError(
            f"{text!r} is no knob", where=where, accepted="NAME:SCALE, NAME:SCALE:CONTROLLER, or with :LOW..HIGH behind"
        )
    scale, controller, span = [*parts, "", ""][:3]
    choices = [choice.strip() for choice in scale.split("/")] if "/" in scale else []
    if choices and controller:
        raise BadValueError(
            f"the choices of {name!r} need a value each for controller {controller}",
            where=where,
            remedy="Write the unit into a file and import it",
        )
    if not choices and scale not in list(Scale):
        raise BadValueError(
            f"{scale!r} is no scale of a knob", where=where, accepted=f"{', '.join(Scale)}; or choices: room/hall"
        )
    message = given(controller=controller, range=[end.strip() for end in span.split("..")] if span else None)
    return name, {"scale": "choice" if choices else scale, "hand": True, **given(choices=choices, message=message)}


def preset(text: str, where: str, members: Iterable[str]) -> dict[str, Any]:
    """Return a preset of "12=dark", or with what it stores, "12=dark: chorus=on, depth=40 %"; members may be shortened.

    Raises:
        BadValueError: the text cannot be read.
        UnknownNameError: no member of a name.
    """
    slot, sign, rest = text.partition("=")
    if not sign or not slot.strip():
        accepted = "SLOT=NAME, such as 12=wide, or SLOT=NAME: MEMBER=VALUE, MEMBER=VALUE"
        raise BadValueError(f"{text!r} is no preset", where=where, accepted=accepted)
    name, colon, said = rest.partition(": ")
    found = stores(said.split(","), where, lambda word: find_name(word, members, "member")) if colon else {}
    return given(slot=slot.strip(), name=name.strip(), stores=found)


def stores(texts: Iterable[str], where: str, member_of: Callable[[str], str]) -> dict[str, str]:
    """Return what a preset stores, of texts such as "chorus=on"; `member_of` gives the whole name of a member.

    Raises:
        BadValueError: a text has no equals sign or no value.
    """
    found: dict[str, str] = {}
    for text in texts:
        member, sign, value = (part.strip() for part in text.partition("="))
        if not sign or not member or not value:
            accepted = "MEMBER=VALUE, such as chorus=on"
            raise BadValueError(f"{text.strip()!r} is nothing that a preset stores", where=where, accepted=accepted)
        found[member_of(member)] = value
    return found
