"""What the stand's pages show can be read: contrast of every pair of colours, in both looks.

Source: *Web Content Accessibility Guidelines 2.2*, success criterion 1.4.6 (7:1) and the definitions of contrast ratio
and relative luminance: (L1 + 0.05) / (L2 + 0.05); L = 0.2126 R + 0.7152 G + 0.0722 B, a channel c being c / 12.92 up to
0.04045, else ((c + 0.055) / 1.055) ^ 2.4. `contrast.csv` holds pairs with the ratios that come of it; 4.54 for #767676
on white is the value that the guidelines' own techniques give.
"""

import csv
import re
from pathlib import Path

import pytest

import scenebook.web

STYLESHEET = Path(scenebook.web.__file__).parent / "static" / "stand.css"
PAIRS = Path(__file__).parent / "contrast.csv"
LEAST = 7.0
# Every ink that the stylesheet writes on every ground; what is reversed has the same ratio.
WRITTEN = [("ink", "paper"), ("soft", "paper"), ("red", "paper"), ("ink", "fold")]


def luminance(colour: str) -> float:
    channels = [int(colour[index : index + 2], 16) / 255 for index in (0, 2, 4)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return sum(weight * c for weight, c in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def ratio(one: str, other: str) -> float:
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def looks() -> list[dict[str, str]]:
    """Return the colours of each look, in the order in which the stylesheet has them."""
    blocks = re.findall(r":root[^{]*\{[^}]*--paper:[^}]*\}", STYLESHEET.read_text(encoding="utf-8"))
    return [dict(re.findall(r"--(\w+): #([0-9a-f]{6})", block)) for block in blocks]


def test_the_ratio_is_that_of_published_pairs() -> None:
    """A formula that is a little wrong passes what cannot be read at night."""
    with PAIRS.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))

    assert len(rows) > 10
    for row in rows:
        assert ratio(row["fg"], row["bg"]) == pytest.approx(float(row["ratio"]), abs=0.00005), row
        assert (ratio(row["fg"], row["bg"]) >= LEAST) == (row["aaa_7"] == "pass"), row


def test_every_ink_can_be_read_on_its_ground_in_both_looks() -> None:
    """A stage is dark, and a festival's noon is not."""
    found = looks()

    assert len(found) == 4  # light, the system's dark, and each chosen by hand
    assert (found[0], found[1]) == (found[2], found[3])
    for look in found:
        for ink, ground in WRITTEN:
            assert ratio(look[ink], look[ground]) >= LEAST, (ink, ground, look)


def test_no_other_colour_is_written_with() -> None:
    """A colour that stands in the stylesheet beside the looks' own would be held against nothing."""
    text = STYLESHEET.read_text(encoding="utf-8")
    bare = re.sub(r":root[^{]*\{[^}]*--paper:[^}]*\}", "", text)

    colours = set(re.findall(r"#[0-9a-fA-F]{3,8}\b(?![^{}]*\{)|rgba?\([^)]*\)|hsla?\([^)]*\)|opacity", bare))

    assert colours <= {"#fff"}  # the ground of a code that is scanned, not read


def test_nothing_moves() -> None:
    """What moves at the edge of sight takes the eye off the strings."""
    text = STYLESHEET.read_text(encoding="utf-8")

    assert not re.findall(r"animation|transition|@keyframes|scroll-behavior", text)
