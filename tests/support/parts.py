"""What the tests need from outside Python, and whether this machine has it.

One table names every part, how to tell that it is there, and which Debian packages bring it. `python -m tests` installs
from it and `needs` asks it, so that the two can't disagree. Only the standard library is imported here: the table is
read before anything else is installed.
"""

import importlib.util
import os
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

__all__ = ["PARTS", "Part", "in_ci", "lacks", "needs"]

_SOUND_FONTS = Path("/usr/share/sounds/sf2")
_SOUND_FONT_FILES = ("TimGM6mb.sf2", "FluidR3_GS.sf2")


@dataclass(frozen=True)
class Part:
    """One thing that some tests need: what it is for, how to tell that it lacks, what brings it on Debian.

    `lack` returns what is missing, in words, or an empty text.
    """

    purpose: str
    lack: Callable[[], str]
    debian_packages: tuple[str, ...] = ()


def in_ci(environment: dict[str, str] | None = None) -> bool:
    """Return whether this is a run in which nothing may be left out: the environment says CI=true."""
    return (os.environ if environment is None else environment).get("CI", "").lower() in {"1", "true", "yes"}


def lacks(name: str) -> str:
    """Return what this machine lacks of the part, in words; an empty text where nothing does.

    Raises:
        KeyError: no part has this name.
    """
    return PARTS[name].lack()


def needs(name: str) -> None:
    """Skip the running test, saying why, where the machine lacks this part; in CI fail it instead.

    Raises:
        KeyError: no part has this name.
    """
    import pytest

    lack = lacks(name)
    if lack and in_ci():
        pytest.fail(f"needs {name}: {lack}; with CI=true nothing may be left out", pytrace=False)
    if lack:
        pytest.skip(f"needs {name}: {lack}")


def _programs(*names: str) -> str:
    return ", ".join(f"no program {name}" for name in names if shutil.which(name) is None)


def _jack() -> str:
    return _programs("jackd") or _rtmidi()


def _rtmidi() -> str:
    """Tell a wheel that isn't there from one that can't load, as where ALSA's library is missing."""
    if importlib.util.find_spec("rtmidi") is None:
        return "python-rtmidi is not installed (where it has no ready-made wheel, the extra `ports` builds it)"
    try:
        import rtmidi
    except ImportError as error:
        return f"python-rtmidi does not load: {error}"
    return "" if rtmidi.API_UNIX_JACK in rtmidi.get_compiled_api() else "python-rtmidi was built without JACK"


def _fluidsynth() -> str:
    missing = [name for name in _SOUND_FONT_FILES if not (_SOUND_FONTS / name).is_file()]
    fonts = ", ".join(f"no sound font {name}" for name in missing)
    return "; ".join(filter(None, [_programs("fluidsynth"), fonts, _jack()]))


def _browser() -> str:
    driver = "" if importlib.util.find_spec("playwright") else "playwright is not installed"
    return _programs("chromium") or driver


PARTS: dict[str, Part] = {
    "jack": Part("real MIDI ports on a machine with no sound card", _jack, ("jackd2",)),
    "fluidsynth": Part(
        "a synthesizer that is not ours, as a receiver",
        _fluidsynth,
        ("fluidsynth", "timgm6mb-soundfont", "fluid-soundfont-gs"),
    ),
    "browser": Part("a real browser for the stand's pages", _browser, ("chromium",)),
    "midicsv": Part("a reader of MIDI files that is not ours", lambda: _programs("midicsv", "csvmidi"), ("midicsv",)),
    "poppler": Part(
        "reading the sheet back", lambda: _programs("pdftotext", "pdftoppm", "pdffonts", "pdfinfo"), ("poppler-utils",)
    ),
    "git": Part("the list of files that belong to the project", lambda: _programs("git"), ("git",)),
}
