"""Open a stand: a gig's library, journal, ports and engine put together, ready to be shown and stepped.

Whatever can be wrong is found here, before the first song; once open, nothing but the player ends it.
"""

import time
from collections.abc import Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

from scenebook.actions.compiling import gig_slice
from scenebook.actions.set_changes import moved, set_record
from scenebook.actions.stand_wires import OnlyInputs, checked_names, wires_of
from scenebook.errors import ScenebookError
from scenebook.live.caller import Caller
from scenebook.live.engine import Engine
from scenebook.live.places import HOME
from scenebook.live.records import noticed, replayed
from scenebook.live.snapshot import PortState, Role, Snapshot
from scenebook.live.stepping import Standing
from scenebook.live.tonight import Tonight, tonight_of
from scenebook.midi.direct import machine_ports
from scenebook.model import Library
from scenebook.model.base import place_text
from scenebook.model.on_stage import Wire
from scenebook.model.stage_checks import check_numbers
from scenebook.storage import open_library
from scenebook.storage.evenings import Evening, GigLock, evening_for, keys_file
from scenebook.storage.journal import Journal

__all__ = ["OpenStand", "open_stand"]

_MOVED = (
    "Note: the gig has been changed since. Keys, tempos and cuts of tonight went along with their songs; of songs that "
    "are gone, and of forms that are others now, they are let go of."
)
_PORTS_S = 2.0  # for ports to be opened before the player is told how it is with them


@dataclass(frozen=True)
class OpenStand:
    """A running gig with everything that it runs on. A context manager that ends it.

    `said` is what the player has to know of its beginning. `key_file` is where its page keeps its secret. `goes_on`
    says that something was done before, on the same evening.
    """

    gig: str
    rig: str
    engine: Engine
    journal: Journal
    lock: GigLock
    key_file: Path
    goes_on: bool
    said: tuple[str, ...]
    _undo: ExitStack

    def port_words(self) -> tuple[str, ...]:
        """Return how it is with each port of the rig, once those that are there are open."""
        end = time.monotonic() + _PORTS_S
        while _is_opening(self.engine.snapshot) and time.monotonic() < end:
            time.sleep(0.02)
        return tuple(_port_words(self.engine.snapshot))

    def cut_off(self, why: str) -> None:
        """End as `close` does, and note that the player did not want it: the next run goes on at the same cue."""
        self.engine.close()
        self.journal.write(noticed(why, "end", time.time()))
        self.close()

    def close(self) -> None:
        """End the gig's thread, let go of ports, journal and lock; what was done stays in the journal."""
        self._undo.close()

    def __enter__(self) -> "OpenStand":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def open_stand(
    path: Path,
    gig: str,
    *,
    rig: str | None = None,
    ports_given: Sequence[str] = (),
    listens: Sequence[str] = (),
    afresh: bool = False,
    role: Role = Role.CALLING,
) -> OpenStand:
    """Open the stand of a gig, where it was left if it was cut off in the last 18 hours. Nothing is sent.

    Args:
        path: the library.
        gig: the gig; names may be shortened.
        rig: another rig than the gig's own.
        ports_given: "rig's port=MIDI port" for each, or the MIDI port alone where the rig has one port.
        listens: the MIDI inputs to listen to; all that the rig names unless given.
        afresh: begin a new evening whatever was before.
        role: calling, or following another stand.

    Raises:
        UnknownNameError: no gig, rig or port of the rig of that name.
        PortError: a MIDI port that is named is not there, or it is not said which to use.
        BadValueError: another stand runs the gig; a trigger would do two things, or two songs have one number; stand
            and sender would both send.
        SceneError: a scene cannot be reached on the rig.
        OutputError: the journal cannot be written.
    """
    part = gig_slice(path, gig, rig)
    library = _with_all_units(path, part.library)
    _check(library, part.gig, part.rig)
    with ExitStack() as stack:
        lock = stack.enter_context(GigLock(path, part.gig))
        evening = evening_for(path, part.gig, time.time(), afresh=afresh)
        ports = OnlyInputs(machine_ports(), listens)
        stack.callback(ports.close)
        wires, said = wires_of(part.rig, library.rigs[part.rig], ports_given, ports.outputs())
        said += checked_names(ports_given, listens, wires, ports, goes_on=not evening.is_new)
        standing, is_moved = _replayed(evening, library, part.gig)
        caller = Caller(library, part.gig, part.rig, standing=_begun(standing, evening), role=role)
        journal = stack.enter_context(Journal(evening.path))
        engine = _started(caller, ports, journal, wires, library, part.gig, part.rig, stack)
        told = (*_continued(evening, standing, library, engine.snapshot), *([_MOVED] if is_moved else []), *said)
        return OpenStand(
            part.gig, part.rig, engine, journal, lock, keys_file(evening), evening.is_begun, told, stack.pop_all()
        )


def _started(
    caller: Caller,
    ports: OnlyInputs,
    journal: Journal,
    wires: Mapping[str, Wire],
    library: Library,
    gig: str,
    rig: str,
    stack: ExitStack,
) -> Engine:
    engine = Engine(caller, ports, journal, wires, library=library, gig=gig, rig=rig)
    stack.callback(engine.close)
    journal.write(set_record(library, gig, time.time()))  # behind "opened", before the engine's thread writes
    engine.start()
    return engine


def _with_all_units(path: Path, part: Library) -> Library:
    """Return what a gig needs, and every unit of the library: any may play another's part tonight."""
    with open_library(path, read_only=True) as store:
        units = store.all("unit")
    return part.model_copy(update={"units": {**units, **part.units}})


def _check(library: Library, gig: str, rig: str) -> None:
    """Refuse a gig whose songs a playback rig could not tell apart."""
    if library.rigs[rig].playback is None:
        return
    fault: ScenebookError | None = next(check_numbers(library.gigs[gig], library.songs), None)
    if fault is not None:
        raise fault.at(place_text("gig", gig))


def _replayed(evening: Evening, library: Library, gig: str) -> tuple[Standing | None, bool]:
    """Return where an evening stands by its journal, in the set as it is now, and whether that was changed since."""
    standing = replayed(evening.records)
    return (None, False) if standing is None else moved(standing, evening.records, library, gig)


def _begun(standing: Standing | None, evening: Evening) -> Standing | None:
    """Return where a run begins: where it was cut off; at home after one that was ended, what was changed kept."""
    if standing is None or not evening.is_closed:
        return standing
    return Standing(HOME, tonight=standing.tonight, learned=standing.learned)


def _continued(evening: Evening, standing: Standing | None, library: Library, snapshot: Snapshot) -> tuple[str, ...]:
    """Say whether this evening goes on, from where, and what of it could not be read."""
    said = []
    if standing is not None and evening.is_begun:
        said.append("Begun again at home, in the same evening." if evening.is_closed else _goes_on(evening, snapshot))
        holds = "What was changed tonight still holds. " if _is_changed(standing.tonight, library, evening.gig) else ""
        said.append(f"{holds}A new evening begins with --afresh.")
    if evening.torn:
        lines = "line" if evening.torn == 1 else "lines"
        said.append(f"Note: {evening.torn} {lines} of the journal cannot be read and were passed over: {evening.path}")
    return tuple(said)


def _goes_on(evening: Evening, snapshot: Snapshot) -> str:
    cue = snapshot.step.full
    at = f"cue {cue.number}, {cue.song}, {cue.scene}" if cue.song else "home"
    then = time.strftime("%H:%M", time.localtime(evening.ended))
    return f"Going on where this gig was cut off at {then}: {at}. Nothing is sent until you step or send again."


def _is_changed(tonight: Tonight | None, library: Library, gig: str) -> bool:
    return tonight is not None and tonight != tonight_of(library.gigs[gig])


def _is_opening(snapshot: Snapshot) -> bool:
    return any(port.state is PortState.GONE and not port.words for port in snapshot.ports)


def _port_words(snapshot: Snapshot) -> list[str]:
    if not snapshot.ports:
        return ["No unit of this rig hears MIDI: all of it is worked by hand and foot."]
    said = []
    for port in snapshot.ports:
        if port.state is PortState.THERE:
            said.append(f"Port {port.port}: {port.midi}")
        elif port.state is PortState.NONE:
            said.append(f"Port {port.port}: {port.words}; what it carries is worked by hand")
        else:
            said.append(f"Port {port.port}: {port.words or 'not open yet'} It is worked by hand until it is there.")
    return said
