"""The sheet as a page: whole, safe with any text, and asking nobody for anything."""

import re
from dataclasses import replace
from html.parser import HTMLParser

from scenebook.sheets import Paper, html, view_of
from scenebook.sheets.view import GigView, Shape, texts_of
from tests.support.cue_lists import a_gig, a_library, a_song, compiled
from tests.support.printed import packed

ODD = """<script>alert(1)</script> & "quoted" 'single' <img src=x onerror=alert(2)>"""


class Reader(HTMLParser):
    """Collects tags, what they carry, and the text."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.carried: list[tuple[str, str | None]] = []
        self.tags: set[str] = set()
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.carried += attrs
        if tag not in ("meta", "br"):
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text += data


def read(page: str) -> Reader:
    reader = Reader()
    reader.feed(page)
    assert reader.open == []
    return reader


def a_view(name: str = "Lamp room", paper: Paper = Paper.A4) -> GigView:
    library = a_library(a_gig((name, "Kelp fire"), spares=("Limpet",)), {name: a_song(notes=f"{name}\nTwice.")})
    return view_of(library, compiled(library), revision=12, paper=paper)


def test_the_page_says_all_that_the_view_says() -> None:
    """Read on a phone beside the stage, it is the same sheet."""
    view = a_view()

    text = packed(read(html(view)).text)

    assert [said for said in texts_of(view) if packed(said) not in text and said != "a4"] == []


def test_any_text_is_only_text() -> None:
    """A song's name can't become a part of the page."""
    page = read(html(a_view(ODD)))

    assert {"script", "img"} & page.tags == set()
    assert packed(ODD) in packed(page.text)


def test_a_gigs_name_cannot_end_the_style_that_prints_it() -> None:
    """The gig's name stands at the head of every printed page, in the page's style."""
    view = replace(a_view(), gig='"; } </style><script>')

    page = read(html(view))

    assert "script" not in page.tags
    assert '@top-left { content: "\\22 \\3b \\20 \\7d \\20 \\3c \\2f style\\3e \\3c script\\3e ' in html(view)


def test_what_hands_and_feet_do_is_larger_than_the_rest_and_a_check_is_not() -> None:
    """The same weight of things as on paper; a look at a lamp is no press."""
    view = a_view()
    look = replace(view.songs[0].entries[1].to_do[0], shape=Shape.CHECK)
    entry = replace(view.songs[0].entries[1], to_do=(view.songs[0].entries[1].to_do[2], look))
    source = html(replace(view, songs=(replace(view.songs[0], entries=(entry,)),)))

    assert ".do b { font-size: 18.0pt" in source
    assert "<b>● press fuzz: on</b>" in source
    assert '<b class="look">– turn fuzz gain to 4 ' in source


def test_a_short_song_is_not_split_and_need_not_have_a_page_of_its_own() -> None:
    """Printed from the page, it takes no more paper than the sheet."""
    view = a_view()
    long = replace(view.songs[1], entries=view.songs[1].entries * 3)

    source = html(replace(view, songs=(view.songs[0], long)))

    assert source.count('<section class="song short">') == 3  # the first song, the spare one, the house sounds
    assert source.count('<section class="song">') == 1
    assert "section.short { break-inside: avoid }" in source
    assert ".song + .floor { break-before: page }" in source
    assert '<section class="set-up">' in source


def test_the_page_asks_nobody_for_anything() -> None:
    """No network at the hall, and nobody learns who opened it; the page forbids what is not there anyway."""
    source = html(a_view(ODD))
    page = read(source)

    assert {name for name, _ in page.carried} <= {"lang", "charset", "name", "content", "http-equiv", "class"}
    assert re.findall(r"url\(|@import", source) == []
    assert ("content", "default-src 'none'; style-src 'unsafe-inline'") in page.carried


def test_the_page_prints_on_the_paper_that_was_asked_for() -> None:
    """A browser's own margins and page would cut the floor lines."""
    assert "@page { size: A4;" in html(a_view())
    assert "@page { size: letter;" in html(a_view(paper=Paper.LETTER))
