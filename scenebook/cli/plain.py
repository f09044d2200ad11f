"""Print plainly: aligned columns, JSON, and progress where somebody watches."""

import json
import re
import shlex
import sys
import unicodedata
from collections.abc import Callable, Iterable, Sequence
from typing import Any

from scenebook.model.amounts import counted

__all__ = [
    "columns",
    "command_line",
    "counted",
    "length_words",
    "names_words",
    "print_json",
    "print_lines",
    "progress_line",
]


def print_lines(lines: Iterable[str]) -> None:
    """Print lines, without blanks at their ends."""
    print("\n".join(line.rstrip() for line in lines))


def print_json(value: Any) -> None:
    """Print a value as JSON, in the script that its words are written in where the output can hold it."""
    holds_all = (sys.stdout.encoding or "utf-8").lower().replace("-", "").startswith("utf")
    print(json.dumps(value, ensure_ascii=not holds_all, indent=2))


def columns(rows: Iterable[Sequence[str]], *, indent: int = 0) -> list[str]:
    """Return rows as lines, each column as wide as its widest cell; the last one is as long as it is."""
    cells = [[str(cell) for cell in row] for row in rows]
    count = max((len(row) for row in cells), default=0)
    widths = [max((_width(row[at]) for row in cells if at < len(row)), default=0) for at in range(count)]
    return [
        (" " * indent + "  ".join(cell + " " * (widths[at] - _width(cell)) for at, cell in enumerate(row))).rstrip()
        for row in cells
    ]


def names_words(names: Iterable[str]) -> str:
    """Return names in one line; where one of them has a comma in it, each in quotes."""
    known = list(names)
    return "; ".join(map(repr, known)) if any("," in name for name in known) else ", ".join(known)


def length_words(text: str | None) -> str:
    """Return a length as it was written; a plain number is one of seconds."""
    return f"{text} s" if text and text.replace(".", "", 1).isdigit() else text or ""


def command_line(*words: str) -> str:
    """Return a command as it can be pasted into a terminal."""
    return " ".join(["scenebook", *map(_pasted, words)])


def _pasted(word: str) -> str:
    if re.fullmatch(r"[\w:/.,+-]+", word):
        return word
    return shlex.quote(word) if any(sign in word for sign in '"$`!\\') else f'"{word}"'


def progress_line(what: str) -> Callable[[int, int], None] | None:
    """Return what shows progress on standard error, or nothing where that is no terminal."""
    if not sys.stderr.isatty():
        return None

    def show(done: int, count: int) -> None:
        end = "\r" if done < count else "\r\x1b[K"
        print(f"{what} {done} of {count}", end=end, file=sys.stderr, flush=True)

    return show


def _width(text: str) -> int:
    """Return how many columns a text takes: none for a combining mark, two for a wide character (UAX 11)."""
    return sum(0 if unicodedata.combining(c) else 1 + (unicodedata.east_asian_width(c) in "WF") for c in text)
