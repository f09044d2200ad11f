"""List and show songs, put in a new one, and say in which order its scenes are played."""

import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any, NamedTuple

from scenebook.actions.making import check_is_new, containing, given, made
from scenebook.errors import BadValueError, UnknownNameError
from scenebook.model import FormEntry, Song, find_name
from scenebook.model.base import place_text
from scenebook.storage import open_library

__all__ = ["FormSet", "SongShown", "add_song", "form_text", "list_songs", "set_form", "show_song"]

_ENTRY = re.compile(r"(?P<scene>[^=]*?)(?::(?P<bars>\d+(?:\.\d+)?)?(?:/(?P<free>\d+(?:\.\d+)?))?)?(?:=(?P<words>.*))?")


class SongShown(NamedTuple):
    """A song with its full name, and the gigs that it is in."""

    name: str
    song: Song
    gigs: tuple[str, ...]


class FormSet(NamedTuple):
    """A song after its form was put in, and the form that it had before."""

    name: str
    song: Song
    before: tuple[FormEntry, ...]


def list_songs(path: Path, text: str = "") -> dict[str, Song]:
    """Return the songs in whose name, key or notes a text occurs."""
    with open_library(path, read_only=True) as store:
        songs = store.all("song")
    return {name: song for name, song in songs.items() if containing(text, name, song.key, song.notes)}


def show_song(path: Path, name: str) -> SongShown:
    """Return a song, and the gigs that it is in.

    Raises:
        UnknownNameError: no song of that name, or several.
    """
    with open_library(path, read_only=True) as store:
        full = store.find("song", name)
        return SongShown(full, store.song(full), tuple(store.gigs_using(full)))


def add_song(path: Path, name: str, **facts: Any) -> tuple[str, Song]:
    """Put a new song, as yet without scenes, into the library.

    `facts` are tempo, metre, key, length, number, instrument, notes.

    Raises:
        BadValueError: there is a song of that name.
        FormatError: a value is not accepted.
    """
    song = made(Song, given(**facts), place_text("song", name.strip()))
    with open_library(path) as store, store.change(f"song add {name.strip()}") as change:
        check_is_new(store, "song", name)
        change.put_song(name, song)
    return name.strip(), song


def set_form(path: Path, name: str, entries: Sequence[str]) -> FormSet:
    """Say in which order a song's scenes are played; without entries, each scene once in the order written.

    An entry is "scene", "scene:bars", "scene:bars/free" (bars at its end in which hands are free), with "=cue words"
    behind it; where no words are given, those of the same scene's entry before stay.

    Raises:
        BadValueError: an entry cannot be read, or more bars are free than there are.
        UnknownNameError: no scene of that name.
    """
    with open_library(path) as store, store.change(f"song form {name}") as change:
        full = store.find("song", name)
        song = store.song(full)
        where, before = place_text("song", full), song.form
        said = {each: getattr(song, each) for each in song.model_fields_set}
        song = made(Song, {**said, "form": _form(song, entries, where)}, where)
        change.put_song(full, song)
    return FormSet(full, song, before)


def form_text(entry: FormEntry, *, bare: bool = True) -> str:
    """Return a form entry in the notation of `set_form`; without `bare`, no words are said to be none."""
    bars = f":{entry.bars:g}" if entry.bars is not None else ":" if entry.free else ""
    free = f"/{entry.free:g}" if entry.free else ""
    return f"{entry.scene}{bars}{free}" + (f"={entry.words}" if entry.words or not bare else "")


def _form(song: Song, texts: Sequence[str], where: str) -> tuple[FormEntry, ...]:
    words: dict[str, list[str]] = {}
    for entry in song.form:
        words.setdefault(entry.scene, []).append(entry.words)
    return tuple(_entry(text, song, words, where) for text in texts)


def _entry(text: str, song: Song, words: dict[str, list[str]], where: str) -> FormEntry:
    if text in song.scenes:
        found: dict[str, str | None] = {"scene": text}
    else:
        match = _ENTRY.fullmatch(text)
        if match is None or not match["scene"]:
            raise BadValueError(
                f"{text!r} is no entry of a form", where=where, accepted="SCENE, SCENE:BARS, SCENE:BARS/FREE, =WORDS"
            )
        found = match.groupdict()
    scene = _scene_of(str(found["scene"]), song, where)
    before = words.get(scene, [])
    kept = before.pop(0) if before else ""
    said = found.get("words")
    values = given(bars=found.get("bars"), free=found.get("free"), words=kept if said is None else said.strip())
    return made(FormEntry, {"scene": scene, **values}, where)


def _scene_of(text: str, song: Song, where: str) -> str:
    """Return the scene that an entry names; where only what stands behind its colon is wrong, say that."""
    try:
        return find_name(text, song.scenes, "scene")
    except UnknownNameError as error:
        name, colon, bars = text.rpartition(":")
        begun = [scene for scene in song.scenes if name and scene.casefold().startswith(name.strip().casefold())]
        if not colon or not begun:
            raise error.at(where) from None
    accepted = f"bars from 0.5 to 999, and how many of them are free: {begun[0]}:8, {begun[0]}:8/2"
    raise BadValueError(f"{bars!r} is no number of bars", where=where, accepted=accepted)
