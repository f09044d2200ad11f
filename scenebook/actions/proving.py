"""Prove a gig: send its lists through a port cue by cue, read back what arrives, hold it against the scenes.

One link serves all ports of a rig, one after the other at each cue: what is proved is what each port's bytes do, and
the times of a proof come from bytes and waits, so nothing is gained by sending at once. Sets run through from home;
each spare song and the house sounds are lists of their own, as they are played. A rig with a sender is proved from what
that stores: each list from unknown, and all that is pressed in the order of the gig.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from scenebook.actions.compiling import GigSlice, compiled_slice, gig_slice
from scenebook.actions.sender import has_sender
from scenebook.cueing.cues import Cue, CueList
from scenebook.cueing.sender import sender_lists
from scenebook.cueing.sender_presses import each_alone, in_order
from scenebook.midi import Link, exchange, open_link
from scenebook.model import Gig, GigSet, SetEntry
from scenebook.model.protocol import BYTE_US
from scenebook.proof import CueFailure, Proof, SentCue, SentMessage, prove

__all__ = ["FROM_UNKNOWN", "IN_ORDER", "PartProof", "Progress", "Verified", "prove_list", "prove_sender", "sent_cues"]
__all__ += ["verify"]

FROM_UNKNOWN, IN_ORDER = "from unknown", "in order"
Progress = Callable[[int, int], None]  # cues sent so far, cues in all


@dataclass(frozen=True, slots=True)
class PartProof:
    """The proof of one list: the sets, a spare song or the house sounds; `how` the lists of a sender were pressed."""

    part: str
    proof: Proof
    how: str = ""


@dataclass(frozen=True, slots=True)
class Verified:
    """What was proved of a gig, and through which kind of port; `port_reason` says why it was the loopback.

    `cautions` are what the compiler warns of: where something fails, they name the cause. `sender` is the unit whose
    stored `lists` were sent, where the rig has one.
    """

    gig: str
    rig: str
    full: bool
    port_kind: str
    port_reason: str
    parts: tuple[PartProof, ...]
    cautions: tuple[str, ...] = ()
    sender: str = ""
    lists: int = 0

    @property
    def ok(self) -> bool:
        """Whether nothing failed in any part."""
        return all(each.proof.ok for each in self.parts)

    @property
    def failures(self) -> tuple[tuple[str, CueFailure], ...]:
        """Every failure with its part, and how that was pressed."""
        return tuple(
            (f"{each.part}, {each.how}" if each.how else each.part, failure)
            for each in self.parts
            for failure in each.proof.failures
        )

    def total(self, what: str) -> int:
        """Return the sum of `cues`, `messages`, `bytes` or `members` over all parts."""
        return sum(getattr(each.proof, what) for each in self.parts)

    @property
    def not_proved(self) -> dict[str, tuple[str, ...]]:
        """The members of each unit that hands and feet work, or that no message can promise."""
        found: dict[str, dict[str, None]] = {}
        for each in self.parts:
            for unit, members in each.proof.not_proved.items():
                found.setdefault(unit, {}).update(dict.fromkeys(members))
        return {unit: tuple(members) for unit, members in found.items()}

    @property
    def warnings(self) -> tuple[str, ...]:
        """What the proof cannot promise, each thing once."""
        return tuple(dict.fromkeys(text for each in self.parts for text in each.proof.warnings))


def verify(
    path: Path,
    gig: str,
    rig: str | None = None,
    *,
    full: bool = False,
    port: str | None = None,
    progress: Progress | None = None,
) -> Verified:
    """Prove a gig of a library, lean or full, through the named port, a port of our own, or the loopback.

    Where the rig has a sender, both forms are proved from what it stores, and `full` says nothing more.

    Raises:
        ScenebookError: the gig cannot be compiled, the rig's sender has no room for it, or the port is not there or
            gives nothing back.
    """
    part = gig_slice(path, gig, rig)
    if has_sender(part):
        lean, whole = compiled_slice(part), compiled_slice(part, full=True)
        with open_link(name=port) as link:
            return prove_sender(part, lean, whole, link, progress=progress)
    cue_list = compiled_slice(part, full=full)
    with open_link(name=port) as link:
        return prove_list(part, cue_list, link, progress=progress)


def prove_sender(
    part: GigSlice, lean: CueList, full: CueList, link: Link, *, progress: Progress | None = None
) -> Verified:
    """Send what a rig's sender stores over an open link: each cue's lists from unknown, then all that is pressed.

    Raises:
        BadValueError: the sender has no room for the gig.
    """
    stored = sender_lists(part.library, lean, full)
    alone = prove_list(part, each_alone(part.library, full, stored), link, progress=progress)
    order = prove_list(part, in_order(part.library, lean, full, stored), link, progress=progress, anew=True)
    parts = [replace(each, how=FROM_UNKNOWN) for each in alone.parts]
    parts += [replace(each, how=IN_ORDER) for each in order.parts]
    return replace(alone, parts=tuple(parts), cautions=order.cautions, sender=stored.unit, lists=len(stored.lists))


def prove_list(
    part: GigSlice, cue_list: CueList, link: Link, *, progress: Progress | None = None, anew: bool = False
) -> Verified:
    """Send a compiled gig over an open link and prove what comes back; `anew`: its cues are a sender's full lists."""
    lists = list(_lists(part, cue_list))
    count, sent_before = sum(len(cues) for _, _, cues, _ in lists), 0
    proofs = []
    for name, gig, cues, full in lists:
        sent = sent_cues(cues)
        arrived = []
        for number, cue in enumerate(sent, 1):
            arrived.append(_round_trip(link, cue))
            if progress is not None:
                progress(sent_before + number, count)
        sent_before += len(cues)
        library = part.library.model_copy(update={"gigs": {part.gig: gig}})
        proofs.append(PartProof(name, prove(library, part.gig, part.rig, sent, arrived, full=full, anew=anew)))
    return Verified(part.gig, part.rig, cue_list.full, link.kind, link.reason, tuple(proofs), cue_list.warnings)


def sent_cues(cues: Sequence[Cue]) -> tuple[SentCue, ...]:
    """Return cues as a proof takes them: each wait counts from the end of the message before on that port (C7)."""
    return tuple(
        SentCue(cue.number, cue.entry, cue.form, None if cue.entry is None else cue.scene, _sent_messages(cue))
        for cue in cues
    )


def _sent_messages(cue: Cue) -> tuple[SentMessage, ...]:
    ends: dict[str, int] = {}
    sent = []
    for message in cue.messages:
        sent.append(SentMessage(message.port, message.at_us - ends.get(message.port, 0), message.data))
        ends[message.port] = message.at_us + BYTE_US * len(message.data)
    return tuple(sent)


def _lists(part: GigSlice, cue_list: CueList) -> Iterator[tuple[str, Gig, Sequence[Cue], bool]]:
    """Yield each list: its name, the gig as that list sees it, its cues with home first, whether it is full."""
    gig = part.library.gigs[part.gig]
    home = cue_list.cues[:1]
    yield "sets", gig, cue_list.cues, cue_list.full
    for entry, spare in zip(gig.spares, cue_list.spares, strict=True):
        yield f"spare song {spare.song!r}", _alone(gig, entry), (*home, *spare.cues), cue_list.full
    if cue_list.house is not None:
        entry = SetEntry(song=cue_list.house.song)
        yield "house sounds", _alone(gig, entry), (*home, *cue_list.house.cues), True


def _alone(gig: Gig, entry: SetEntry) -> Gig:
    alone = entry.model_copy(update={"gap": None, "segue": False})
    return Gig(rig=gig.rig, sets=(GigSet(name="alone", songs=(alone,)),), out=gig.out, played_by=gig.played_by)


def _round_trip(link: Link, cue: SentCue) -> dict[str, bytes]:
    """Send one cue, port after port, and return what came back for each."""
    by_port: dict[str, list[bytes]] = {}
    for message in cue.messages:
        by_port.setdefault(message.port, []).append(message.data)
    return {port: exchange(link, messages, _deadline(messages)) for port, messages in by_port.items()}


def _deadline(messages: Sequence[bytes]) -> float:
    """Return how many seconds to wait at most: ten, and four times what the bytes take on a MIDI lead."""
    return 10.0 + 4 * sum(map(len, messages)) * BYTE_US / 1_000_000
