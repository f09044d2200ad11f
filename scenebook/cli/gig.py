"""scenebook gig: list, show and add gigs, order their songs, and say which units are out or replaced."""

from typing import TYPE_CHECKING, Annotated, Any

import typer

from scenebook.cli.options import AsJson, Gig, LibraryPath, Text, group, library_at
from scenebook.cli.plain import columns, command_line, counted, length_words, names_words, print_json, print_lines

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from scenebook.actions.gigs import Ordered
    from scenebook.model import Gig as GigModel
    from scenebook.model import Library, SetEntry

__all__ = ["app"]

app = group("gig", "Gigs: the evening with its rig, its sets and its spare songs.")


@app.command("list")
def list_command(text: Text = "", json: AsJson = False, library: LibraryPath = None) -> None:
    """List the gigs, by date.

    Example: scenebook gig list 2027
    """
    from scenebook.actions.gigs import list_gigs

    gigs = list_gigs(library_at(library), text)
    if json:
        print_json(
            [{"name": name, "date": _date(gig), "place": gig.place, "rig": gig.rig} for name, gig in gigs.items()]
        )
    else:
        print_lines(columns(_row(name, gig) for name, gig in gigs.items()) or ["There is no such gig."])


@app.command("show")
def show_command(gig: Gig, json: AsJson = False, library: LibraryPath = None) -> None:
    """Show a gig: its sets in order, spare songs, and what is out or replaced.

    Example: scenebook gig show "Pell Quay"
    """
    from scenebook.actions.gigs import show_gig

    name, found, part = show_gig(library_at(library), gig)
    if json:
        print_json({"name": name, **found.model_dump(mode="json", exclude_defaults=True)})
    else:
        print_lines(_shown(name, found, part))


@app.command("add")
def add_command(
    name: Annotated[str, typer.Argument(help="What the gig is called.")],
    rig: Annotated[str | None, typer.Option("--rig", help="What travels.")] = None,
    date: Annotated[str, typer.Option("--date", help="As 2027-05-14.")] = "",
    place: Annotated[str, typer.Option("--place", help="Where it is.")] = "",
    gap: Annotated[str, typer.Option("--gap", help="The pause between songs: 20 s, 1:30.")] = "",
    house: Annotated[str | None, typer.Option("--house", help="The song whose scenes are the house sounds.")] = None,
    notes: Annotated[str, typer.Option("--notes", help="Anything else.")] = "",
    library: LibraryPath = None,
) -> None:
    """Put a new gig into the library; its songs come with gig order.

    Example: scenebook gig add "Net loft" --rig "small board" --date 2027-05-14 --gap "20 s"
    """
    from scenebook.actions.gigs import add_gig

    path = library_at(library)
    made, _ = add_gig(path, name, rig=rig, house=house, date=date, place=place, gap=gap, notes=notes)
    print(f"Added {made!r}.")
    print(f'Put its songs in order with: scenebook gig order "{made}" SONG SONG ...')


@app.command("order")
def order_command(
    gig: Gig,
    songs: Annotated[list[str] | None, typer.Argument(help="The songs, in the order in which they are played.")] = None,
    part: Annotated[
        str | None, typer.Option("--set", metavar="NAME", help="The set; it is made if there is none.")
    ] = None,
    spare: Annotated[bool, typer.Option("--spare", help="These are the spare songs.")] = False,
    segue: Annotated[
        list[str] | None, typer.Option("--segue", help="A song after which the next follows at once.")
    ] = None,
    no_segue: Annotated[
        list[str] | None, typer.Option("--no-segue", help="A song after which there is a pause again.")
    ] = None,
    interval: Annotated[str, typer.Option("--interval", help="The pause after this set: 20 min.")] = "",
    empty: Annotated[bool, typer.Option("--empty", help="Take all songs out.")] = False,
    library: LibraryPath = None,
) -> None:
    """Put the songs of one set, or the spare songs, in order. Other sets stay as they are.

    What the gig says of a song (key, tempo, gap, form) stays with it. The command says which songs are out of the gig.

    Example: scenebook gig order "Net loft" "Orren bar" Limpet --set first
    """
    from scenebook.actions.gigs import order_songs

    if bool(songs) == empty or (spare and (part or interval)):
        raise typer.BadParameter(
            "name the songs, or --empty to take all out; --set or --spare, not both; no --interval after spare songs"
        )
    joins: dict[str, Any] = {"segues": segue or (), "no_segues": no_segue or (), "interval": interval}
    done = order_songs(library_at(library), gig, songs or (), part=part, spare=spare, **joins)
    entries = done.gig.spares if spare else next((p.songs for p in done.gig.sets if p.name == done.place), ())
    print_lines([f"{done.name}, {done.place}:", *_entries(entries)])
    if done.gone:
        print(f"No longer in this gig: {names_words(done.gone)}")
    if done.before and done.before != entries:
        print(f"Before: {command_line(*_order_words(done, spare=spare))}")
        print("What the gig says of a song that is out is brought back by: scenebook library undo")


@app.command("out")
def out_command(
    gig: Gig,
    units: Annotated[list[str], typer.Argument(help="The units that are not there.")],
    back: Annotated[bool, typer.Option("--back", help="They are there after all.")] = False,
    library: LibraryPath = None,
) -> None:
    """Say that units are not there at a gig: broken, lent, left at home. Stand-ins of the rig play their parts.

    Example: scenebook gig out "Net loft" "drive, soft"
    """
    from scenebook.actions.gigs import take_out

    name, found, strangers = take_out(library_at(library), gig, units, back=back)
    print(f"Out at {name}: {names_words(found.out)}" if found.out else f"Nothing is out at {name}.")
    if strangers:
        print(f"Note: not in the rig {found.rig!r}, so nothing changes on it: {names_words(strangers)}")


@app.command("replace")
def replace_command(
    gig: Gig,
    unit: Annotated[str, typer.Argument(help="The unit that is not there.")],
    by: Annotated[str | None, typer.Argument(help="The unit that plays its part, in its place.")] = None,
    back: Annotated[bool, typer.Option("--back", help="It plays its own part again.")] = False,
    library: LibraryPath = None,
) -> None:
    """Say that a unit is played by another at a gig: hired, borrowed. Presets and members carry over by name.

    Example: scenebook gig replace "Net loft" "octave down" "octave down, hired"
    """
    from scenebook.actions.gigs import replace_unit

    if (by is None) != back:
        raise typer.BadParameter("name the unit that plays the part, or --back, one of the two")
    name, found = replace_unit(library_at(library), gig, unit, by)
    lines = [f"  {old!r} is played by {new!r}" for old, new in found.played_by.items()]
    print_lines([f"Replaced at {name}:", *lines] if lines else [f"Nobody is replaced at {name}."])


def _order_words(done: "Ordered", *, spare: bool) -> list[str]:
    """Return the words of the command that brings back the order that was there before."""
    songs = [entry.song for entry in done.before]
    where = ["--spare"] if spare else ["--set", done.place]
    segues = [word for entry in done.before if entry.segue for word in ("--segue", entry.song)]
    return ["gig", "order", done.name, *songs, *where, *segues]


def _date(gig: "GigModel") -> str:
    return gig.date.isoformat() if gig.date else ""


def _row(name: str, gig: "GigModel") -> tuple[str, ...]:
    return _date(gig) or "-", name, gig.rig or "no rig", counted(len(gig.entries), "song"), gig.place


def _shown(name: str, gig: "GigModel", part: "Library") -> "Iterator[str]":
    facts = filter(None, [_date(gig), gig.place, f"rig {gig.rig}" if gig.rig else "no rig"])
    yield f"{name} ({', '.join(facts)})"
    yield from [gig.notes] if gig.notes else []
    number = 1
    for each in gig.sets:
        yield f"Set {each.name}:" + (f" then {length_words(each.interval)}" if each.interval else "")
        yield from _entries(each.songs, part, number)
        number += len(each.songs)
    if gig.spares:
        yield "Spare songs:"
        yield from _entries(gig.spares, part)
    yield from [f"House sounds: {gig.house}"] if gig.house else []
    yield from [f"Out: {names_words(gig.out)}"] if gig.out else []
    yield from (f"{old} is played by {new}" for old, new in gig.played_by.items())


def _entries(entries: "Iterable[SetEntry]", part: "Library | None" = None, first: int = 1) -> list[str]:
    rows = []
    for number, entry in enumerate(entries, first):
        song = part.songs[entry.song] if part else None
        key = entry.key or (song.key if song else "")
        tempo = entry.tempo or (song.tempo if song else None)
        then = "segue" if entry.segue else f"gap {length_words(entry.gap)}" if entry.gap else ""
        own = "form of its own" if entry.form else ""
        rows.append(
            (f"{number:>2}", entry.song, key, f"{tempo:g}" if tempo else "", ", ".join(filter(None, [own, then])))
        )
    return columns(rows, indent=2) or ["  no songs"]
