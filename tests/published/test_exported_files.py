"""The demo library's gigs as Standard MIDI Files, read by two readers that are not ours, against the cues.

The readers are midicsv 1.1 (a program) and music21 (a library); neither is mido, which writes the files. What a file
means is taken from *Standard MIDI Files 1.0* (MMA RP-001, revised February 1996): a tick takes the tempo in force
divided by the division. Bar lines are worked out here from the songs alone.
"""

import csv
import math
import re
import subprocess
from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any, NamedTuple

import pytest

from scenebook.actions.compiling import GigSlice
from scenebook.actions.exporting import export_lists
from scenebook.cueing.compile import compile_gig
from scenebook.cueing.cues import Cue, Message, MessageKind
from scenebook.model import Library
from scenebook.model.songs import seconds as seconds_of
from scenebook.proof import SentCue, SentMessage
from scenebook.proof.proving import Prover
from tests.demo_library.reading import demo_library

DEMO = demo_library()
GIGS = [gig for gig in DEMO.gigs if DEMO.rigs[DEMO.gigs[gig].rig or ""].ports]
LISTS = {gig: (compile_gig(DEMO, gig), compile_gig(DEMO, gig, full=True)) for gig in GIGS}
PORTS = [(gig, port) for gig in GIGS for port in DEMO.rigs[DEMO.gigs[gig].rig or ""].ports]


class Read(NamedTuple):
    """What a reader found in a file; ticks from the start, metres as (tick, beats, note), messages of all tracks."""

    header: tuple[int, int, int]  # format, tracks, division
    tempos: list[tuple[int, int]]
    metres: list[tuple[int, int, int]]
    markers: list[tuple[int, str]]
    cue_points: list[tuple[int, str]]
    messages: list[tuple[int, bytes]]

    def us(self, tick: int) -> Fraction:
        """Return the µs from the start to a tick."""
        total, ends = Fraction(0), [begin for begin, _ in self.tempos[1:]]
        for (begin, pace), end in zip(self.tempos, [*ends, tick], strict=True):
            total += Fraction(max(0, min(end, tick) - begin) * pace, self.header[2])
        return total


# --- the readers --------------------------------------------------------------------------------------------------


def by_midicsv(path: Path) -> Read:
    """Read with midicsv: rows of track, tick, kind; channels and programs from 0, letters beyond ASCII in octal."""
    printed = subprocess.run(["midicsv", path], capture_output=True, check=True).stdout.decode("latin-1")
    rows = list(csv.reader(printed.splitlines(), skipinitialspace=True))
    found = Read(tuple(map(int, rows[0][3:6])), [], [], [], [], [])  # type: ignore[arg-type]
    for _, tick, kind, *fields in rows[1:]:
        if kind == "Tempo":
            found.tempos.append((int(tick), int(fields[0])))
        elif kind == "Time_signature":
            found.metres.append((int(tick), int(fields[0]), 1 << int(fields[1])))
        elif kind in ("Marker_t", "Cue_point_t"):
            (found.markers if kind == "Marker_t" else found.cue_points).append((int(tick), unescaped(fields[0])))
        elif kind == "System_exclusive":
            found.messages.append((int(tick), bytes([0xF0, *map(int, fields[1:])])))
        elif kind in STATUS:
            status, *data = map(int, fields)
            found.messages.append((int(tick), bytes([STATUS[kind] + status, *data])))
    return found._replace(messages=sorted(found.messages, key=lambda each: each[0]))


STATUS = {"Note_off_c": 0x80, "Note_on_c": 0x90, "Control_c": 0xB0, "Program_c": 0xC0}


def unescaped(text: str) -> str:
    return re.sub(r"\\([0-7]{3})", lambda found: chr(int(found[1], 8)), text).encode("latin-1").decode()


def by_music21(path: Path) -> Read:
    """Read with music21: channels from 1, delta times as events of their own; bytes as it would write them again."""
    from music21 import midi

    file = midi.MidiFile()
    file.open(str(path))
    file.read()
    file.close()
    found = Read((file.format, len(file.tracks), file.ticksPerQuarterNote), [], [], [], [], [])
    for track in file.tracks:
        now = 0
        for event in track.events:
            if event.isDeltaTime():
                now += event.time
            else:
                keep(found, now, event)
    return found._replace(messages=sorted(found.messages, key=lambda each: each[0]))


def keep(found: Read, now: int, event: Any) -> None:
    kind, data = event.type.name, event.data
    if kind == "SET_TEMPO":
        found.tempos.append((now, int.from_bytes(data, "big")))
    elif kind == "TIME_SIGNATURE":
        found.metres.append((now, data[0], 1 << data[1]))
    elif kind in ("MARKER", "CUE_POINT"):
        (found.markers if kind == "MARKER" else found.cue_points).append((now, data.decode()))
    elif kind == "F0_SYSEX_EVENT":
        found.messages.append((now, b"\xf0" + data))
    elif kind not in ("SEQUENCE_TRACK_NAME", "END_OF_TRACK"):
        found.messages.append((now, event.getBytes()))


READERS = {"midicsv": by_midicsv, "music21": by_music21}


@pytest.fixture(params=READERS)
def read(request: pytest.FixtureRequest, needs: Callable[[str], None]) -> Callable[[Path], Read]:
    if request.param == "midicsv":
        needs("midicsv")
    return READERS[request.param]


@pytest.fixture(scope="module")
def exported(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Export every demo gig as `scenebook export` does; a folder each."""
    folders = {}
    for gig, (lean, full) in LISTS.items():
        folders[gig] = tmp_path_factory.mktemp("gig")
        export_lists(GigSlice(DEMO, gig, lean.rig, 1), lean, full, folders[gig])
    return folders


def gig_file(folder: Path, port: str) -> Path:
    """Return the file of the whole gig on one port: the only ones without a song's number."""
    files = [path for path in folder.glob("*.mid") if not re.search(r"-\d\d-", path.name)]
    (found,) = files if len(files) == 1 else [path for path in files if path.stem.endswith(port)]
    return found


# --- what the cues say --------------------------------------------------------------------------------------------


class Line(NamedTuple):
    """A cue on its bar line, in ticks; what its marker says and what is sent."""

    tick: int
    cue: Cue
    words: str
    messages: Sequence[Message]


def bar_quarters(metre: str) -> Fraction:
    beats, note = map(int, metre.split("/"))
    return Fraction(4 * beats, note)


def bar_lines(library: Library, gig: str, division: int) -> Iterator[Line]:
    """Walk through sets, songs and forms, counting quarter notes; full at each first scene."""
    lean, full = LISTS[gig]
    now, number, said = Fraction(0), 0, ""
    for part in library.gigs[gig].sets:
        for index, entry in enumerate(part.songs):
            song = library.songs[entry.song]
            bar = bar_quarters(song.metre)
            now = now or bar  # the pre-roll
            begin = now
            for form, place in enumerate(entry.form or song.played):
                number += 1
                cue = (lean if form else full).cues[number]
                notes = [said] if form == 0 and said else []
                notes += ["bars not known, 8 taken"] if place.bars is None else []
                notes += to_check(cue) if form == 0 else []
                words = f"{entry.song}: {place.scene}" + (f" ({'; '.join(notes)})" if notes else "")
                messages = cue.messages if form else with_toggles(cue.messages, lean.cues[number].messages)
                yield Line(round(now * division), cue, words, messages)
                now += (Fraction(place.bars) if place.bars else 8) * bar
            gap = (
                part.interval
                if index == len(part.songs) - 1 and not entry.segue
                else entry.gap or library.gigs[gig].gap
            )
            gap = "0 s" if entry.segue else gap
            said = "gap before not known, 2 bars taken" if gap is None else ""
            tempo = Fraction(entry.tempo or song.tempo or 120)
            now += 2 * bar if gap is None else Fraction(seconds_of(gap)) * tempo / 60
            now = begin + math.ceil((now - begin) / bar) * bar


# The only switches of the demo's gigs that are worked by a toggling message; no preset stores them.
TOGGLES = [("looper, two tracks", "main"), ("looper, two tracks", "half speed")]


def to_check(cue: Cue) -> list[str]:
    """Return what a marker says of toggling switches, of which a full list knows nothing."""
    stands = {(state.unit, name): value for state in cue.states for name, value in state.values.items()}
    return [f"check: {unit} {name} {stands[unit, name]}" for unit, name in TOGGLES if (unit, name) in stands]


def with_toggles(full: Sequence[Message], lean: Sequence[Message]) -> list[Message]:
    """Return a full list and what flips switches in the lean one, when all else on that port has settled."""
    messages = list(full)
    for flip in [message for message in lean if (message.unit, message.member) in TOGGLES]:
        messages.append(flip._replace(at_us=settled_us(on_port(messages, flip.port))))
    return sorted(messages, key=lambda message: message.kind is MessageKind.TRIGGER)


def on_port(messages: Sequence[Message], port: str) -> list[Message]:
    return [message for message in messages if message.port == port]


def settled_us(messages: Sequence[Message]) -> int:
    """Return when all but triggers has settled, from the cue, on one port."""
    ends = [0]
    for message in messages:
        if message.kind is not MessageKind.TRIGGER:
            programs = DEMO.units[message.unit].programs
            settle = programs.settle_ms or 0 if programs and message.kind is MessageKind.RECALL else 0
            ends.append(message.at_us + 320 * len(message.data) + round(settle * 1000))
    return max(ends)


# --- the tests ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("gig", "port"), PORTS)
def test_markers_tempos_and_metres_are_those_of_the_songs(
    gig: str, port: str, read: Callable[[Path], Read], exported: dict[str, Path]
) -> None:
    """Whoever opens the file in a sequencer finds every scene where the form says it is."""
    found = read(gig_file(exported[gig], port))

    lines = list(bar_lines(DEMO, gig, found.header[2]))
    firsts = [line for line in lines if line.cue.form == 0]
    assert found.header[0] == 1
    assert found.markers == [(0, "home"), *((line.tick, line.words) for line in lines)]
    assert found.cue_points == [(line.tick, f"{n} {line.cue.song}") for n, line in enumerate(firsts, 1)]
    entries = DEMO.gigs[gig].entries
    tempos = {
        (index and line.tick): round(60_000_000 / (entry.tempo or DEMO.songs[entry.song].tempo or 120))
        for index, (line, entry) in enumerate(zip(firsts, entries, strict=True))
    }
    assert {tick: tempo_at(found, tick) for tick in tempos} == tempos
    metres = {
        (index and line.tick): tuple(map(int, DEMO.songs[entry.song].metre.split("/")))
        for index, (line, entry) in enumerate(zip(firsts, entries, strict=True))
    }
    assert {tick: metre_at(found, tick) for tick in metres} == metres
    assert set(metres) >= {tick for tick, *_ in found.metres}
    assert set(tempos) >= {tick for tick, _ in found.tempos}


def tempo_at(found: Read, tick: int) -> int:
    return [pace for begin, pace in found.tempos if begin <= tick][-1]


def metre_at(found: Read, tick: int) -> tuple[int, int]:
    return [(beats, note) for begin, beats, note in found.metres if begin <= tick][-1]


@pytest.mark.parametrize(("gig", "port"), PORTS)
def test_every_message_comes_in_the_order_of_the_cues_and_at_its_time(
    gig: str, port: str, read: Callable[[Path], Read], exported: dict[str, Path]
) -> None:
    """Settled on the bar line, triggers on it: at most a tick for each message of the cue before that, never after."""
    found = read(gig_file(exported[gig], port))

    home = LISTS[gig][0].cues[0]
    lines = [Line(0, home, "home", home.messages), *bar_lines(DEMO, gig, found.header[2])]
    expected = [message for line in lines for message in on_port(line.messages, port)]
    assert [data for _, data in found.messages] == [message.data for message in expected]
    assert len({tick for tick, _ in found.messages}) == len(expected)
    ticks = iter(found.messages)
    for line in lines:
        messages = on_port(line.messages, port)
        begin = found.us(line.tick) - (0 if line.cue is home else settled_us(messages))
        fired = next((m.at_us for m in messages if m.kind is MessageKind.TRIGGER), 0)
        slack = Fraction(tempo_at(found, max(0, line.tick - 1)), found.header[2]) * (len(messages) + 1)
        for message in messages:
            off = found.us(next(ticks)[0])
            if message.kind is MessageKind.TRIGGER or line.cue is home:
                off -= found.us(line.tick) + message.at_us - (0 if line.cue is home else fired)
                assert 0 <= off <= slack, (line.words, message)
            else:
                off -= begin + message.at_us
                assert -slack <= off <= 0, (line.words, message)


def sent_cues(found: Read, port: str, lines: Sequence[Line]) -> list[SentCue]:
    """Cut what a reader read into the cues, with the waits that the file makes."""
    ticks = iter(found.messages)
    cues = []
    for line in lines:
        sent, free = list[SentMessage](), Fraction(-1)
        for _ in on_port(line.messages, port):
            tick, data = next(ticks)
            now = found.us(tick)
            sent.append(SentMessage(port, 0 if free < 0 else math.floor(now - free), data))
            free = now + 320 * len(data)
        scene = None if line.cue.form is None else line.cue.scene
        cues.append(SentCue(line.cue.number, line.cue.entry, line.cue.form, scene, tuple(sent)))
    return cues


def joined(first: SentCue, second: SentCue) -> SentCue:
    return first._replace(messages=first.messages + second.messages)


def read_cues(gig: str, read: Callable[[Path], Read], folder: Path) -> list[SentCue]:
    """Return the cues of a gig as its files have them, all ports together."""
    whole: list[SentCue] = []
    for port in (port for name, port in PORTS if name == gig):
        found, home = read(gig_file(folder, port)), LISTS[gig][0].cues[0]
        lines = [Line(0, home, "home", home.messages), *bar_lines(DEMO, gig, found.header[2])]
        cues = sent_cues(found, port, lines)
        whole = [joined(*pair) for pair in zip(whole, cues, strict=True)] if whole else cues
    return whole


@pytest.mark.parametrize("gig", GIGS)
def test_a_file_played_from_its_start_sets_every_scene(
    gig: str, read: Callable[[Path], Read], exported: dict[str, Path]
) -> None:
    """What the reader read goes to receivers that know each unit's chart alone, with the waits of the file."""
    proof = Prover(DEMO, gig, LISTS[gig][0].rig).prove(read_cues(gig, read, exported[gig]))

    assert proof.failures == ()
    assert proof.cues == len(LISTS[gig][0].cues)


@pytest.mark.parametrize("gig", GIGS)
def test_playback_may_begin_at_any_song_whatever_stood_before(
    gig: str, read: Callable[[Path], Read], exported: dict[str, Path]
) -> None:
    """Each song's first scene is set from receivers that know nothing; no scene but those, and home, is full."""
    firsts = [cue for cue in read_cues(gig, read, exported[gig]) if not cue.form]
    proof = Prover(DEMO, gig, LISTS[gig][0].rig).prove(firsts, full=True, whole=False)

    assert proof.failures == ()
    assert proof.cues == 1 + len(DEMO.gigs[gig].entries)


def songs_of(gig: str) -> list[tuple[str, list[Cue]]]:
    """Return every song as it is played by itself: its first cue full, the others lean; sets, spares, house sounds."""
    lean, full = LISTS[gig]
    entries = range(len(DEMO.gigs[gig].entries))
    lists = [[[cue for cue in each.cues if cue.entry == entry] for each in (lean, full)] for entry in entries]
    lists += [[list(a.cues), list(b.cues)] for a, b in zip(lean.spares, full.spares, strict=True)]
    lists += [[list(each.house.cues) for each in (lean, full) if each.house]]
    return [(first.song, [first, *rest]) for (_, *rest), (first, *_) in lists]


@pytest.mark.parametrize(("gig", "port"), PORTS)
def test_each_song_has_a_file_with_its_own_cues(
    gig: str, port: str, read: Callable[[Path], Read], exported: dict[str, Path]
) -> None:
    """For a band that calls its songs as it goes: from a full first scene, in order, a bar of pre-roll before it."""
    files = [path for path in sorted(exported[gig].glob("*.mid")) if re.search(r"-\d\d-", path.name)]
    several = len([each for each in PORTS if each[0] == gig]) > 1
    mine = [read(path) for path in files if not several or path.stem.endswith(f"-{port}")]
    songs = songs_of(gig)

    assert [[data for _, data in found.messages] for found in mine] == [
        [message.data for cue in cues for message in on_port(cue.messages, port)] for _, cues in songs
    ]
    assert [[words.split(" (")[0] for _, words in found.markers] for found in mine] == [
        [f"{song}: {cue.scene}" for cue in cues] for song, cues in songs
    ]
    assert [found.markers[0][0] for found in mine] == [
        int(bar_quarters(DEMO.songs[song].metre) * found.header[2])
        for found, (song, _) in zip(mine, songs, strict=True)
    ]
