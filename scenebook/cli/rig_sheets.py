"""scenebook rig program, rig pack: what to store in the units of a rig, and how it is packed and set up."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from scenebook.cli.options import AsJson, LibraryPath, group, library_at
from scenebook.cli.plain import counted, print_json, print_lines
from scenebook.cli.sheet import Paper
from scenebook.errors import BadValueError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from scenebook.actions.boxes import Noted
    from scenebook.actions.planning_sheets import Programmed
    from scenebook.planning.packing_list import PackingList
    from scenebook.planning.slot_plans import SlotPlan, UnitProgramming
    from scenebook.sheets.plain_pages import PlainPages

__all__ = ["app"]

app = group("rig", "What to store and what to pack.")
Rig = Annotated[str, typer.Argument(help="The rig.")]
Gigs = Annotated[
    list[str] | None, typer.Option("--gig", metavar="GIG", help="Only this gig, or several; unless given, all.")
]
Out = Annotated[Path | None, typer.Option("--out", "-o", metavar="FILE", help="Write the sheet: .pdf or .txt.")]
Page = Annotated[Paper, typer.Option("--paper", metavar="a4|letter", help="The page.")]
Fonts = Annotated[
    list[Path] | None, typer.Option("--font", metavar="FILE", help="A font for a script that ours lacks (PDF).")
]


@app.command("program")
def program_command(
    rig: Rig,
    gig: Gigs = None,
    out: Out = None,
    paper: Page = Paper.a4,
    font: Fonts = None,
    copies: Annotated[
        bool | None,
        typer.Option(
            "--copies/--no-copies",
            help="Each song has its own slots, or each sound is stored once; unless given, copies where feet recall.",
            show_default=False,
        ),
    ] = None,
    written: Annotated[
        bool, typer.Option("--written", help="Note that the boxes now hold what the sheet says.")
    ] = False,
    unit: Annotated[str | None, typer.Option("--unit", help="With --written: only this unit.")] = None,
    copy: Annotated[
        str | None, typer.Option("--copy", metavar="NAME", help="With --written: which copy of the unit, by your name.")
    ] = None,
    as_presets: Annotated[
        bool,
        typer.Option(
            "--as-presets",
            help="Only what compile recalls, each sound once; with --written the library describes these slots.",
        ),
    ] = False,
    json: AsJson = False,
    library: LibraryPath = None,
) -> None:
    """Say what to store in each unit of a rig that has presets, slot by slot, with boxes to tick.

    Slots follow the order of the set. Where feet recall them, a song starts a bank, and no bank changes inside a song
    as long as one holds it: the same sound then stands in several slots, as copies; only where slots run out songs
    share them. Where messages recall them, each sound is stored once. Where a recall would be heard, it becomes a
    variant, if the unit has variants. Presets that the library describes stay where they are.

    Compile recalls only presets that the library describes. With --as-presets the sheet has each sound once that
    compile would recall: what is quicker to press, turn or send has no slot. Store it, then give --as-presets
    --written: the library describes each slot, and compile, sheet and gig work recall it. What is described already
    stays as it is, and a scene that names a preset goes on recalling it.
    With --written alone the library keeps what each copy of a unit holds, and compile warns where it says otherwise.
    Either is one change, which `library undo` takes back.

    Example: scenebook rig program "hall board" --gig "Pell Quay" -o hall-board.pdf
    """
    from scenebook.actions.planning_sheets import program_rig

    _check_out(out)
    _check_written(written, unit, copy)
    found = program_rig(
        library_at(library), rig, tuple(gig or ()), copies=copies, as_presets=as_presets, paper=paper.value
    )
    if json:
        print_json(_program_json(found.plan.rig, found.plan.gigs, found.plan.units, found.revision))
    if out is not None or not written:
        _give(found.pages, out, tuple(font or ()), quiet=json)
    if written:
        _note(library_at(library), found, unit, copy, quiet=json)


@app.command("pack")
def pack_command(
    rig: Rig,
    gig: Gigs = None,
    out: Out = None,
    paper: Page = Paper.a4,
    font: Fonts = None,
    json: AsJson = False,
    library: LibraryPath = None,
) -> None:
    """Pack a rig: what travels and what it weighs, the steps of setting up, what to do if a unit dies, the stage.

    What a loss costs is counted over the gigs named, or all. Unknown weights are named and never counted as 0.

    Example: scenebook rig pack "fly board" -o fly-board.pdf
    """
    from scenebook.actions.planning_sheets import pack_rig

    _check_out(out)
    found = pack_rig(library_at(library), rig, tuple(gig or ()), paper=paper.value)
    if json:
        print_json(_pack_json(found.packed, found.revision))
    _give(found.pages, out, tuple(font or ()), quiet=json)


def _check_written(written: bool, unit: str | None, copy: str | None) -> None:
    if not written and (unit is not None or copy is not None):
        raise BadValueError("--unit and --copy say which box was written", remedy="Give --written as well")


def _note(path: Path, found: "Programmed", unit: str | None, copy: str | None, *, quiet: bool) -> None:
    from scenebook.actions.boxes import FIRST_COPY, note_written

    noted = note_written(path, found, unit, FIRST_COPY if copy is None else copy)
    if not quiet:
        print_lines(_noted_lines(noted))


def _noted_lines(noted: "Noted") -> "Iterator[str]":
    """Yield what was noted, and what of it compile will use."""
    yield f"Noted at revision {noted.revision} that copy {noted.copy!r} holds what the sheet says:"
    yield from (f"{name}: {counted(slots, 'slot')}" for name, slots in noted.slots.items())
    if noted.presets is not None and any(noted.presets.values()):
        yield "Described in the library, so that compile recalls them:"
        yield from (f"{name}: {counted(slots, 'slot')}" for name, slots in noted.presets.items())
    elif noted.presets is not None:
        yield "Nothing new is to be described in the library: it has all that compile would recall."
    if noted.changed:
        yield "To take this back: scenebook library undo"


def _check_out(out: Path | None) -> None:
    """Refuse a file of another kind before anything is worked out."""
    from scenebook.actions.planning_sheets import check_ending

    if out is not None:
        check_ending(out)


def _give(pages: "PlainPages", out: Path | None, fonts: tuple[Path, ...], *, quiet: bool) -> None:
    """Write the pages where a file is named, and print them where none is."""
    from scenebook.actions.planning_sheets import write_pages
    from scenebook.sheets.plain_pages import pages_text

    if out is not None:
        written = write_pages(pages, out, fonts=fonts)
        if not quiet:
            print(f"Wrote {written}")
    elif not quiet:
        print(pages_text(pages), end="")


def _program_json(rig: str, gigs: tuple[str, ...], units: "tuple[UnitProgramming, ...]", revision: int) -> Any:
    return {"rig": rig, "gigs": [g for g in gigs if g], "revision": revision, "units": [_unit_json(u) for u in units]}


def _unit_json(unit: "UnitProgramming") -> dict[str, Any]:
    return {
        "unit": unit.unit,
        "count": unit.count,
        "bank_of": unit.bank_of,
        "rule": unit.thrift.value,
        "by_message": unit.by_message,
        "stored_once": unit.once,
        "kept": [_slot_json(slot) for slot in unit.kept],
        "slots": [_slot_json(slot) for slot in unit.slots],
        "holes": [hole._asdict() for hole in unit.holes],
        "bank_changes_inside": list(unit.split),
        "not_stored": {member: [use._asdict() for use in uses] for member, uses in unit.unset.items()},
        "no_room": [use._asdict() for use in unit.no_room],
        "recalled": None if unit.recalled is None else sorted(unit.recalled),
    }


def _slot_json(slot: "SlotPlan") -> dict[str, Any]:
    variants = [
        {**variant._asdict(), "stores": dict(variant.stores), "uses": [use._asdict() for use in variant.uses]}
        for variant in slot.variants
    ]
    uses = [use._asdict() for use in slot.uses]
    return {**slot._asdict(), "stores": dict(slot.stores), "variants": variants, "uses": uses}


def _pack_json(packed: "PackingList", revision: int) -> dict[str, Any]:
    stage, carry = packed.stage, packed.carry
    return {
        "rig": packed.rig,
        "revision": revision,
        "items": [
            {"what": i.what, "pieces": i.pieces, "each_g": i.each_g, "together_g": i.grams} for i in packed.items
        ],
        "known_g": packed.known_g,
        "unknown": list(packed.unknown),
        "lift": {
            "how": carry.lift._asdict(),
            "recommended_g": round(carry.recommended_g),
            "lifting_index": round(carry.ratio, 3),
            "one_person": carry.alone,
            "weight_known": carry.weighed,
            "over": list(carry.over),
        },
        "steps": [step._asdict() for step in packed.steps],
        "awake_s": dict(packed.awake),
        "boot_unknown": list(packed.boot_unknown),
        "cannot_be_wired": list(packed.tangled),
        "no_supply_lead": list(packed.no_supply_lead),
        "if_it_dies": [
            {
                "kind": each.loss.kind.value,
                "name": each.loss.name,
                "join": [
                    {"lines": join.lines.value, "from": join.before, "to": join.after, "assumed": join.assumed}
                    for join in each.loss.joins
                ],
                "loop_off": each.loop or None,
                "played_by": list(each.stand_ins),
                "lost": round(each.loss.lost, 3),
                "more_presses_inside_songs": each.loss.feet,
                "scenes": [scene._asdict() for scene in each.loss.scenes],
            }
            for each in packed.dies
        ],
        "stage": {
            **stage._asdict(),
            "lines": [{"unit": name, "lines": count, "direct_box": direct} for name, count, direct in stage.lines],
        },
    }
