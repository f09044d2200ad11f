"""Prove a list: give what arrived to receivers, and compare their state with the plain reading after each cue (P1-P4).

Lean runs through from unknown at cue 0, and every song follows; full forgets everything before each cue. Toggling
switches of which nothing is known are taken to stand at home after lean's cue 0: no message can promise it, so the
player looks.
"""

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence

from scenebook.model import Library
from scenebook.model.amounts import times_words
from scenebook.model.messages import channel_of, describe
from scenebook.model.protocol import REAL_TIME_FIRST
from scenebook.proof.comparison import Comparison
from scenebook.proof.lists import CueFailure, Proof, SentCue, SentMessage
from scenebook.proof.reading import HOME, Key, Reading, read_gig
from scenebook.proof.receivers import Receiver
from scenebook.proof.wire import first_difference, timed

__all__ = ["Prover", "prove"]

_Found = list[tuple[str, str]]  # place, what


def prove(
    library: Library,
    gig: str,
    rig: str,
    sent: Sequence[SentCue],
    arrived: Sequence[Mapping[str, bytes]] | None = None,
    *,
    full: bool = False,
    check_bytes: bool = True,
    anew: bool = False,
) -> Proof:
    """Return what comes of holding what arrived against the scenes of a gig.

    `library` holds at least the gig, its rig, units and songs. `arrived` has for each cue the bytes that came back on
    each port; without it, what was sent. `full` says that each cue of the list stands alone. Without `check_bytes` a
    byte that changed on the way counts only by what it does. `anew`: as `Prover.prove` has it.

    Raises:
        KeyError: the library has no such gig or rig.
        BadValueError: a scene cannot be read: a value is off its scale, or a note value has no tempo.
    """
    return Prover(library, gig, rig).prove(sent, arrived, full=full, check_bytes=check_bytes, anew=anew)


class Prover:
    """The plain reading of a gig and the receivers of its rig, ready to prove any number of lists.

    `tonight` is the rig as it stands at the gig, `readings` what each of its cues asks, in order.

    Raises:
        KeyError: the library has no such gig or rig.
        BadValueError: a scene cannot be read: a value is off its scale, or a note value has no tempo.
    """

    def __init__(self, library: Library, gig: str, rig: str) -> None:
        self.tonight, self.readings = read_gig(library, library.gigs[gig], library.rigs[rig])
        self._asked = {reading.key: reading for reading in self.readings}
        self._receivers: dict[str, Receiver] = {}
        self._comparisons: dict[str, Comparison] = {}
        self._hearing: defaultdict[tuple[str, int | None], list[Receiver]] = defaultdict(list)
        alone = {loop.inside[0] for loop in self.tonight.loops if not loop.shared}
        for name, unit in self.tonight.units.items():
            placement = self.tonight.placements[name]
            self._comparisons[name] = Comparison.of(unit, alone=name in alone, deaf=placement.port is None)
            if placement.port is not None:
                self._receivers[name] = receiver = Receiver(unit, library.settings.tuning)
                for channel in (None, *placement.channels):
                    self._hearing[placement.port, channel].append(receiver)

    def prove(
        self,
        sent: Sequence[SentCue],
        arrived: Sequence[Mapping[str, bytes]] | None = None,
        *,
        full: bool = False,
        check_bytes: bool = True,
        whole: bool = True,
        anew: bool = False,
    ) -> Proof:
        """Do as `prove` does; unless the list is the `whole` gig it may be any of its cues.

        `anew`: what is run through are the full lists of a sender, whose recalls may move what nothing is asked of.
        """
        self._full, self._anew, self._bytes, self._members = full, anew, 0, 0
        self._unpromised: defaultdict[str, set[str]] = defaultdict(set)
        for receiver in self._receivers.values():
            receiver.forget()
        failures = list(_order_failures(sent, self.readings, whole=whole))
        for index, cue in enumerate(sent):
            reading = self._asked.get(_key(cue))
            if reading is not None:
                came = None if arrived is None else arrived[index] if index < len(arrived) else {}
                for place, what in self._play(cue, reading, came, check_bytes=check_bytes):
                    failures.append(CueFailure(cue.number, reading.song, reading.scene, place, f"{what}."))
        return self._sum_up(sent, failures)

    def _play(
        self, cue: SentCue, reading: Reading, arrived: Mapping[str, bytes] | None, *, check_bytes: bool
    ) -> _Found:
        """Let the receivers hear one cue, and return what is not as its reading asks."""
        for receiver in self._receivers.values():
            receiver.forget() if self._full else receiver.begin()
        found: _Found = []
        by_port: defaultdict[str, list[SentMessage]] = defaultdict(list)
        for message in cue.messages:
            by_port[message.port].append(message)
        for port in {**by_port, **(arrived or {})}:
            came = None if arrived is None else arrived.get(port, b"")
            found += self._hear(port, by_port[port], came, check_bytes=check_bytes)
        for name, receiver in self._receivers.items():
            found += [(name, what) for what in self._compare(name, receiver, reading)]
        return found

    def _hear(self, port: str, sent: list[SentMessage], came: bytes | None, *, check_bytes: bool) -> _Found:
        found: _Found = []
        messages, data = timed(sent, came)
        self._bytes += len(data)
        if check_bytes and came is not None:
            difference = first_difference(b"".join(message.data for message in sent), came)
            found += [(port, difference)] if difference else []
        for start, end, message in messages:
            hearing = self._hearing.get((port, channel_of(message)), ())
            known = [receiver.hear(start, end, message) for receiver in hearing]
            if not any(known) and message[0] < REAL_TIME_FIRST:
                found.append((port, f"no unit that hears it understands {describe(message)}"))
        return found

    def _compare(self, name: str, receiver: Receiver, reading: Reading) -> Iterator[str]:
        asked, comparison = reading.units[name], self._comparisons[name]
        at_home = reading.key is HOME
        differences, count = comparison.differences(asked, receiver, lean=not (self._full or at_home), anew=self._anew)
        self._members += count
        yield from differences
        for member in comparison.toggling:
            if member not in receiver.values and (self._full or at_home):
                self._unpromised[name].add(member)
                if member in asked.values:
                    receiver.values[member] = asked.values[member]
        yield from self._triggers_differ(name, receiver, reading)

    def _triggers_differ(self, name: str, receiver: Receiver, reading: Reading) -> Iterator[str]:
        triggers = self.tonight.units[name].triggers
        wanted = Counter(
            trigger
            for unit, trigger in reading.triggers
            if unit == name
            and (triggers[trigger].note, triggers[trigger].controller, triggers[trigger].bytes) != (None,) * 3
        )
        self._members += len(wanted)
        for trigger in sorted(wanted | receiver.fired):
            if wanted[trigger] != receiver.fired[trigger]:
                wished, done = times_words(wanted[trigger]), times_words(receiver.fired[trigger])
                yield f"{trigger!r} is to fire {wished}, and fired {done}"
        for note in receiver.sounding:
            yield f"note {note} fired and is not released"

    def _sum_up(self, sent: Sequence[SentCue], failures: Sequence[CueFailure]) -> Proof:
        not_proved = {
            name: tuple(dict.fromkeys([*comparison.by_hand, *sorted(self._unpromised[name])]))
            for name, comparison in self._comparisons.items()
        }
        return Proof(
            cues=sum(_key(cue) in self._asked for cue in sent),
            failures=tuple(failures),
            messages=sum(len(cue.messages) for cue in sent),
            bytes=self._bytes,
            members=self._members,
            not_proved={name: members for name, members in not_proved.items() if members},
            warnings=tuple(
                f"{name}: a toggling message cannot promise {member!r}; look before you play"
                for name, members in self._unpromised.items()
                for member in sorted(members)
            ),
        )


def _key(cue: SentCue) -> Key:
    return HOME if cue.entry is None or cue.form is None else (cue.entry, cue.form)


def _order_failures(sent: Sequence[SentCue], readings: Sequence[Reading], *, whole: bool) -> Iterator[CueFailure]:
    """Yield what is wrong with the order of the cues: home, then every form entry, each once."""
    asked = {reading.key: reading for reading in readings}
    keys = [_key(cue) for cue in sent]
    for cue, key in zip(sent, keys, strict=True):
        if key not in asked or asked[key].scene != cue.scene:
            yield CueFailure(cue.number, None, cue.scene, "list", "The gig has no such cue.")
    counted = Counter(keys)
    for reading in readings if whole else ():
        if counted[reading.key] != 1:
            what = f"The list has this cue {times_words(counted[reading.key])}."
            yield CueFailure(-1, reading.song, reading.scene, "list", what)
    order = {reading.key: place for place, reading in enumerate(readings)}
    places = [order[key] for key in keys if key in order]
    if places != sorted(places):
        yield CueFailure(-1, None, None, "list", "The cues are not in the order of the gig.")
