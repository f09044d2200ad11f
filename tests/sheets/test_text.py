"""The sheet as plain text."""

from dataclasses import replace

from scenebook.sheets import GigView, text, view_of
from scenebook.sheets.view import texts_of
from tests.support.cue_lists import a_gig, a_library, compiled
from tests.support.printed import packed


def a_view() -> GigView:
    library = a_library(a_gig(("Lamp room", "Kelp fire"), spares=("Limpet",)))
    return view_of(library, compiled(library), revision=12)


def test_the_text_says_all_that_the_view_says() -> None:
    """Sent to a dep the night before, it lacks nothing."""
    view, lines = a_view(), text(a_view())

    whole = packed(lines).casefold()
    assert [
        said for said in texts_of(view) if packed(said).casefold() not in whole and said not in ("a4", "unit")
    ] == []


def test_a_form_entry_reads_from_the_top() -> None:
    """What comes first to do stands first; on and off by shape."""
    lines = text(a_view()).splitlines()

    start = lines.index("cue 2  CHORUS  8 bars, last 2 free")
    assert lines[start + 1 : start + 10] == [
        "    In the free bars before:",
        "      → turn fuzz gain to 4 o'clock (was 2 o'clock)",
        "      → turn delay time to 1/8. (was 380 ms)",
        "    At the cue:",
        "      ● press fuzz: on",
        "      ● press delay: on",
        "    ● fuzz   ○ drive   ● multi-effects 1A   ● delay   ○ looper",
        "    fuzz: ◆ on (new); ◆ gain 4 o'clock (new)",
        "    delay: ◇ on (new); ◇ time 1/8. (469 ms) (new)",
    ]


def test_a_table_reads_down_its_columns() -> None:
    """Set-up is read beside the rig, a column at a time; a number is never parted from its unit."""
    lines = text(a_view()).splitlines()

    start = lines.index("Channels")
    assert lines[start + 1 : start + 4] == [
        "  unit                  port   channel  listens to channels",
        "  --------------------  -----  -------  -------------------",
        "  multi-effects, small  front  2        2",
    ]
    home = lines.index("Home: how every switch and knob stands before the first song")
    assert lines[home + 3] == "  ○ fuzz, silicon         off; gain 2 o'clock"
    assert "  Not noted: drive, soft, delay, tape, looper" in lines


def test_a_long_cell_is_wrapped_in_its_own_column() -> None:
    """Else the columns beside it could not be read."""
    long = " ".join(["reverb mix 25 %"] * 12)
    view = a_view()
    table = replace(
        view.set_up.tables[0], title="Home", columns=("unit", "set"), rows=(("fuzz", long), ("delay", "on"))
    )

    lines = text(replace(view, set_up=replace(view.set_up, tables=(table,)))).splitlines()

    start = lines.index("Home") + 3
    assert lines[start].startswith("  fuzz   reverb mix 25 %")
    assert lines[start + 1].startswith("         reverb mix")
    assert all(not line.strip().startswith("%") and len(line) <= 88 for line in lines)
    assert "  delay  on" in lines


def test_no_line_is_wider_than_it_may_be() -> None:
    """Mail programs break at 80 to 90 columns, and break badly."""
    assert [line for line in text(a_view()).splitlines() if len(line) > 88] == []
