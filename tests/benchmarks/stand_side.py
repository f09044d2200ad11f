"""The two sides that are timed against each other, each a process of its own: a running gig, and a bare loop.

Run as a script: `stand_side.py gig|served-gig|answer|clock-gig|clock-loop FLOOR BOX FILE`. FLOOR is the port that
presses come in by, BOX the port that is sent to. It says "up" and ends with its standard input. A served gig has
written by then where its page is and a cookie that may see it, beside FILE, its journal.
"""

import json
import select
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from pathlib import Path
from typing import Any

__all__ = ["CLOCK_TEMPO", "PRESS", "answers", "page_file"]

PRESS = bytes.fromhex("9F 3C 64")
CLOCK_TEMPO = 120.0
POLL_S = 0.000_2  # as every polling loop on this system has to sleep
CUES = 1_000


def main(what: str, floor: str, box: str, file: str) -> None:
    """Be one of the sides until standard input ends."""
    if what in ("gig", "served-gig", "clock-gig"):
        _gig(floor, box, Path(file), clock=what == "clock-gig", served=what == "served-gig")
    elif what == "answer":
        _answer(floor, box, json.loads(Path(file).read_text()))
    else:
        _clock(box)


def page_file(journal: Path) -> Path:
    """Return where a served gig with this journal says its address and cookie, in JSON."""
    return journal.with_suffix(".page")


def answers(file: Path) -> None:
    """Write down what the gig sends at each of its steps, for the loop that answers with the same bytes."""
    from tests.benchmarks.gigs import large_gig

    programme = _caller(large_gig(CUES), {}).parts.programme
    rows = [[m.data.hex() for m in step.lean.messages if m.port == "main"] for step in programme.steps[1:]]
    file.write_text(json.dumps(rows))


def _caller(library: Any, rig: dict[str, Any]) -> Any:
    from scenebook.live.caller import Caller

    return Caller(_with(library, rig), "gig", "wall")


def _with(library: Any, rig: dict[str, Any]) -> Any:
    wall = library.rigs["wall"]
    return library.model_copy(update={"rigs": {"wall": type(wall).model_validate({**dict(wall), **rig})}})


def _gig(floor: str, box: str, journal: Path, *, clock: bool, served: bool) -> None:
    from scenebook.live.acts import Act, Verb
    from scenebook.live.engine import Engine
    from scenebook.midi.watching import WatchedPorts
    from scenebook.model.on_stage import Wire
    from scenebook.storage.journal import Journal
    from tests.benchmarks.gigs import large_gig

    steps = {"steps": [{"does": "next", "channel": 16, "note": 60, "listens": floor}]}
    library = _with(large_gig(CUES), steps)
    songs = {name: song.model_copy(update={"tempo": CLOCK_TEMPO}) for name, song in library.songs.items()}
    library = library.model_copy(update={"songs": songs} if clock else {})
    ports = WatchedPorts()
    wires = {"main": Wire(midi=box, plug="usb", clock=clock)}
    kept = Journal(journal)
    engine = Engine(_caller(library, steps), ports, kept, wires, library=library, gig="gig", rig="wall")
    engine.start()
    while engine.snapshot.ports[0].state != "there":
        time.sleep(0.01)
    time.sleep(0.5)
    if clock:
        engine.ask(Act(Verb.NEXT))
    with _served(engine, kept, page_file(journal)) if served else nullcontext():
        print("up", flush=True)
        sys.stdin.read()
    engine.close()
    ports.close()


@contextmanager
def _served(engine: Any, journal: Any, file: Path) -> Iterator[None]:
    """Serve the gig's page from this process, as the command does."""
    from scenebook.web.app import create_app
    from scenebook.web.keys import Keys, MemoryKeyStore, Right
    from scenebook.web.serving import serve

    keys = Keys(MemoryKeyStore())
    serving = serve(create_app(engine, keys, records=journal), port=0)
    file.write_text(json.dumps({"port": serving.port, "cookie": f"{keys.cookie}={keys.admitted(Right.SEE)}"}))
    yield
    serving.close()


def _bare(floor: str, box: str) -> tuple[Any, Any]:
    import rtmidi

    heard = rtmidi.MidiIn(rtmidi.API_UNIX_JACK, name="bare in", queue_size_limit=100_000)
    given = rtmidi.MidiOut(rtmidi.API_UNIX_JACK, name="bare out")
    heard.open_port(next(n for n, name in enumerate(heard.get_ports()) if name.startswith(floor)))
    given.open_port(next(n for n, name in enumerate(given.get_ports()) if name.startswith(box)))
    return heard, given


def _answer(floor: str, box: str, rows: list[list[str]]) -> None:
    heard, given = _bare(floor, box)
    answers = iter([[bytes.fromhex(data) for data in row] for row in rows])
    press = list(PRESS)
    print("up", flush=True)
    looks = 0
    while True:
        item = heard.get_message()
        if item is None:
            time.sleep(POLL_S)
            looks += 1
            if looks % 500 == 0 and select.select([0], [], [], 0)[0]:
                break
        elif item[0] == press:
            for message in next(answers):
                given.send_message(message)
    heard.delete()  # a client that ends without a word holds up a server in synchronous mode
    given.delete()


def _clock(box: str) -> None:
    import rtmidi

    given = rtmidi.MidiOut(rtmidi.API_UNIX_JACK, name="bare clock")
    given.open_port(next(n for n, name in enumerate(given.get_ports()) if name.startswith(box)))
    time.sleep(0.5)
    print("up", flush=True)
    begun, count = time.monotonic(), 0
    while not select.select([0], [], [], 0)[0]:
        time.sleep(max(0.0, begun + count * 60 / (24 * CLOCK_TEMPO) - time.monotonic()))
        given.send_message([0xF8])
        count += 1
    given.delete()


if __name__ == "__main__":
    main(*sys.argv[1:])
