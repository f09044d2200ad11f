"""The programming and the packing sheet as they come out of a printer, read back by another program."""

import re
from collections.abc import Callable
from functools import lru_cache
from itertools import pairwise
from pathlib import Path

import pytest

from scenebook.errors import OutputError
from scenebook.planning.packing_list import packing_list
from scenebook.planning.programming import programming
from scenebook.sheets.pack_sheet import clock, pack_pages
from scenebook.sheets.plain_pages import TICK, Boxed, Grid, Page, PlainPages, Words, pages_pdf, pages_text
from scenebook.sheets.programming_sheet import programming_pages, stores_words
from scenebook.sheets.view import Paper, texts_of
from tests.demo_library.reading import demo_library
from tests.support.build import RIG, library, rig, song, unit
from tests.support.printed import Printed, printed

RIGS = ["fly board", "fly board, no MIDI", "hall board", "studio wall"]


@pytest.fixture(autouse=True)
def poppler(needs: Callable[[str], None]) -> None:
    """The PDF is read back by another program."""
    needs("poppler")


@lru_cache
def sheet(kind: str, name: str, paper: str = "a4") -> PlainPages:
    of = demo_library()
    if kind == "pack":
        return pack_pages(of, packing_list(of, name), revision=12, paper=paper)
    return programming_pages(programming(of, name), revision=12, paper=paper)


def letters(texts: list[str]) -> str:
    """Return the letters of texts, sorted: what wraps or breaks differently is the same."""
    return "".join(sorted(re.sub(r"[\s\u200b\u00a0]", "", "".join(texts))))


def whole(pages: PlainPages, read: Printed) -> None:
    """See that each page says all that the sheet says, once: headings that repeat overleaf apart."""
    said = [text for page in pages.pages for text in texts_of((page.title, *page.blocks))]
    found = [word.text for word in read.words]
    missing = letters(said)
    counts = {letter: letters(found).count(letter) for letter in set(missing)}
    assert {letter: n for letter in set(missing) if counts[letter] < (n := missing.count(letter))} == {}


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("name", RIGS)
@pytest.mark.parametrize("kind", ["pack", "program"])
def test_the_demo_rigs_sheets_lose_no_word_and_stay_on_the_page(
    kind: str, name: str, paper: str, tmp_path: Path
) -> None:
    """A slot that is cut off is a wrong sound; a step that runs off the page is not done."""
    pages = sheet(kind, name, paper)

    read = printed(pages_pdf(pages), tmp_path)

    whole(pages, read)
    width = read.page_size[0]
    assert all(word.left >= 0 and word.left + word.width <= width for word in read.words)
    assert all(embedded for _, embedded in read.fonts)


def test_no_two_words_are_printed_over_each_other(tmp_path: Path) -> None:
    """A column that is too narrow would run into the next."""
    read = printed(pages_pdf(sheet("program", "hall board")), tmp_path)

    for number in range(1, read.pages + 1):
        words = sorted(read.on(number), key=lambda word: (round(word.top), word.left))
        lines: dict[int, list[tuple[float, float, str]]] = {}
        for word in words:
            lines.setdefault(round(word.top), []).append((word.left, word.left + word.width, word.text))
        for line in lines.values():
            for (_, end, text), (start, _, after) in pairwise(line):
                assert start >= end - 0.5, (number, text, after)


def test_every_slot_and_every_variant_has_a_box_to_tick(tmp_path: Path) -> None:
    """At midnight in a hotel nobody remembers how far they got."""
    plan = programming(demo_library(), "hall board")
    wanted = sum(1 + len(slot.variants) for each in plan.units for slot in (*each.kept, *each.slots))

    read = printed(pages_pdf(sheet("program", "hall board")), tmp_path)

    assert sum(word.text == TICK for word in read.words) == wanted


def test_each_page_bears_rig_revision_and_page_of_pages(tmp_path: Path) -> None:
    """Loose sheets find together again."""
    read = printed(pages_pdf(sheet("pack", "hall board")), tmp_path)

    for number in range(1, read.pages + 1):
        text = " ".join(word.text for word in read.on(number))
        assert "Packing: hall board" in text
        assert "revision 12" in text
        assert f"page {number} of {read.pages}" in text


def test_the_same_sheet_is_the_same_bytes() -> None:
    """Two prints can be compared."""
    pages = sheet("pack", "fly board")

    assert pages_pdf(pages) == pages_pdf(pages)


def test_the_text_says_what_the_pages_say_in_lines_of_a_hundred() -> None:
    """For a message, or a printer that knows nothing else."""
    for kind in ("pack", "program"):
        pages = sheet(kind, "hall board")
        text = pages_text(pages)
        assert max(map(len, text.splitlines())) <= 100
        said = [each for page in pages.pages for each in texts_of((page.title, *page.blocks))]
        squeezed = re.sub(r"[\s\u00a0]", "", text)
        assert {
            letter for letter in set(letters(said)) if squeezed.count(letter) < letters(said).count(letter)
        } == set()


@pytest.mark.parametrize(("name", "pages"), [("fly board", 4), ("hall board", 5)])
def test_the_packing_sheet_is_few_pages_and_what_is_handed_over_has_one_of_its_own(
    name: str, pages: int, tmp_path: Path
) -> None:
    """Who stands in for a roadie holds one sheet; the stage manager gets the last, and nothing else is on either."""
    read = printed(pages_pdf(sheet("pack", name)), tmp_path)
    text = {at: " ".join(word.text for word in read.on(at)) for at in range(1, read.pages + 1)}

    assert read.pages == pages
    assert [at for at, words in text.items() if "If it dies" in words] == [pages - 1]
    assert [at for at, words in text.items() if "For the stage manager" in words] == [pages]
    assert "join the two leads" in text[pages - 1]
    assert "power drops" in text[pages]


def test_of_a_board_that_notes_no_midi_lead_what_to_join_is_marked_and_stays_one_page(tmp_path: Path) -> None:
    """One sign in each row and its meaning once: a longer mark would break the page that is handed over."""
    of = demo_library()
    board = of.rigs["hall board"].model_copy(update={"leads": ()})
    of = of.model_copy(update={"rigs": {"hall board": board}})

    read = printed(pages_pdf(pack_pages(of, packing_list(of, "hall board"), revision=1)), tmp_path)

    dying, building = (" ".join(word.text for word in read.on(at)) for at in (read.pages - 1, 2))
    assert "If it dies" in dying
    assert "†: one of the two is not noted, taken for granted." in dying
    assert dying.count("†") > 3
    assert "MIDI leads: not noted, taken for granted: port front →" in building
    assert "what is lost" not in " ".join(word.text for word in read.on(read.pages))
    assert all("what is lost" not in " ".join(w.text for w in read.on(at)) for at in range(1, read.pages - 1))


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("count", [1, 3, 4])
def test_of_a_small_board_no_part_is_cut_in_two(count: int, paper: str, tmp_path: Path) -> None:
    """The steps of the set-up and what is joined stand on one page, and what is packed on the one before."""
    names = ["tuner, stage", "drive, soft", "delay, tape voiced", "reverb, large hall"][:count]
    of = demo_library().model_copy(update={"rigs": {RIG: rig(*names, supply="supply, five outlets")}})

    read = printed(pages_pdf(pack_pages(of, packing_list(of, RIG), revision=1, paper=paper)), tmp_path)

    text = [" ".join(word.text for word in read.on(at)) for at in range(1, read.pages + 1)]
    assert read.pages == 4
    assert "Batteries fly" in text[0]
    assert all(words in text[1] for words in ("Set up", "0:00", "Ready after", "Awake after", "Chain:", "Supply:"))
    assert "If it dies" in text[2]
    assert "For the stage manager" in text[3]


def test_each_unit_says_which_outlet_feeds_it_and_what_its_plate_is_noted_to_say() -> None:
    """One line a unit, while the leads are plugged; what has a supply of its own or takes none says so."""
    grids = [block for page in sheet("pack", "hall board").pages for block in page.blocks if isinstance(block, Grid)]
    (supply,) = [grid for grid in grids if grid.title.startswith("Supply")]
    rows = {row[0]: row[1:] for row in supply.rows}

    assert supply.title == "Supply: supply, ten outlets (the plates decide)"
    assert rows["multi-effects, large"] == ("8", "9 V DC", "centre negative", "620", "5.5 x 2.1 mm", "18 s")
    assert (rows["ring modulator"][0], rows["volume pedal"][0]) == ("its own", "none")


def test_a_rig_that_cannot_be_wired_says_so_where_it_is_built_and_joins_no_signal_leads() -> None:
    """A tuner between two loops and in none; the leads of MIDI are as they were."""
    boxes = {name: unit(switches={"main": {"foot": True}}) for name in ("fuzz", "tuner", "drive", "multi", "switcher")}
    loops = {"switcher": {"one": ["fuzz"], "two": ["drive"]}}
    switcher = unit(switches={each: {"foot": True} for each in ("one", "two")})
    heard = {"multi": {"port": "p", "channel": 1}}
    of_rig = rig("fuzz", "tuner", "drive", "multi", loops=loops, units=heard)
    of = library({**boxes, "switcher": switcher}, of_rig, song({"on": {"fuzz": {"main": "on"}}}, "on"))

    pages = {page.title: texts_of(page.blocks) for page in pack_pages(of, packing_list(of, RIG), revision=1).pages}

    assert any("'tuner' stands between two of its loops and in none" in text for text in pages["Build"])
    dying = [text for text in pages["If it dies"] if "not known, since it cannot be wired as the rig says" in text]
    assert len(dying) == 5
    assert not any("leave one of switcher off" in text for text in pages["If it dies"])


def test_a_dead_switcher_says_on_its_page_what_it_costs_the_feet() -> None:
    """What was in its loops is on the floor then."""
    page = next(page for page in sheet("pack", "hall board").pages if page.title == "If it dies")

    assert any("; feet: 168 presses more inside songs" in text for text in texts_of(page.blocks))


def test_a_copy_says_only_what_is_changed_in_it() -> None:
    """To copy a preset and change one value is less to go wrong than to store twelve."""
    blocks = [block for page in sheet("program", "hall board").pages for block in page.blocks]
    grids = [block for block in blocks if isinstance(block, Grid)]
    cells = {row[3] for grid in grids for row in grid.rows if row[2] == "Lamp room: drone"}

    assert cells == {"copy of 7 long wash, then: time 909 ms"}


def test_a_slot_that_is_like_an_earlier_one_says_which() -> None:
    """Hands copy; they dial only what is new."""
    grids = [block for block in sheet("program", "fly board, no MIDI").pages[0].blocks if isinstance(block, Grid)]
    cells = {row[1]: row[3] for row in grids[1].rows}

    assert cells["3-1"] == "same as 2-2 cold: copy it"
    assert cells["4-2"] == "copy of 2-2 cold, then: on: fuzz, chorus"
    assert sum(cell.startswith("same as ") for cell in cells.values()) == 61


def test_holes_split_banks_and_lost_uses_stand_above_the_slots() -> None:
    """What the player must know first stands first."""
    text = " ".join(pages_text(sheet("program", "fly board, no MIDI")).split())

    assert "▲ More sounds than one bank holds, so the bank changes inside: " in text
    assert "▲ Recalls that are heard inside a song where feet follow this sheet: 15 ms each, in " in text
    assert "Fewer gigs at once may end that." in text


def test_a_rig_with_nothing_to_store_says_so() -> None:
    """A page that is empty looks like a mistake."""
    of = library({"fuzz": unit(switches={"main": {"foot": True}})}, rig("fuzz"), song({"all": {"fuzz": "on"}}))

    pages = programming_pages(programming(of, RIG), revision=1)

    assert [page.title for page in pages.pages] == ["Nothing to store"]


def test_what_is_stored_reads_on_then_off_then_values() -> None:
    """The eye looks for what is on."""
    stores = {"drive": "off", "delay": "on", "delay time": "400 ms", "reverb": "on"}

    assert stores_words(stores) == "on: delay, reverb; off: drive; delay time 400 ms"


def test_a_heavy_case_asks_for_two_people_and_an_unknown_weight_for_scales() -> None:
    """The hall board in its case is more than is recommended for one, and its transformer was never weighed."""
    text = " ".join(pages_text(sheet("pack", "hall board")).split())

    assert "▲ Two people or wheels, or two loads: more than what is recommended for one person" in text
    assert "▲ Weigh it: nobody knows what these weigh, and they come on top: mains supply of ring modulator." in text


@pytest.mark.parametrize(
    "word",
    [
        "Lifting",
        "Supply",
        "Mains",
        "Hearing",
        "licensed",
        "local code",
        "plate",
        "23 kg",
        "32 kg",
        "polarity",
        "Abroad",
        "Batteries",
    ],
)
def test_the_packing_sheet_carries_its_cautions(word: str) -> None:
    """Where work can hurt somebody the sheet says so."""
    assert word in pages_text(sheet("pack", "fly board"))


@pytest.mark.parametrize(("seconds", "text"), [(0, "0:00"), (9.6, "0:10"), (59.6, "1:00"), (605, "10:05")])
def test_times_read_as_minutes_and_seconds(seconds: float, text: str) -> None:
    """As on a stopwatch."""
    assert clock(seconds) == text


def test_eighty_wide_letters_break_wherever_they_stand(tmp_path: Path) -> None:
    """A name may be one long word."""
    long = "W" * 80
    rows = ((TICK, long, "1", "2"),)
    grid = Grid(long, ("", "what", "much", "more"), rows, (0.35, 3, 1, 1), closing=long)
    pages = PlainPages((long,), (Page(long, (Words(long, long), grid, Boxed(long, (long,)))),), Paper.A4)

    read = printed(pages_pdf(pages), tmp_path)

    assert all(word.left + word.width <= read.page_size[0] for word in read.words)
    assert sum(word.text.count("W") for word in read.words) >= 80 * 8


def test_what_no_font_draws_is_an_error() -> None:
    """Never a silent box."""
    with pytest.raises(OutputError, match="no font can draw"):
        pages_pdf(PlainPages(("港",), (Page("港", ()),)))
