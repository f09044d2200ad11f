"""Every error that Scenebook raises on purpose, in one tree.

A message answers four questions, as far as they apply: where, what was found, what is accepted, what to do::

    ScenebookError
    ├── FormatError            a file of the neutral format is not as it must be
    ├── UnknownNameError       a unit, member, preset, song, scene, rig, gig or cue that is not there
    ├── BadValueError          a value off its scale, a slot out of range, a number that cannot be
    ├── SceneError             a scene cannot be reached on the rig it is to be played on
    │   ├── NoWayError         nothing works a switch or control on this rig
    │   ├── UnsaidError        a preset does not say what it must (rule S5)
    │   ├── LeaveError         a unit is left and its preset is named (rule S6)
    │   └── SettleError        a message follows a recall and no settle time is known
    ├── ControllerError        a controller number that the rig or the standard needs for something else
    ├── LibraryError           the library file cannot be opened, read or written
    ├── PortError              a MIDI port is not there or does not obey
    ├── OutputError            a file could not be written
    └── WebError               the stand's page cannot be served, or another stand cannot be reached
        └── AccessError        a key is missing or wrong, or does not let its holder do that
"""

import re

__all__ = [
    "AccessError",
    "BadValueError",
    "ControllerError",
    "FormatError",
    "LeaveError",
    "LibraryError",
    "NoWayError",
    "OutputError",
    "PortError",
    "SceneError",
    "ScenebookError",
    "SettleError",
    "UnknownNameError",
    "UnsaidError",
    "WebError",
]

Path = tuple[str | int, ...]
# "Did you mean 'X'." is a question, whatever follows it.
_QUESTION = re.compile(r"(?<=^Did you mean)(.*?['\"])\.(?= |$)")


class ScenebookError(Exception):
    """The base of all; its text is one clear message for a player.

    Args:
        found: what was found, as a sentence without its full stop.
        where: the place, in the player's words ("song 'Harbour', scene 'verse'").
        accepted: what would have been right.
        remedy: what to do, as a sentence without its full stop.
        path: keys and indexes from the aggregate to the value, for whoever knows its line in a file.
    """

    def __init__(self, found: str, *, where: str = "", accepted: str = "", remedy: str = "", path: Path = ()) -> None:
        """Keep the parts, so that a caller can add a place and say them again."""
        self.found, self.where, self.accepted, self.remedy, self.path = found, where, accepted, remedy, path
        super().__init__(found)

    def __str__(self) -> str:
        """Say where, what, what is accepted, what to do, on one line."""
        text = f"{self.where}: {self.found}" if self.where else self.found
        if self.accepted:
            text += f"; accepted: {self.accepted}"
        if not self.remedy:
            return f"{text}."
        return f"{text}. " + _QUESTION.sub(r"\1?", f"{self.remedy}.", count=1)

    def at(self, where: str, *path: str | int) -> "ScenebookError":
        """Return the same error, its place put behind `where` (and `path`), to be raised anew."""
        place = f"{where}, {self.where}" if self.where else where
        return type(self)(self.found, where=place, accepted=self.accepted, remedy=self.remedy, path=(*path, *self.path))


class FormatError(ScenebookError):
    """A file of the neutral format is not valid: syntax, a wrong type, an unknown or double key."""


class UnknownNameError(ScenebookError):
    """A name stands for nothing in the library, or for more than one thing."""


class BadValueError(ScenebookError):
    """A value is off its scale, a slot is out of range, or a number cannot be."""


class SceneError(ScenebookError):
    """A scene cannot be reached on the rig."""


class NoWayError(SceneError):
    """Nothing works a switch or control on this rig (rule S1)."""


class UnsaidError(SceneError):
    """A recall leaves something unknown that the scene needs and that no message can set (rule S5)."""


class LeaveError(SceneError):
    """A scene leaves a unit as it is and names its preset too (rule S6)."""


class SettleError(SceneError):
    """A message follows a recall, and nobody knows how long the unit needs before it obeys."""


class ControllerError(ScenebookError):
    """A controller number is needed for Bank Select on this rig, or is a channel mode message."""


class LibraryError(ScenebookError):
    """The library file is not one, is newer, read-only, damaged or cannot be written."""


class PortError(ScenebookError):
    """A MIDI port is not there, is held by another program, or does not give back what was sent."""


class OutputError(ScenebookError):
    """A file could not be written; nothing half-written stays behind."""


class WebError(ScenebookError):
    """The page that runs a gig cannot be served, or another stand cannot be reached or understood."""


class AccessError(WebError):
    """A key is missing or wrong, or lets its holder see and not step."""
