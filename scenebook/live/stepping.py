"""Where a running gig stands, and where each step leads from there. Pure: places in, a place or a sentence out."""

from dataclasses import dataclass, replace

from scenebook.errors import BadValueError
from scenebook.live.acts import Act, Verb
from scenebook.live.places import HOME, SAFE, Part, Place
from scenebook.live.programme import Programme, Step
from scenebook.live.snapshot import Learned, Role
from scenebook.live.tonight import Tonight, played_form
from scenebook.live.walking import Walk

__all__ = ["STEPS", "Standing", "ahead", "is_neighbour", "led", "settled", "with_learned"]

STEPS = frozenset({Verb.NEXT, Verb.BACK, Verb.GO, Verb.SAFE, Verb.RESUME})


@dataclass(frozen=True)
class Standing:
    """All of a running gig that has to outlast it: where it stands, what is different tonight, what was learned.

    `left` is the place in the sets that a spare song, a house sound or the safe state was called from; `back` is where
    the safe state was called from, whatever that was. Without `tonight`, tonight is as the gig says. `walk` is the line
    check that goes on. `role` is whether this stand called.
    """

    place: Place = HOME
    left: Place | None = None
    back: Place | None = None
    tonight: Tonight | None = None
    learned: tuple[Learned, ...] = ()
    walk: Walk | None = None
    role: Role = Role.CALLING


def settled(programme: Programme, standing: Standing) -> Standing:
    """Return where a gig stands in a programme that may lack its places (a verse is cut, the library has changed)."""

    def nearest(place: Place | None, otherwise: Place | None) -> Place | None:
        step = programme.nearest(place) if place is not None else None
        return step.place if step else otherwise

    left = nearest(standing.left, HOME if standing.left else None)
    place = nearest(standing.place, left or HOME) or HOME
    back = nearest(standing.back, left or HOME) if place.part is Part.SAFE else None
    left = None if place.part is Part.SET else left or HOME
    return replace(standing, place=place, left=left, back=back, walk=_walk_in(programme, standing.walk))


def with_learned(known: tuple[Learned, ...], newer: tuple[Learned, ...]) -> tuple[Learned, ...]:
    """Return what was learned with what was learned since; what the same message did before is forgotten."""
    anew = {(each.listens, each.data) for each in newer}
    return (*(each for each in known if (each.listens, each.data) not in anew), *newer)


def _walk_in(programme: Programme, walk: Walk | None) -> Walk | None:
    """Return a line check without the places that are not there any more."""
    if walk is None:
        return None
    begun = settled(programme, Standing(walk.began, walk.left, walk.back))
    places = tuple(place for place in walk.places if place in programme.by_place)
    done = sum(place in programme.by_place for place in walk.places[: walk.at + 1])
    return Walk(places, begun.place, begun.left, begun.back, done - 1) if places else None


def is_neighbour(programme: Programme, here: Place, there: Place) -> bool:
    """Whether `there` comes right after `here`, so that lean may go out."""
    step = programme.neighbour(here, 1)
    return step is not None and step.place == there


def ahead(programme: Programme, standing: Standing) -> Step | None:
    """Return where NEXT leads: on, or from the end of a spare song or a house sound on with the set.

    From the safe state it is where NEXT would have led before. In a line check it is its next place.
    """
    if standing.walk is not None:
        return programme.by_place[standing.walk.following]
    place = standing.place
    if place.part is Part.SAFE:
        place = standing.back or HOME
    step = programme.neighbour(place, 1)
    if step is not None or place.part is Part.SET:
        return step
    return _on_with_the_set(programme, standing.left or HOME)


def _on_with_the_set(programme: Programme, left: Place) -> Step | None:
    """Return the song after the one that was left if that was at its last cue, else the place where it was left."""
    following = programme.neighbour(left, 1)
    if following is None or following.place.entry != left.entry:
        return following
    return programme.by_place[left]


def led(programme: Programme, standing: Standing, act: Act) -> Standing:
    """Return where a gig stands after a step.

    Raises:
        BadValueError: it leads nowhere; the sentence says why.
    """
    if standing.walk is not None:
        return _walked(programme, standing, standing.walk, act)
    return _arrived(standing, _target(programme, standing, act))


def _walked(programme: Programme, standing: Standing, walk: Walk, act: Act) -> Standing:
    """Return where a step leads in a line check: along it, back to where it was begun, or out of it."""
    begun = replace(standing, place=walk.began, left=walk.left, back=walk.back, walk=None)
    is_safe = standing.place.part is Part.SAFE
    if act.verb is Verb.NEXT or (act.verb is Verb.GO and act.place == walk.following != standing.place):
        on = walk._replace(at=walk.at + 1)
        return replace(_arrived(begun, walk.following), walk=on) if on.at < len(walk.places) else begun
    if act.verb is Verb.BACK and not is_safe:
        if walk.at < 1:
            raise BadValueError("this is where the line check begins")
        on = walk._replace(at=walk.at - 1)
        return replace(_arrived(begun, walk.places[on.at]), walk=on)
    if act.verb in (Verb.CHECK, Verb.RESUME):
        return begun
    place = _target(programme, standing, act)
    stays = act.verb is not Verb.GO or place == standing.place
    return _arrived(standing if stays else begun, place)


def _target(programme: Programme, standing: Standing, act: Act) -> Place:
    if act.verb is Verb.NEXT:
        return _next(programme, standing)
    if act.verb is Verb.BACK:
        return _before(programme, standing)
    if act.verb is Verb.SAFE:
        return (standing.back or HOME) if standing.place == SAFE else SAFE
    if act.verb is Verb.RESUME:
        if standing.left is None:
            raise BadValueError("the set has not been left")
        return standing.left
    if act.place is None or act.place not in programme.by_place:
        is_cut = act.place is not None and _is_of_a_song(programme, act.place)
        raise BadValueError("that part is not played tonight" if is_cut else "the gig has no such cue")
    return act.place


def _is_of_a_song(programme: Programme, place: Place) -> bool:
    """Whether a song of the gig has such a part, played tonight or not."""
    gig = programme.library.gigs[programme.gig]
    songs = {Part.SET: gig.entries, Part.SPARE: gig.spares}.get(place.part, ())
    if not 0 <= place.entry < len(songs):
        return False
    return 0 <= place.form < len(played_form(programme.library, songs[place.entry]))


def _next(programme: Programme, standing: Standing) -> Place:
    step = ahead(programme, standing)
    if step is None:
        raise BadValueError("this is the last cue of the gig")
    return step.place


def _before(programme: Programme, standing: Standing) -> Place:
    """Return where BACK leads: a cue back, from the safe state to where it was called, else to the set."""
    if standing.place.part is Part.SAFE:
        return standing.back or HOME
    step = programme.neighbour(standing.place, -1)
    if step is not None:
        return step.place
    if standing.left is None:
        raise BadValueError("this is where the gig begins")
    return standing.left


def _arrived(standing: Standing, place: Place) -> Standing:
    """Return the standing at a place, with what has to be remembered of the way there."""
    here = standing.place
    if place.part is Part.SET:
        return replace(standing, place=place, left=None, back=None)
    from_set = here if here.part is Part.SET else standing.left
    back = None
    if place.part is Part.SAFE:
        back = standing.back if here.part is Part.SAFE else here
    return replace(standing, place=place, left=from_set or HOME, back=back)
