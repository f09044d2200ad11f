"""What the player's page says: where the gig stands, what was sent, what hands and feet do, what comes. Pure."""

import time
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import groupby

from scenebook.cueing.cues import ByHand, Message, MessageKind, Moment
from scenebook.live.places import HOME, Part, Place
from scenebook.live.programme import Step
from scenebook.live.skipped import after_jump
from scenebook.live.snapshot import Form, PortNow, PortState, Role, Snapshot
from scenebook.live.stepping import is_neighbour
from scenebook.sheets.beginning import moments_of
from scenebook.sheets.floor import gap_after
from scenebook.sheets.song_pages import caveats_of
from scenebook.sheets.view import Do
from scenebook.sheets.words import bars_words, dos_of, sent_of, spoken
from scenebook.web.by_hand import by_hand, missed
from scenebook.web.checking import CheckNow, check_now
from scenebook.web.known import Known
from scenebook.web.strip import Strip, strip_of

__all__ = ["Coming", "Group", "PlayerPage", "Port", "Said", "player_page"]

_NOW = {
    Moment.BEFORE: "Made ready before it began",
    Moment.GAP: "Made ready in the gap before",
    Moment.FREE: "Made ready in the free bars before",
    Moment.CUE: "Now",
}
_NEXT = {
    Moment.BEFORE: "Before it begins",
    Moment.GAP: "In the gap",
    Moment.FREE: "In the free bars of this part",
    Moment.CUE: "At the cue",
}


@dataclass(frozen=True, slots=True)
class Group:
    """Moves of one moment; `is_now` are those to be made this instant."""

    moment: str
    dos: tuple[Do, ...]
    is_now: bool = False


@dataclass(frozen=True, slots=True)
class Said:
    """What was sent to a unit, or should be heard of it: the unit and a few words."""

    unit: str
    words: str


@dataclass(frozen=True, slots=True)
class Port:
    """A port, how it is with it in a word, and whether that asks for care."""

    name: str
    words: str
    is_there: bool
    asks_care: bool


@dataclass(frozen=True, slots=True)
class Coming:
    """Where NEXT leads: in the same song only its part; else the song, with what is between."""

    mark: str
    name: str
    number: str
    song: str  # "" within the song that stands
    facts: tuple[str, ...]
    between: str
    bars: str
    cue_words: str
    groups: tuple[Group, ...]
    whole: str  # what is said in place of moves, where all of it is sent
    lacks: tuple[str, ...]
    late: str


@dataclass(frozen=True, slots=True)
class PlayerPage:
    """The whole page in words."""

    gig: str
    number: str
    title: str
    where: str
    facts: tuple[str, ...]
    notes: tuple[str, ...]
    strip: Strip
    mark: str
    name: str
    cue: int | None  # outside the sets nobody counts
    bars: str
    cue_words: str
    groups: tuple[Group, ...]
    away: tuple[Group, ...]  # what goes by message, while its port is not there
    checks: tuple[Do, ...]
    check_title: str
    sent_title: str
    sent: tuple[Said, ...]
    heard: tuple[Said, ...]
    lacks: tuple[str, ...]
    without: tuple[str, ...]
    late: str
    remarks: tuple[str, ...]
    coming: Coming | None
    ports: tuple[Port, ...]
    alerts: tuple[str, ...]
    offer: str
    refused: str
    resume: str  # "" while the set has not been left
    check: CheckNow | None
    is_safe: bool
    follows: bool
    is_waiting: bool
    spoken: str


def player_page(snapshot: Snapshot) -> PlayerPage:
    """Return what the page says at one moment."""
    known, step, place = Known.of(snapshot), snapshot.step, snapshot.step.place
    part = known.part(place)
    groups = _groups(known, step, _NOW) if snapshot.in_turn else ()
    checks = tuple(_looks(known, _checked(snapshot), step))
    sent_title, sent = _sent(known, snapshot)
    page = PlayerPage(
        gig=snapshot.programme.gig,
        number=known.label(place),
        title=known.title(place),
        where=known.where(place),
        facts=known.facts(place),
        notes=_notes(known, step),
        strip=strip_of(known, place),
        mark=known.mark(place),
        name=known.name(step),
        cue=step.lean.number if place.part is Part.SET else None,
        bars=bars_words(part.bars, part.free) if part else "",
        cue_words=step.lean.words,
        groups=groups,
        away=tuple(Group(title, dos) for title, dos in by_hand(known, snapshot)),
        checks=checks,
        check_title=_check_title(snapshot),
        sent_title=sent_title,
        sent=sent,
        heard=tuple(_heard(known, step)),
        lacks=step.lean.lacks,
        without=step.lean.without,
        late=_late(step) if snapshot.in_turn else "",
        remarks=step.lean.notes,
        coming=_coming(known, snapshot),
        ports=tuple(_port(each) for each in snapshot.ports),
        alerts=tuple(_alerts(snapshot)),
        offer=snapshot.offer,
        refused=snapshot.refused,
        resume=_resume(known, snapshot.left),
        check=check_now(snapshot),
        is_safe=place.part is Part.SAFE,
        follows=snapshot.role is Role.FOLLOWING,
        is_waiting=not snapshot.sent.done,
        spoken="",
    )
    return replace(page, spoken=_spoken(page))


def _dos(known: Known, moves: Iterable[ByHand], step: Step, moments: dict[Moment, str] | None = None) -> tuple[Do, ...]:
    said = (_own(move) for move in spoken(moves, known.library.units))
    return dos_of(said, cue=step.lean.number, short=known.short, moments=moments)


def _own(move: ByHand) -> ByHand:
    """Return a move whose thing has no other name than what it is, such as the instrument, with that name once."""
    return move._replace(member="") if move.member == move.unit else move


def _groups(known: Known, step: Step, moments: dict[Moment, str]) -> tuple[Group, ...]:
    dos = _dos(known, step.lean.by_hand, step, moments)
    # What is held falls on the cue whatever the moment is called, and has the sheet's own word for it.
    said = [replace(do, moment=moments[Moment.CUE]) if do.moment not in moments.values() else do for do in dos]
    said.sort(key=lambda do: (do.moment != moments[Moment.CUE]) == (moments is _NOW))
    by_moment = groupby(said, lambda do: do.moment)
    return tuple(Group(moment, tuple(each), moment == moments[Moment.CUE]) for moment, each in by_moment)


def _checked(snapshot: Snapshot) -> tuple[ByHand, ...]:
    """Return what has to be looked at; where the rig may stand anywhere that is everything."""
    if snapshot.offer and not snapshot.check and snapshot.sent.form is Form.NOTHING:
        return after_jump(snapshot.programme, snapshot.step.place, again=True)
    return snapshot.check


def _looks(known: Known, moves: Iterable[ByHand], step: Step) -> Iterator[Do]:
    """Yield checks without the word, which their heading says; those for a later cue stand apart, and say for which."""
    for _, each in groupby(moves, lambda move: move.for_cue):
        for do in _dos(known, each, step):
            yield replace(do, words=do.words.removeprefix("check "))


def _check_title(snapshot: Snapshot) -> str:
    if snapshot.step.place == HOME:
        return "Before the first song, see that it stands so"
    return "Look at the lamps" if snapshot.in_turn else "Check: it must stand so"


def _notes(known: Known, step: Step) -> tuple[str, ...]:
    """Return what the player wrote to this scene, the song and its place in the gig; at home what the gig says."""
    entry = known.entry(step.place)
    if entry is None:
        return (known.gig.notes,) if step.place == HOME and known.gig.notes else ()
    song = known.song(entry)
    scene = song.scenes.get(step.lean.scene)
    return tuple(filter(None, [scene.notes if scene else "", song.notes, entry.notes]))


def _sent(known: Known, snapshot: Snapshot) -> tuple[str, tuple[Said, ...]]:
    """Return what went out, and how. A list that is full holds far more than what changes, so only that is said."""
    sent, step = snapshot.sent, snapshot.step
    there = {each.port for each in snapshot.ports if each.state is PortState.THERE}
    messages = _to(step, there)
    if not sent.messages:
        return _nothing_sent(snapshot), ()
    words = sent_of(messages, units=known.library.units, short=known.short)
    state = "Going out" if not sent.done else "Sent"
    full = f", everything to {' and '.join(sent.full)}" if sent.full else ""
    by = f" · by {sent.by}" if sent.by else ""
    title = f"{state}{full}{by} · {time.strftime('%H:%M:%S', time.localtime(sent.at))}"
    changes = words if snapshot.in_turn else {}
    return title, tuple(Said(unit, ", ".join(each)) for unit, each in changes.items())


def _nothing_sent(snapshot: Snapshot) -> str:
    """Say why nothing went out for what stands: nobody asked yet, its port is not there, or there is nothing."""
    lost = missed(snapshot)
    if not snapshot.ports or snapshot.role is Role.FOLLOWING:
        return ""
    if not snapshot.sent.by:  # as at a start, or after a sleep
        is_first = snapshot.step.place == HOME and not any(each.about == "rest" for each in snapshot.notices)
        return "Nothing was sent yet" if is_first else "Nothing was sent since this stand began or woke"
    if lost:
        return f"Not sent: {_why_not(snapshot, lost)}"
    return f"Nothing to send at this cue · by {snapshot.sent.by}"


def _why_not(snapshot: Snapshot, lost: Collection[str]) -> str:
    """Tell ports that have gone from those for which no MIDI port was ever named: only the first can come back."""
    gone = [each.port for each in snapshot.ports if each.port in lost and each.state is PortState.GONE]
    unnamed = [port for port in lost if port not in gone]
    said = [f"{' and '.join(gone)} {'is' if len(gone) == 1 else 'are'} gone"] if gone else []
    return "; ".join([*said, *([f"no MIDI port for {' and '.join(unnamed)}"] if unnamed else [])])


def _to(step: Step, ports: Collection[str]) -> list[Message]:
    """Return what a step sends to ports; that a trigger's note ends is not worth a word."""
    messages = (each for each in step.lean.messages if each.port in ports)
    return [each for each in messages if (each.kind, each.value) != (MessageKind.TRIGGER, "release")]


def _heard(known: Known, step: Step) -> Iterator[Said]:
    """Yield the units that should sound, with what their displays should show."""
    for state in step.lean.states:
        if state.sounds and state.unit not in known.programme.steady:
            shows = " ".join(filter(None, [state.preset, state.variant]))
            yield Said(known.short.get(state.unit, state.unit), shows)


def _late(step: Step) -> str:
    return next((caveat.what for caveat in caveats_of(step.lean) if caveat.what.startswith("Late")), "")


def _coming(known: Known, snapshot: Snapshot) -> Coming | None:
    step, here = snapshot.ahead, snapshot.step
    if step is None:
        return None
    place, other = step.place, _is_other_song(step.place, here.place)
    part = known.part(place)
    moments = {**_NEXT, **_begin(known, step, here)}
    leans = snapshot.checking is None and is_neighbour(known.programme, here.place, place)
    return Coming(
        mark=known.mark(place),
        name=known.name(step),
        number=known.label(place) if other else "",
        song=known.title(place) if other else "",
        facts=known.facts(place, brief=True) if other else (),
        between=_between(known, here.place, place) if other else "",
        bars=bars_words(part.bars, part.free) if part else "",
        cue_words=step.lean.words,
        groups=_groups(known, step, moments) if leans else (),
        whole="" if leans else "All of it is sent then; after that see that it stands as the list says.",
        lacks=step.lean.lacks,
        late=_late(step) if leans else "",
    )


def _is_other_song(one: Place, other: Place) -> bool:
    return (one.part, one.entry) != (other.part, other.entry)


def _begin(known: Known, step: Step, here: Step) -> dict[Moment, str]:
    """Say when to begin at a cue, where more than one press is made on it and there are free bars before."""
    entry, after = known.entry(step.place), known.entry(here.place)
    if entry is None or here.place == HOME:
        return {}
    return moments_of(known.library, step.lean, here.lean, entry, after if after and after.segue else None)


def _between(known: Known, here: Place, there: Place) -> str:
    """Say what lies between two songs of the sets that follow each other."""
    follows = here.part is there.part is Part.SET and here.entry >= 0 and there.entry == here.entry + 1
    if not follows:
        return "back to the set" if here.part is not Part.SET else ""
    said = gap_after(known.gig, here.entry).partition(", then ")[0].partition(" straight")[0].rstrip(",")
    return "" if said.startswith("then ") else said


def _port(each: PortNow) -> Port:
    words = {
        PortState.THERE: "there",
        PortState.GONE: "GONE, work by hand",
        PortState.NONE: "no MIDI port named",
    }[each.state]
    if each.state is PortState.NONE and each.words:
        words = each.words
    return Port(each.port, words, each.state is PortState.THERE, each.state is PortState.GONE)


def _alerts(snapshot: Snapshot) -> Iterator[str]:
    if snapshot.role is Role.FOLLOWING:
        yield "This stand follows another one and sends nothing"
    if snapshot.learning:
        yield f"Learning: press now what shall do “{snapshot.learning}”"
    if snapshot.beat.waits:
        yield f"Clock: {snapshot.beat.waits}"
    for notice in snapshot.notices:
        yield notice.words


def _resume(known: Known, left: Place | None) -> str:
    if left is None:
        return ""
    if left == HOME:
        return "home, before the first song"
    return " ".join(filter(None, [known.label(left), known.title(left), known.mark(left)]))


def _spoken(page: PlayerPage) -> str:
    """Return what is said aloud when the page has changed: the cue and what to do, and what asks for care."""
    said = [page.offer, page.refused and f"Not done: {page.refused}", *page.alerts]
    said += [f"{port.name} {port.words}" for port in page.ports if port.asks_care]
    if page.check:
        said += [page.check.caution, page.check.title, *page.check.touches, *page.check.untouched]
    said += [", ".join([page.title, page.name, *([f"cue {page.cue}"] if page.cue is not None else [])])]
    said += [page.sent_title]
    said += [f"lacks {thing}" for thing in page.lacks] + [page.late]
    said += [f"{group.moment}: {do.words}" for group in page.groups for do in group.dos]
    said += [f"{group.moment}: {'; '.join(do.words for do in group.dos)}" for group in page.away]
    said += [f"{page.check_title}: {'; '.join(do.words for do in page.checks)}"] if page.checks else []
    if page.coming:
        said += [f"Next: {' '.join(filter(None, [page.coming.song, page.coming.name]))}"]
    return ". ".join(text.rstrip(".") for text in said if text) + "."
