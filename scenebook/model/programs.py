"""Programs: how a unit stores and recalls its presets, and how its display and the wire count them."""

import math
import re
from enum import StrEnum
from functools import cached_property
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from scenebook.errors import BadValueError
from scenebook.model.base import Frozen, Line
from scenebook.model.protocol import DATA, FOURTEEN_BIT

__all__ = ["SLOT_WRITING", "BankSelect", "Milliseconds", "Programs"]

Milliseconds = Annotated[float, Field(ge=0, le=600_000)]
SLOT_WRITING = re.compile(r"(\d{1,4})(?:([-.: ]?)([A-Z]|\d))?")  # 0, 001, 1A, 1-1


class BankSelect(StrEnum):
    """Which Bank Select messages go before a Program Change: controller 0 (MSB), 32 (LSB), both or none."""

    NONE = "none"
    MSB = "msb"
    LSB = "lsb"
    BOTH = "both"


_LAST_BANK = {
    BankSelect.NONE: None,  # nothing is sent
    BankSelect.MSB: DATA[-1],
    BankSelect.LSB: DATA[-1],
    BankSelect.BOTH: FOURTEEN_BIT[-1],
}


class Programs(Frozen):
    """How a unit stores and recalls its presets."""

    count: Annotated[int, Field(ge=1, le=128 * 16384)] = 128
    first: Line = Field(default="1", description="the display's name for program 0: 0, 1, 001, 1A, 1-1")
    bank_of: Annotated[int, Field(ge=1, le=128)] | None = Field(default=None, description="slots in one bank")
    bank_select: BankSelect = BankSelect.NONE
    first_bank: Annotated[int, Field(ge=0, le=16383)] = 0
    program_change: bool = True
    foot: bool = False
    hand: bool = False
    settle_ms: Milliseconds | None = Field(default=None, description="after a recall, until it obeys again")
    silence_ms: Milliseconds = 0
    tails: Literal["kept", "cut"] = Field(default="kept", description="what rings on when a preset is recalled")
    tail_ms: Milliseconds = Field(default=0, description="how long a tail is heard that a recall cuts")
    repeat: Literal["obeyed", "ignored"] = Field(default="obeyed", description="recalling the current program")

    @property
    def settle_us(self) -> int | None:
        """The settle time in whole microseconds, a begun one counted; None where nobody knows it."""
        return None if self.settle_ms is None else math.ceil(round(self.settle_ms * 1000, 3))

    @property
    def hole_ms(self) -> float:
        """How long a recall is heard as a hole: its silence, or the tail that it cuts."""
        return max(self.silence_ms, self.tail_ms if self.tails == "cut" else 0.0)

    def label(self, slot: int) -> str:
        """Return what the display shows for slot `slot`, counted from 0."""
        bank, separator, within = self._first
        if within is None or self.bank_of is None:
            return str(int(bank) + slot).zfill(len(bank) if bank.startswith("0") else 0)
        number, place = int(bank) + slot // self.bank_of, slot % self.bank_of
        inner = chr(ord(within) + place) if within.isalpha() else str(int(within) + place)
        return f"{str(number).zfill(len(bank) if bank.startswith('0') else 0)}{separator}{inner}"

    @cached_property
    def slots(self) -> dict[str, int]:
        """Every slot by what the display shows."""
        return {self.label(slot): slot for slot in range(self.count)}

    def bank_and_program(self, slot: int) -> tuple[int, int]:
        """Return the Bank Select number (14 bits) and the program (0-127) that recall `slot`."""
        return self.first_bank + slot // 128, slot % 128

    @property
    def _first(self) -> tuple[str, str, str | None]:
        found = SLOT_WRITING.fullmatch(self.first)
        if found is None:  # pragma: no cover - validated below
            raise BadValueError(f"{self.first!r} is no name for program 0")
        return found[1], found[2] or "", found[3]

    @model_validator(mode="after")
    def _readable(self) -> Self:
        found = SLOT_WRITING.fullmatch(self.first)
        if found is None or (found[3] is not None) != (self.bank_of is not None):
            raise ValueError("first is 0, 1 or 001; with bank_of it is 1A, 1-1 or the like")
        if found[3] and found[3].isalpha() and ord(found[3]) - ord("A") + (self.bank_of or 0) > 26:
            raise ValueError("a bank has at most 26 lettered slots")
        if self.count > 128 and self.bank_select is BankSelect.NONE and self.program_change:
            raise ValueError("more than 128 programs need bank_select: msb, lsb or both")
        self._check_recalls()
        return self

    def _check_recalls(self) -> None:
        """Refuse what no Program Change could recall; a unit whose presets a foot recalls needs none."""
        if not self.program_change:
            return
        last, limit = self.bank_and_program(self.count - 1)[0], _LAST_BANK[self.bank_select]
        if limit is not None and last > limit:
            raise ValueError(f"with bank_select: {self.bank_select} the last bank is at most {limit}, and it is {last}")
        if self.repeat == "ignored" and self.count == 1:
            raise ValueError("a unit that ignores its current program needs another one to go by way of")
