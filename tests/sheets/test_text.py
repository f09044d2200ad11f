"""The sheet as plain text."""

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

    start = lines.index("cue 2  CHORUS  8 bars, hands free in the last 2")
    assert lines[start + 1 : start + 10] == [
        "    In the free bars before:",
        "      → turn fuzz gain to 4 o'clock (was 2 o'clock)",
        "      → turn delay time to 1/8. (was 380 ms)",
        "    At the cue:",
        "      ● press fuzz: on (was off)",
        "      ● press delay: on (was off)",
        "    ● fuzz   ○ drive   ● multi-effects 1A   ● delay   ○ looper",
        "    fuzz: ◆ on (new); ◆ gain 4 o'clock (new)",
        "    delay: ◇ on (new); ◇ time 1/8. (469 ms) (new)",
    ]


def test_no_line_is_wider_than_it_may_be() -> None:
    """Mail programs break at 80 to 90 columns, and break badly."""
    assert [line for line in text(a_view()).splitlines() if len(line) > 88] == []
