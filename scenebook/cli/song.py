"""scenebook song: list, show and add songs, and say in which order their scenes are played."""

from typing import TYPE_CHECKING, Annotated

import typer

from scenebook.cli.options import AsJson, LibraryPath, Text, group, library_at
from scenebook.cli.plain import columns, command_line, counted, length_words, names_words, print_json, print_lines

if TYPE_CHECKING:
    from collections.abc import Iterator

    from scenebook.actions.songs import FormSet, SongShown
    from scenebook.model import Song

__all__ = ["app"]

app = group("song", "Songs: tempo, key, scenes, and the form in which they are played.")
Named = Annotated[str, typer.Argument(help="The song.")]


@app.command("list")
def list_command(text: Text = "", json: AsJson = False, library: LibraryPath = None) -> None:
    """List the songs.

    Example: scenebook song list minor
    """
    from scenebook.actions.songs import list_songs

    songs = list_songs(library_at(library), text)
    if json:
        print_json([{"name": name, **_facts(song), "scenes": list(song.scenes)} for name, song in songs.items()])
    else:
        print_lines(columns(_row(name, song) for name, song in songs.items()) or ["There is no such song."])


@app.command("show")
def show_command(song: Named, json: AsJson = False, library: LibraryPath = None) -> None:
    """Show a song: its form, and what each scene says.

    Example: scenebook song show Limpet
    """
    from scenebook.actions.songs import show_song

    found = show_song(library_at(library), song)
    if json:
        whole = found.song.model_dump(mode="json", exclude_defaults=True)
        print_json({"name": found.name, **whole, "gigs": list(found.gigs)})
    else:
        print_lines(_shown(found))


@app.command("add")
def add_command(
    name: Annotated[str, typer.Argument(help="What the song is called.")],
    tempo: Annotated[str, typer.Option("--tempo", help="Quarter notes a minute, 20 to 400.")] = "",
    metre: Annotated[str, typer.Option("--metre", help="4/4 unless given.")] = "",
    key: Annotated[str, typer.Option("--key", help="As you write it: E minor.")] = "",
    length: Annotated[str, typer.Option("--length", help="As 3:40.")] = "",
    instrument: Annotated[str, typer.Option("--instrument", help="What you play.")] = "",
    number: Annotated[
        int | None, typer.Option("--number", metavar="N", help="A playback rig calls it by that.")
    ] = None,
    notes: Annotated[str, typer.Option("--notes", help="Anything else.")] = "",
    library: LibraryPath = None,
) -> None:
    """Put a new song into the library; its scenes come with scene set.

    Example: scenebook song add "Low tide" --tempo 96 --key "E minor"
    """
    from scenebook.actions.songs import add_song

    facts = {"tempo": tempo, "metre": metre, "key": key, "length": length, "instrument": instrument, "notes": notes}
    made, song = add_song(library_at(library), name, number=number, **facts)
    print(f"Added {made!r}{_said(song)}.")
    print(f'Make its first scene with: scenebook scene set "{made}" verse UNIT=on')


@app.command("form")
def form_command(
    song: Named,
    entries: Annotated[
        list[str] | None, typer.Argument(help="SCENE, SCENE:BARS, SCENE:BARS/FREE, each with =CUE WORDS if you like.")
    ] = None,
    none: Annotated[bool, typer.Option("--none", help="Take the form away: each scene once, as written.")] = False,
    json: AsJson = False,
    library: LibraryPath = None,
) -> None:
    """Say in which order a song's scenes are played; without entries, show it.

    FREE is how many bars at the end of a part leave the hands free. Cue words stay unless new ones are given.

    Example: scenebook song form Limpet verse:16 chorus:8/2 "verse:16=when the drums stop"
    """
    from scenebook.actions.songs import set_form, show_song

    path = library_at(library)
    done = set_form(path, song, entries or ()) if entries or none else None
    name, found = done[:2] if done else show_song(path, song)[:2]
    if json:
        print_json({"name": name, "form": [e.model_dump(mode="json", exclude_defaults=True) for e in found.played]})
    else:
        print_lines([name, *_form(found), *(_way_back(done) if done else [])])


def _facts(song: "Song") -> dict[str, object]:
    return {"tempo": song.tempo, "metre": song.metre, "key": song.key, "length": song.length, "number": song.number}


def _row(name: str, song: "Song") -> tuple[str, ...]:
    tempo = f"{song.tempo:g}" if song.tempo else "-"
    return name, song.key or "-", tempo, song.metre, length_words(song.length) or "-", names_words(song.scenes)


def _said(song: "Song") -> str:
    facts = [song.key, f"{song.tempo:g} a minute" if song.tempo else "", song.metre, length_words(song.length)]
    facts += [f"number {song.number}"] if song.number is not None else []
    return f" ({', '.join(filter(None, facts))})"


def _shown(found: "SongShown") -> "Iterator[str]":
    from scenebook.cli.words import instrument_words, setting_words

    song = found.song
    yield found.name + _said(song) + (f", {instrument_words(song.instrument)}" if song.instrument else "")
    yield from [song.notes] if song.notes else []
    yield from _form(song)
    for name, scene in song.scenes.items():
        yield f"Scene {name}:" + ("" if scene.units else " home")
        yield from columns(((unit, setting_words(setting)) for unit, setting in scene.units.items()), indent=2)
        more = (("may be missing", scene.colours), ("fires", scene.triggers))
        yield from (f"  {what}: {names_words(things)}" for what, things in more if things)
        yield from [f"  {scene.notes}"] if scene.notes else []
    yield f"Gigs: {names_words(found.gigs)}" if found.gigs else "It is in no gig."


def _form(song: "Song") -> "Iterator[str]":
    yield "Form:" if song.form else "Form: not given, so each scene once"
    rows = []
    for number, entry in enumerate(song.played, 1):
        bars = counted_bars(entry.bars)
        free = f"{entry.free:g} free" if entry.free else ""
        rows.append((f"{number:>2}", entry.scene, bars, free, f"“{entry.words}”" if entry.words else ""))
    yield from columns(rows, indent=2)


def _way_back(done: "FormSet") -> "Iterator[str]":
    """Yield the form that was there before as a command that brings it back."""
    from scenebook.actions.songs import form_text

    if done.before == done.song.form:
        return
    worded = any(entry.words for entry in (*done.before, *done.song.form))
    words = [form_text(entry, bare=not worded) for entry in done.before]
    yield f"Before: {command_line('song', 'form', done.name, *(words or ['--none']))}"


def counted_bars(bars: float | None) -> str:
    """Return bars in words."""
    if bars is None:
        return "bars not known"
    return counted(int(bars), "bar") if bars == int(bars) else f"{bars:g} bars"
