"""How numbers are said: rounded half up everywhere, with no zeros at their end, no powers of ten, and one or many."""

from decimal import ROUND_FLOOR, ROUND_HALF_UP, Decimal

__all__ = ["counted", "fixed", "number_words", "rounded", "share_words", "time_words", "times_words"]

_DUST = 9  # places behind which a sum of tenths is only a float's dust


def rounded(value: float, places: int = 0) -> Decimal:
    """Return a number with so many places, halves away from zero: 12.25 to one place is 12.3."""
    return _cut(_cut(Decimal(repr(float(value))), _DUST), places)


def number_words(value: float, places: int = 1) -> str:
    """Return a number with at most so many places and no zeros at its end, thousands set apart: "1,200", "12.3"."""
    text = f"{rounded(value, places):,f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def fixed(value: float, places: int = 0) -> str:
    """Return a number with just so many places, as in a column: "440.0"."""
    return f"{rounded(value, places):f}"


def share_words(part: float, whole: float) -> str:
    """Return a share as a player reads it: "86.2 %"; "100 %" means all, and "0 %" nothing."""
    percent = _cut(Decimal(repr(100.0 * part / whole if whole else 100.0)), _DUST)
    said = _cut(percent, 1)
    if said == 100 and percent < 100:
        said = percent.quantize(Decimal("0.1"), ROUND_FLOOR)
    if said == 0 and percent > 0:
        return "under 0.1 %"
    return f"{number_words(float(said))} %"


def time_words(seconds: float) -> str:
    """Return how long something takes: "0.7 s", "20.7 s", "3 min 28 s"."""
    if rounded(seconds, 1) < 60:
        return f"{number_words(seconds)} s"
    minutes, rest = divmod(int(rounded(seconds)), 60)
    return " ".join(filter(None, [f"{minutes:,} min" * bool(minutes), f"{rest} s" * bool(rest or not minutes)]))


def times_words(count: int) -> str:
    """Return how often: "once", "12 times"."""
    return "once" if count == 1 else f"{count:,} times"


def counted(count: int, thing: str, things: str = "") -> str:
    """Return a count with its noun: "1 cue", "12 cues"."""
    return f"{count:,} {thing if count == 1 else things or thing + 's'}"


def _cut(value: Decimal, places: int) -> Decimal:
    return value.quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)
