"""What a player does where a sender holds the lists: what to press at each cue, as a move by hand, its time counted.

Pure. One press always fits on the beat (rule C10); where a unit has to settle first, the rest is a second press.
"""

from collections.abc import Container, Mapping, Sequence
from dataclasses import replace

from scenebook.cueing.cues import Action, ByHand, Cue, CueList, Message, MessageKind, Moment, SongCues
from scenebook.cueing.hands import lateness
from scenebook.cueing.points import Point, gig_points, song_points
from scenebook.cueing.sender import UNSTORED, Flip, Needs, SenderLists
from scenebook.cueing.sender_instead import Instead
from scenebook.cueing.sender_parts import settled_us
from scenebook.cueing.sender_walk import Set, Step, walked
from scenebook.model import MAIN, Library, SetEntry, Switch
from scenebook.model.protocol import PROGRAM_CHANGE
from scenebook.states.stage import stage_of

__all__ = ["each_alone", "in_order", "without_ports"]

_Presses = list[tuple[int, int]]  # which of the lists, and µs from the cue
_ONLY = "1 of 1"
_FAST_US = 300_000  # two presses of one foot are hardly ever closer than that


def each_alone(library: Library, full: CueList, stored: SenderLists) -> CueList:
    """Return a full list as it is played with a sender, each cue after anything else: what to press comes first.

    Its messages on the sender's ports are those of the lists that each cue presses.
    """
    maker = _Maker(library, stored)

    def sent(cues: Sequence[Cue], needs: Sequence[Needs]) -> tuple[Cue, ...]:
        return tuple(maker.alone(cue, need) for cue, need in zip(cues, needs, strict=True))

    spares = (SongCues(e.song, sent(e.cues, need)) for e, need in zip(full.spares, stored.spares, strict=True))
    house = SongCues(full.house.song, sent(full.house.cues, stored.house)) if full.house else None
    return replace(full, cues=sent(full.cues, stored.sets), spares=tuple(spares), house=house)


def in_order(library: Library, lean: CueList, full: CueList, stored: SenderLists) -> CueList:
    """Return a lean list as it is played with a sender: what to press in `by_hand`, what that sends in `messages`.

    A cue whose list has been pressed last needs no press, unless a song begins there or something fires. Whatever a
    list sets back that hands had set comes right after the press.
    """
    gig, maker = library.gigs[lean.gig], _Maker(library, stored)
    cues = maker.played(lean.cues, full.cues, stored.sets, gig_points(library, gig))

    def alone(song: SongCues, whole: SongCues, needs: Sequence[Needs], entry: SetEntry, *, always: bool) -> SongCues:
        cues, fulls = (lean.cues[0], *song.cues), (full.cues[0], *whole.cues)
        points = song_points(library, entry)
        return SongCues(song.song, maker.played(cues, fulls, (stored.sets[0], *needs), points, always=always)[1:])

    rows = zip(lean.spares, full.spares, stored.spares, gig.spares, strict=True)
    spares = tuple(alone(*row, always=False) for row in rows)
    house = lean.house
    if house is not None and full.house is not None:
        house = alone(house, full.house, stored.house, SetEntry(song=house.song), always=True)
    return replace(lean, cues=cues, spares=spares, house=house)


def without_ports(cues: CueList, ports: Container[str]) -> CueList:
    """Return cues without the messages on some ports: what a sender sends is said by what is pressed."""

    def rest(part: Sequence[Cue]) -> tuple[Cue, ...]:
        return tuple(cue._replace(messages=tuple(m for m in cue.messages if m.port not in ports)) for cue in part)

    spares = tuple(SongCues(each.song, rest(each.cues)) for each in cues.spares)
    house = SongCues(cues.house.song, rest(cues.house.cues)) if cues.house else None
    return replace(cues, cues=rest(cues.cues), spares=spares, house=house)


class _Maker:
    """Makes the cues of a gig anew, as they are played with its sender."""

    def __init__(self, library: Library, stored: SenderLists) -> None:
        self._library, self._stored = library, stored
        self._press_us = round(library.settings.press_ms * 1000)
        self._turn_us = round(library.settings.turn_ms * 1000)
        stage = stage_of(library, stored.rig, library.gigs[stored.gig])
        flips = {each.flips for each in stored.lists if each.flips is not None}
        self._instead = Instead(stage, stored.ports, flips, library.settings)

    def played(
        self,
        lean: Sequence[Cue],
        full: Sequence[Cue],
        needs: Sequence[Needs],
        points: Sequence[Point],
        *,
        always: bool = False,
    ) -> tuple[Cue, ...]:
        """Return cues, home first, as they are played; `points` has one for each after home."""
        steps, since = walked(self._library, self._stored, full, lean, needs, always=always)
        instead = self._instead.walked(full, lean, needs)
        made: list[Cue] = []
        for cue, step, work, point in zip(lean, steps, instead, (None, *points), strict=True):
            presses = self.presses(step)
            moves = (*self._moves(cue, step, presses, point), *work.moves, *_kept(cue, since))
            by_hand = tuple(sorted(moves, key=lambda move: move.moment is Moment.CUE))
            late = lateness(point.time_us, point.unknown, by_hand) if point else cue.late
            sent = self.sent(cue, presses)
            silence, cut = self._holes(sent, made[-1]) if made else (0, ())
            made.append(
                sent._replace(
                    by_hand=by_hand,
                    late=late,
                    lacks=(*cue.lacks, *work.lacks),
                    notes=(*cue.notes, *self._notes(presses)),
                    silence_us=max(silence, cue.silence_us),
                    tails_cut=tuple(dict.fromkeys((*cue.tails_cut, *cut))),
                )
            )
        return tuple(made)

    def alone(self, cue: Cue, need: Needs) -> Cue:
        """Return a full cue as it is played after any other: its presses, then what hands look at."""
        step, work = Step(need if need != UNSTORED else (), ()), self._instead.alone(cue, need)
        presses = self.presses(step)
        return self.sent(cue, presses)._replace(
            by_hand=(*self._moves(cue, step, presses, None), *work.moves, *cue.by_hand),
            lacks=(*cue.lacks, *work.lacks),
            notes=(*cue.notes, *self._notes(presses)),
        )

    def presses(self, step: Step) -> _Presses:
        """Return the lists that are pressed at a cue, each with its earliest time: flips when all has settled."""
        found: _Presses = []
        for place, after_us in step.presses:
            found.append((place, found[-1][1] + after_us if found else 0))
        for place in step.flips:
            settled = [at + settled_us(self._stored.lists[each].messages, self._library.units) for each, at in found]
            found.append((place, max(settled, default=0)))
        return found

    def sent(self, cue: Cue, presses: _Presses) -> Cue:
        """Return a cue with what its presses send, in place of its own messages on the sender's ports."""
        messages = [message for message in cue.messages if message.port not in self._stored.ports]
        for place, at_us in presses:
            inside = self._stored.lists[place].messages
            messages += (message._replace(at_us=message.at_us + at_us) for message in inside)
        return cue._replace(messages=tuple(messages), bytes=sum(len(message.data) for message in messages))

    def _moves(self, cue: Cue, step: Step, presses: _Presses, point: Point | None) -> list[ByHand]:
        """Return the presses of a cue as moves, then what hands set once more after them."""
        moment = self._moment(cue, presses, point)
        found: list[ByHand] = []
        before = 0
        for count, (place, at_us) in enumerate(presses):
            each = self._stored.lists[place]
            taken = max(self._press_us, at_us - before) if count else self._press_us
            words = _words(cue, each.flips, f"{count + 1} of {len(presses)}", (at_us - before) if count else 0)
            found.append(ByHand(Action.PRESS, self._stored.unit, each.label, "", words, moment, cue.number, taken))
            before = at_us
        return found + [self._set(cue, each, moment) for each in step.hands]

    def _moment(self, cue: Cue, presses: _Presses, point: Point | None) -> Moment:
        """Return where the presses fall: in a gap where it is long enough, else on the cue, where triggers fire too."""
        if point is None:
            return Moment.BEFORE if cue.number == 0 else Moment.CUE
        fires = any(self._stored.lists[place].triggers for place, _ in presses)
        fits = point.time_us is not None and point.time_us >= self._press_us * len(presses)
        return point.moment if fits and not fires and point.moment is not Moment.FREE else Moment.CUE

    def _set(self, cue: Cue, each: Set, moment: Moment) -> ByHand:
        thing = self._library.units[each.unit].members[each.member]
        if isinstance(thing, Switch):
            action = Action.PRESS if thing.foot or thing.contact is not None else Action.TURN
        else:
            action = Action.TURN if thing.by_hand else Action.PEDAL
        taken = self._press_us if action is Action.PRESS else self._turn_us
        return ByHand(action, each.unit, each.member, each.before, each.after, moment, cue.number, taken)

    def _notes(self, presses: _Presses) -> tuple[str, ...]:
        lists = [self._stored.lists[place] for place, _ in presses]
        return tuple(
            f"{each.label} fires {unit} {member}: pressed again, it fires again"
            for each in lists
            for unit, member in each.triggers
        )

    def _holes(self, cue: Cue, before: Cue) -> tuple[int, tuple[str, ...]]:
        """Return the silence, and whose tails are cut, of units that a press recalls and that sound on."""
        sounded = {state.unit for state in before.states if state.sounds}
        heard = {state.unit for state in cue.states if state.sounds} & sounded
        recalls = [message.unit for message in cue.messages if _is_recall(message) and message.unit in heard]
        silence, cut = 0, []
        for unit in dict.fromkeys(recalls):
            programs = self._library.units[unit].programs
            if programs is not None:
                silence = max(silence, round(1000 * programs.silence_ms) * recalls.count(unit))
                cut += [unit] if programs.tails == "cut" and programs.tail_ms else []
        return silence, tuple(cut)


def _words(cue: Cue, flips: Flip | None, which: str, after_us: int) -> str:
    """Say of a press what its list does not: which of several it is, what pause before it, or the switch that flips."""
    if flips is not None:
        state = next(state for state in cue.states if state.unit == flips.unit)
        member = "" if flips.member == MAIN else f" {flips.member}"
        return f"{flips.unit}{member} {state.values[flips.member]}"
    pause = f", {after_us / 1e6:.1f} s later" if after_us >= _FAST_US else ""
    return "" if which == _ONLY else f"press {which}{pause}"


def _kept(cue: Cue, since: Mapping[Flip, int]) -> tuple[ByHand, ...]:
    """Return a cue's own moves but those of members that are set anew after presses from some cue on."""

    def stays(move: ByHand) -> bool:
        begun = since.get(Flip(move.unit, move.member))
        return begun is None or move.for_cue < begun or move.action is Action.CHECK

    return tuple(filter(stays, cue.by_hand))


def _is_recall(message: Message) -> bool:
    return message.kind is MessageKind.RECALL and message.data[0] & 0xF0 == PROGRAM_CHANGE
