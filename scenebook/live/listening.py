"""What a running gig hears by MIDI, and what each message asks of it; how a message is learned by pressing it."""

from collections.abc import Callable, Iterator, Mapping
from typing import Final

from scenebook.errors import BadValueError
from scenebook.live.acts import Act, Verb
from scenebook.live.doors import Worker
from scenebook.live.facing import Ports
from scenebook.live.inputs import Inputs
from scenebook.live.places import HOME, Place
from scenebook.live.snapshot import Learned
from scenebook.live.triggers import Echoes, Triggers, is_press
from scenebook.model.protocol import NOTE_ON

__all__ = ["LEARNED", "Ears"]

LEARNED: Final = (Verb.NEXT, Verb.BACK, Verb.AGAIN, Verb.SAFE, Verb.RESUME)  # the steps that a rig's `steps` may name
_EVERY: Final = ("",)
_NO_PRESS: Final = bytes((NOTE_ON, 0, 0))  # a note that is let go


class Ears:
    """The inputs with what they mean."""

    def __init__(self, triggers: Triggers, ports: Ports, work: Worker) -> None:
        """Listen to every MIDI port that a trigger names."""
        self.learning = ""  # the step that the next press is to do
        self._triggers, self._inputs, self._echoes = triggers, Inputs(ports, work), Echoes()
        self._inputs.listen(triggers.listens)

    def poll(self, now: int, where: Callable[[], Place]) -> Iterator[Act | Learned]:
        """Yield what the messages that have come in ask for; while learning, the press that is to be learned.

        `where` tells at which place the gig stands: one message may already ask for something else than the last.
        """
        for listens, data in self._inputs.poll(now):
            if self._echoes.is_echo(data, now):
                continue
            if not self.learning:
                act = self._triggers.act(listens, data, now, where())
                if act is not None:
                    yield act
            elif is_press(data):
                yield Learned(listens, data, self.learning)

    def rehearse(self, now: int) -> None:
        """Go through a press that is none: see `Caller.rehearse`."""
        if not self._echoes.is_echo(_NO_PRESS, now):
            self._triggers.act("", _NO_PRESS, now, HOME)

    def call(self, places: Mapping[int, Place]) -> None:
        """Take the songs that the playback rig's numbers call from now on."""
        self._triggers.call(places)

    def look(self, now: int) -> None:
        """Open and close inputs as they come and go."""
        self._inputs.look(now)

    def sent(self, data: bytes, now: int) -> None:
        """Know a message again that goes out and may come back around a thru."""
        self._echoes.sent(data, now)

    def learn(self, does: str) -> None:
        """Wait for a press that is to do this step; "" waits no more.

        Raises:
            BadValueError: no press can do that.
        """
        if does and does not in LEARNED:
            steps = ", ".join(f"'{verb}'" for verb in LEARNED)
            raise BadValueError(f"no footswitch can do '{does}'", accepted=steps)
        self.learning = does
        self._inputs.listen(_EVERY if does else self._triggers.listens)

    def take(self, learned: Learned) -> bool:
        """Let a message do a step from now on; return whether that is new, since it may do it already.

        Raises:
            BadValueError: it does something else already.
        """
        self.learn("")
        is_new = self._triggers.learn(learned)
        self._inputs.listen(self._triggers.listens)
        return is_new

    @property
    def lacking(self) -> tuple[str, ...]:
        """The MIDI ports that are listened to and not there."""
        return self._inputs.lacking

    def let_go(self) -> None:
        """Let go of every input."""
        self._inputs.let_go()
