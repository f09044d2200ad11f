"""A sound font with a preset in every bank and program that is asked for, all of them silent.

A synthesizer takes bank 0 where its sound font lacks the bank that was selected, and the published fonts have few
presets beyond bank 0; so that its report can be held against any bank, the font is made to measure. Source: *SoundFont
Technical Specification 2.04* (E-mu Systems, 2006): chunks and record layouts of section 7.
"""

import struct
from collections.abc import Sequence
from pathlib import Path

__all__ = ["write_sound_font"]

_INSTRUMENT, _SAMPLE = 41, 53  # generators that point from a preset to its instrument and on to its sample
_FRAMES, _PADDING = 64, 46  # the specification asks for 46 frames of silence behind a sample


def write_sound_font(path: Path, presets: Sequence[tuple[int, int]]) -> Path:
    """Write a font with these (bank, program) pairs, named "bank program", and return its path."""
    info = (
        _chunk(b"ifil", struct.pack("<HH", 2, 1)) + _chunk(b"isng", _name("EMU8000")) + _chunk(b"INAM", _name("silent"))
    )
    samples = _chunk(b"smpl", bytes(2 * (_FRAMES + _PADDING)))
    chunks = _list(b"INFO", info) + _list(b"sdta", samples) + _list(b"pdta", _presets(sorted(presets)) + _instrument())
    path.write_bytes(b"RIFF" + struct.pack("<I", len(chunks) + 4) + b"sfbk" + chunks)
    return path


def _presets(presets: Sequence[tuple[int, int]]) -> bytes:
    """Return a preset with one zone each; every list ends with a record that only marks its end."""
    headers = b"".join(
        struct.pack("<20sHHHIII", _name(f"{bank} {program}"), program, bank, zone, 0, 0, 0)
        for zone, (bank, program) in enumerate(presets)
    )
    count = len(presets)
    end = struct.pack("<20sHHHIII", _name("EOP"), 0, 0, count, 0, 0, 0)
    zones = b"".join(struct.pack("<HH", number, 0) for number in range(count + 1))
    generators = struct.pack("<HH", _INSTRUMENT, 0) * count + bytes(4)
    return (
        _chunk(b"phdr", headers + end)
        + _chunk(b"pbag", zones)
        + _chunk(b"pmod", bytes(10))
        + _chunk(b"pgen", generators)
    )


def _instrument() -> bytes:
    sample = struct.pack("<20sIIIIIBbHH", _name("silence"), 0, _FRAMES, 8, _FRAMES - 8, 44_100, 60, 0, 0, 1)
    return (
        _chunk(b"inst", struct.pack("<20sH20sH", _name("silence"), 0, _name("EOI"), 1))
        + _chunk(b"ibag", struct.pack("<HHHH", 0, 0, 1, 0))
        + _chunk(b"imod", bytes(10))
        + _chunk(b"igen", struct.pack("<HH", _SAMPLE, 0) + bytes(4))
        + _chunk(b"shdr", sample + struct.pack("<20s26x", _name("EOS")))
    )


def _name(text: str) -> bytes:
    return text.encode("ascii").ljust(20, b"\0")


def _list(kind: bytes, body: bytes) -> bytes:
    return _chunk(b"LIST", kind + body)


def _chunk(kind: bytes, body: bytes) -> bytes:
    return kind + struct.pack("<I", len(body)) + body + b"\0" * (len(body) % 2)
