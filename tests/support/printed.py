"""Read a PDF back by other programs: its words with their places, its fonts, its pages, its ink.

Poppler's programs are nobody's of ours, so what they find is what a printer gets.
"""

import re
import subprocess
from collections import Counter
from collections.abc import Iterable, Sequence
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

from scenebook.sheets.view import Do, GigView, SongPage

__all__ = [
    "Printed",
    "Word",
    "all_songs",
    "characters",
    "dos",
    "entry_words",
    "everything",
    "ink_height",
    "misprints",
    "packed",
    "printed",
]

_MM_A_POINT = 25.4 / 72
_TITLE_LINES = 34  # two lines of one title stand closer than that, and two titles don't


class Word(NamedTuple):
    """A word where it stands; places and size in points from the page's top left."""

    page: int
    left: float
    top: float
    width: float
    size: float  # of the font: the height that the reader reports
    text: str


class Printed(NamedTuple):
    """A PDF as another program reads it."""

    words: tuple[Word, ...]
    pages: int
    page_size: tuple[float, float]
    fonts: tuple[tuple[str, bool], ...]  # name, embedded

    def on(self, *pages: int) -> list[Word]:
        """The words of some pages in reading order."""
        return [word for word in self.words if word.page in pages]

    def pages_of(self, song: SongPage) -> list[int]:
        """The pages on which this song's title stands in the size of titles, below the bearing."""
        return [page for page, _, _ in self.places_of(song)]

    def places_of(self, song: SongPage) -> list[tuple[int, float, float]]:
        """Where this song stands: page, from its title's top to the next title's or the foot of the page."""
        wanted = packed(song.number + song.name)
        found = []
        for page in range(1, self.pages + 1):
            titles = _titles([w for w in self.on(page) if 20 < w.size < 28])
            tops = [*(min(w.top for w in title) - 2 for title in titles), self.page_size[1]]
            for title, top, end in zip(titles, tops, tops[1:], strict=False):
                if packed("".join(w.text for w in title)) == wanted:
                    found.append((page, top, end))
        return found

    def of(self, song: SongPage) -> list[Word]:
        """The words of a song's own places, in reading order; the bearing and the legend are nobody's."""
        return [
            word
            for page, top, end in self.places_of(song)
            for word in self.on(page)
            if top <= word.top < min(end, self._legend(page))
        ]

    def _legend(self, page: int) -> float:
        """Where the legend begins: at the last place that says how on, off and must are marked."""
        words = self.on(page)
        starts: list[float] = [
            one.top - 2
            for one, *others in zip(*(words[index:] for index in range(5)), strict=False)
            if [one.text, *(other.text for other in others)] == ["●", "on", "○", "off", "◆"]
        ]
        return starts[-1]


def printed(data: bytes, folder: Path) -> Printed:
    """Read a PDF with Poppler's pdftotext, pdfinfo and pdffonts."""
    path = folder / "sheet.pdf"
    path.write_bytes(data)
    info = _run("pdfinfo", path)
    size = re.search(r"Page size:\s+([\d.]+) x ([\d.]+)", info)
    pages = re.search(r"Pages:\s+(\d+)", info)
    assert size
    assert pages
    words = tuple(_words(_run("pdftotext", "-tsv", path, "-")))
    return Printed(words, int(pages[1]), (float(size[1]), float(size[2])), tuple(_fonts(_run("pdffonts", path))))


def packed(text: str) -> str:
    """Return a text without what a line break may change: white space and the places where a word may break."""
    return re.sub(r"[\s\u200b]+", "", text)


def characters(texts: Iterable[str]) -> Counter[str]:
    """Count the characters that leave ink."""
    return Counter(packed("".join(texts)))


def all_songs(view: GigView) -> list[SongPage]:
    return [*view.songs, *(song for section in view.last for song in section.songs)]


def misprints(view: GigView, read: Printed) -> dict[str, tuple[str, str]]:
    """Compare each song's places with the view, whole: for each that differs, what lacks and what is too much."""
    found = {}
    for song in all_songs(view):
        overleaf = len(read.places_of(song)) - 1
        facts = [*song.facts, *"·" * max(0, len(song.facts) - 1)]
        title = [song.number, song.name, *[song.number, song.name, "continued"] * overleaf, *facts]
        wanted = characters([*title, *everything(song)])
        got = characters(word.text for word in read.of(song))
        if overleaf < 0 or got != wanted:
            found[song.name] = ("".join((wanted - got).elements()), "".join((got - wanted).elements()))
    return found


def entry_words(read: Printed, song: SongPage) -> list[list[Word]]:
    """The words of each form entry: from the line of its "cue N", at the right edge, to the next one's."""
    title = ((13.9, 14.1), (20, 28))  # the sizes of facts and name, which every page repeats
    words = [word for word in read.of(song) if not any(low < word.size < high for low, high in title)]
    heads = [
        (one.page, one.top)
        for one, two in pairwise(words)
        if one.text == "cue" and two.text.isdecimal() and two.left + two.width > read.page_size[0] - 36
    ]
    ends = [*heads[1:], (10_000, 0.0)]
    return [[w for w in words if start < (w.page, w.top + 4) < end] for start, end in zip(heads, ends, strict=True)]


def everything(song: SongPage) -> list[str]:
    """What a song's pages say below the bearing and above the legend, but for the title and the repeated facts."""
    said = [*song.notes, song.then, *(f"▲ {caveat.what}: {caveat.do}" for caveat in song.lacks)]
    said += ["Stand-ins: ", ";".join(song.stand_ins)] if song.stand_ins else []
    for entry in song.entries:
        said += [entry.scene, entry.bars, f"cue {entry.cue}"]
        said += [f"“{entry.words}”" if entry.words else "", f"“{entry.notes}”" if entry.notes else ""]
        if entry.as_cue is not None:
            said.append(f"as cue {entry.as_cue}, nothing to do")
        said += ["▲ lacks", ";".join(entry.lacks)] if entry.lacks else []
        said += ["without", ";".join(entry.without)] if entry.without else []
        for caveat in entry.caveats:
            said.append(f"▲ {caveat.what}: {caveat.do}")
        for mark in entry.chain:
            said += ["●" if mark.on else "○", mark.unit, mark.shows]
        for sound in entry.sounds:
            said += [sound.unit, ":", ";".join(part.need + part.words for part in sound.parts)]
        said += dos(entry.to_do)
        said += [*entry.remarks, ". ".join(entry.asides)]
    return said


def dos(to_do: Iterable[Do]) -> list[str]:
    """What a list of moves says: each moment once, then its moves."""
    said, moment = [], None
    for do in to_do:
        said += [do.moment] if do.moment != moment else []
        moment = do.moment
        said += [do.shape, do.words, f"(was {do.was})" if do.was else "", f", {do.later}" if do.later else ""]
    return said


def _titles(words: Sequence[Word]) -> list[list[Word]]:
    """Part the words of a page's titles: a title's lines stand close to each other."""
    found: list[list[Word]] = []
    for word in sorted(words, key=lambda word: word.top):
        if found and word.top - found[-1][-1].top < _TITLE_LINES:
            found[-1].append(word)
        else:
            found.append([word])
    return [[word for word in words if word in title] for title in found]


def ink_height(data: bytes, folder: Path, word: Word) -> float:
    """Return how high the ink of a word is, in mm, by drawing the page at 600 dots an inch and looking."""
    path, dots = folder / "ink.pdf", 600
    path.write_bytes(data)
    scale = dots / 72
    # From above the capitals to below the base line; the reader's box is as high as the font's size.
    box = [
        round(word.left * scale),
        round((word.top - 2) * scale),
        round(word.width * scale),
        round((word.size + 4) * scale),
    ]
    made = subprocess.run(
        ["pdftoppm", "-r", str(dots), "-gray", "-f", str(word.page), "-l", str(word.page)]
        + [part for flag, value in zip("xyWH", box, strict=True) for part in (f"-{flag}", str(value))]
        + [str(path)],
        check=True,
        capture_output=True,
    ).stdout
    header, width, height, _, pixels = made.split(maxsplit=4)
    assert header == b"P5"
    pixels = made[-int(width) * int(height) :]
    rows = [row for row in range(int(height)) if min(pixels[row * int(width) : (row + 1) * int(width)]) < 128]
    return (rows[-1] - rows[0] + 1) / scale * _MM_A_POINT


def _run(*command: str | Path) -> str:
    return subprocess.run([str(part) for part in command], check=True, capture_output=True, text=True).stdout


def _words(tsv: str) -> Iterable[Word]:
    for line in tsv.splitlines()[1:]:
        level, page, _, _, _, _, left, top, width, height, _, text = line.split("\t", 11)
        if level == "5":
            yield Word(int(page), float(left), float(top), float(width), float(height), text)


def _fonts(listing: str) -> Iterable[tuple[str, bool]]:
    for line in listing.splitlines()[2:]:
        name, *_, embedded, _, _, _, _ = line.split()
        yield name.split("+")[-1], embedded == "yes"
