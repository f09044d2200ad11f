"""How reach, losses, knobs and rigs side by side are said."""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from textwrap import wrap

from scenebook.actions.planning_reach import RigReach
from scenebook.cli.plain import columns
from scenebook.model import MAIN
from scenebook.model.amounts import counted, number_words, rounded, share_words, times_words
from scenebook.model.values import Scale, carried_over
from scenebook.planning.joins import Join, Lines
from scenebook.planning.knobs import Knob
from scenebook.planning.leads import ASSUMED
from scenebook.planning.losses import Loss, LossKind, Marginal
from scenebook.planning.reach import Outcome, Reach, Reached, SceneReach, Share
from scenebook.planning.section_presets import SectionPreset
from scenebook.states.stand_ins import PRESET, Met

__all__ = ["distance_words", "position_words", "reach_lines"]

WHOLE = Outcome.WHOLE
_MARKS = {WHOLE: " ", Outcome.STAND_IN: "~", Outcome.WITHOUT: "◇", Outcome.LACKING: "◆", Outcome.REFUSED: "▲"}
_LEGEND = "  ◆ lacks a must   ◇ is without a colour   ~ by a stand-in (the least like its part)   ▲ cannot be set"
_WIDE = 100
_APART = 20  # scenes that no chosen gig plays; more are only counted
_FEW = 3  # scenes that want a knob in one place
_MOST = 5  # of the units that would add, and of those that give little
_UNITS = {Scale.PERCENT: " %", Scale.DECIBEL: " dB", Scale.HERTZ: " Hz", Scale.PITCH: " Hz"}
_UNITS |= {Scale.MILLISECONDS: " ms", Scale.NOTE_VALUE: " ms"}


def reach_lines(found: RigReach) -> Iterator[str]:
    """Yield all that `rig reach` says."""
    reach = found.reach
    scenes = "scenes as played" if any(reach.gigs) else "scenes"
    yield f"{reach.rig} reaches {share_words(reach.worth, reach.whole)}: {_of(reach.worth, reach.whole)} {scenes}."
    yield from (f"Left out: {gig}: {why}" for gig, why in reach.left_out)
    yield from found.tangled
    yield from (f"Cannot be compiled as it is{f', {gig}' if gig else ''}: {why}" for gig, why in found.uncompiled)
    if any(reach.gigs):
        yield from _section("Gigs, what loses most first:", (_share_row(each) for each in reach.by_gig))
    yield from _songs(reach)
    yield from _stand_in_lines(reach.scenes)
    yield from _by_sections(found.by_sections)
    yield from _section("Set by a scene and not heard:", _not_heard(reach))
    yield from _apart(reach)
    yield from _marginal_lines(found)
    yield from _knob_lines(found.knobs)
    yield from _loss_lines(found.losses)


def position_words(value: float, scale: Scale) -> str:
    """Return a knob's position as a player writes it: "1:30", "35 %", "489 ms"."""
    if scale is Scale.CLOCK:
        return carried_over(f"{min(100.0, max(0.0, value * 100)):.6f}", Scale.PERCENT, Scale.CLOCK) or ""
    return number_words(value, 0 if abs(value) >= 100 else 1) + _UNITS.get(scale, "")


def distance_words(value: float, scale: Scale) -> str:
    """Return how far two positions of a knob are apart; on the clock in hours and minutes of its dial."""
    if scale is not Scale.CLOCK:
        return position_words(value, scale)
    minutes = int(rounded(value * 10 * 60))  # ten hours from stop to stop, as in model/values.py
    return " ".join(part for part in (f"{minutes // 60} h" * (minutes >= 60), f"{minutes % 60} min") if part)


def _of(worth: float, whole: float) -> str:
    return f"{number_words(worth)} of {number_words(whole)}"


def _share_row(share: Share) -> tuple[str, str, str]:
    return share.name, _of(share.worth, share.whole), f"loses {number_words(share.lost)}" if share.lost > 1e-9 else ""


def _section(title: str, rows: Iterable[Sequence[str]]) -> list[str]:
    lines = columns(rows, indent=2)
    return ["", title, *lines] if lines else []


def _songs(reach: Reach) -> Iterator[str]:
    """Yield the songs that lose something with their scenes, then in one line each those of which all is reached."""
    scenes: dict[str, list[SceneReach]] = {}
    for each in reach.scenes:
        scenes.setdefault(each.song, []).append(each)
    losing = [song for song in reach.by_song if any(each.reached.outcome is not WHOLE for each in scenes[song.name])]
    if losing:
        yield from ["", "Songs, what loses most first, with their scenes and how often each is played:", _LEGEND]
    for song in losing:
        name, share, loss = _share_row(song)
        yield f"  {name}: {share}" + (f", {loss}" if loss else "")
        yield from columns(_scene_rows(scenes[song.name], reach.gigs), indent=4)
    whole = [f"{song.name} ({number_words(song.whole)})" for song in reach.by_song if song not in losing]
    if whole:
        yield from ["", f"Whole in every scene ({counted(len(whole), 'song')}, with how many scenes as played):"]
        yield from wrap("; ".join(whole), _WIDE, initial_indent="  ", subsequent_indent="  ", break_long_words=False)


def _scene_rows(scenes: Sequence[SceneReach], gigs: Sequence[str]) -> Iterator[tuple[str, str, str]]:
    """Yield a row for each scene; one that comes to the same at all gigs has one, else the gigs are named."""
    found: dict[tuple[str, str], list[SceneReach]] = {}
    for each in scenes:
        found.setdefault((each.scene, _outcome(each.reached)), []).append(each)
    names = [scene for scene, _ in found]
    whole = []
    for (scene, outcome), same in sorted(found.items(), key=lambda item: names.index(item[0][0])):
        at = f" (at {', '.join(dict.fromkeys(each.gig for each in same))})" if names.count(scene) > 1 and gigs else ""
        times = f"{sum(each.weight for each in same)}×"
        if same[0].reached.outcome is WHOLE:
            whole.append(f"{scene} {times}{at}")
            continue
        yield f"{_MARKS[same[0].reached.outcome]} {scene}", times, outcome + at
    if whole:
        yield f"{_MARKS[WHOLE]} whole:", "", "; ".join(whole)


def _outcome(reached: Reached) -> str:
    """Return what a scene lacks or is without, and unless it lacks a must the stand-in that is least like its part."""
    met, outcome = reached.met, reached.outcome
    if outcome is Outcome.REFUSED:
        return f"{outcome}: {reached.refused}"
    lacks = [f"lacks the must {each}" for each in met.lacks]
    without = [f"without the colour {each}" for each in met.without]
    played = [] if lacks else sorted(_stand_ins(met), key=lambda each: each[0])
    more = f" and {len(played) - 1:,} likelier" if len(played) > 1 else ""
    worst = [f"{words} ({number_words(likeness, 2)}){more}" for likeness, words in played[:1]]
    return "; ".join([*lacks, *without, *worst]) or str(outcome)


def _stand_ins(met: Met) -> Iterator[tuple[float, str]]:
    """Yield what stands in for what, with its likeness: "drive, soft for drive, valve"."""
    for need, likeness in met.likeness.items():
        place = met.places.get((need.unit, need.member))
        if likeness > 0 and place is not None:
            by, switch = place
            what = f"preset {met.settings[by].get(PRESET, '')}" if switch == PRESET else switch
            part = need.unit if need.member in (MAIN, PRESET) else f"{need.unit} {need.member}"
            yield likeness, f"{by if what == MAIN else f'{by} {what}'} for {part}"


def _stand_in_lines(scenes: Sequence[SceneReach]) -> list[str]:
    """Return every stand-in that plays, the least like its part first, with how often."""
    times: Counter[tuple[float, str]] = Counter()
    for each in scenes:
        times.update(dict.fromkeys(_stand_ins(each.reached.met), each.weight))
    rows = ((number_words(likeness, 2), words, f"{count}×") for (likeness, words), count in sorted(times.items()))
    return _section("Stand-ins, the least like their part first, and how often each plays:", rows)


def _by_sections(presets: Sequence[SectionPreset]) -> Iterator[str]:
    """Yield which presets a stand-in for the whole of them would meet, since one for each section does not."""
    rows = (
        (f"{each.unit}, part_preset: {each.part_preset}", f"by {each.by}, preset: {_preset(each)}", f"{each.times}×")
        for each in presets
    )
    yield from _section("Stand-ins that the rig could be told, by your ear, and how often each would play:", rows)
    if presets:
        yield "  Their sections have stand-ins, but a preset is one thing: only a stand-in with part_preset meets it."


def _preset(each: SectionPreset) -> str:
    return each.preset or f"one to be described with {' and '.join(each.switches)} on"


def _not_heard(reach: Reach) -> Iterator[tuple[str, str, str]]:
    """Yield each scene that sets something of a unit which does not sound there, and why."""
    found = {(each.song, each.scene): each.reached.not_heard for each in reach.scenes if each.reached.not_heard}
    yield from ((song, scene, "; ".join(words)) for (song, scene), words in found.items())


def _apart(reach: Reach) -> list[str]:
    if len(reach.apart) > _APART:
        songs = {each.song for each in reach.apart}
        counts = f"{counted(len(reach.apart), 'scene')} of {counted(len(songs), 'song')}"
        return ["", f"In no set of these gigs: {counts}."]
    rows = ((f"{_MARKS[each.reached.outcome]} {each.song}", each.scene, _outcome(each.reached)) for each in reach.apart)
    return _section("In no set of these gigs:", rows)


def _marginal_lines(found: RigReach) -> Iterator[str]:
    adding = [each for each in found.additions if each.worth > 1e-9]
    yield from _section("Would add most:", (_marginal(each, found, "adds") for each in adding[:_MOST]))
    if not adding:
        yield from ["", "No other unit of the library would add anything."]
    yield from _section(
        "Carried, and give least:", (_marginal(each, found, "gives") for each in found.removals[:_MOST])
    )
    if any(each.worth < 1e-9 for each in found.removals):
        yield "  What no scene names gives nothing here: a tuner, a volume pedal, a preamp may be needed all the same."


def _marginal(each: Marginal, found: RigReach, verb: str) -> tuple[str, str, str]:
    unit = found.units[each.unit]
    owned = "" if unit.owned else "not owned" + (f", {number_words(unit.price, 2)}" if unit.price is not None else "")
    return each.unit, f"{verb} {number_words(each.worth)}", owned


def _knob_lines(knobs: Sequence[Knob]) -> Iterator[str]:
    sounding = [knob for knob in knobs if knob.times]
    if sounding:
        yield from ["", "Knobs wanted in two places while they sound:"]
    for knob in sounding:
        yield f"  {_knob_name(knob)}, {times_words(knob.times)}{_else_when(knob)}:"
        for text, scenes in _places(knob).items():
            more = f"; and {counted(len(scenes) - _FEW, 'scene')} more" if len(scenes) > _FEW else ""
            yield f"    {text} in {'; '.join(scenes[:_FEW])}{more}"
        yield f"    {_way_out(knob)}"
    others = [knob for knob in knobs if not knob.times]
    if others:
        yield from ["", "Wanted in two places too, but turned where there is time:"]
    for knob in others:
        yield f"  {_knob_name(knob)}, {_when(knob)}: {_places_in_order(knob)}"
        yield f"    {_way_out(knob)}"


def _places(knob: Knob) -> dict[str, list[str]]:
    """Return the scenes that want a knob in each of its places."""
    found: dict[str, list[str]] = {}
    for each in knob.wanted:
        found.setdefault(each.text, []).append(f"{each.song}, {each.scene}")
    return found


def _places_in_order(knob: Knob) -> str:
    return ", ".join(dict.fromkeys(each.text for each in sorted(knob.wanted, key=lambda each: each.value)))


def _knob_name(knob: Knob) -> str:
    return f"{knob.unit} {knob.control}" + (f", at {knob.gig}" if knob.gig else "")


def _else_when(knob: Knob) -> str:
    return f"; and {_when(knob)}" if knob.silent or knob.in_gap else ""


def _when(knob: Knob) -> str:
    silent = f"while silent {times_words(knob.silent)}" if knob.silent else ""
    gap = f"in a gap {times_words(knob.in_gap)}" if knob.in_gap else ""
    return ", ".join(filter(None, [silent, gap]))


def _way_out(knob: Knob) -> str:
    parts = "one of the two" if len(_places(knob)) == 2 else "some of them"
    second = f" {knob.second} could play {parts}{'' if knob.second_is_carried else ' (not carried)'}."
    second = second if knob.second else ""
    if knob.compromise is None:
        return f"No position lies between choices.{second}"
    middle = position_words(knob.compromise, knob.scale)
    if not knob.off:
        return f"→ {middle} is within the tolerance of all."
    return f"→ {middle} is the middle, {distance_words(knob.off, knob.scale)} off.{second}"


def _loss_lines(losses: Sequence[Loss]) -> Iterator[str]:
    yield from ["", "If it dies, what is lost:"]
    for loss in losses:
        yield f"  {_lost_thing(loss)}: {_lost_words(loss)}"
        changed = [
            f"{each.song}, {each.scene} {each.weight}×: {each.before} → {each.after}" for each in loss.scenes[:3]
        ]
        more = len(loss.scenes) - len(changed)
        yield from (f"    {each}" for each in changed)
        yield from [f"    and {counted(more, 'scene')} more"] if more else []
        only = f"; then only {loss.name} is deaf" if loss.kind is LossKind.LEAD else ""
        yield from (f"    {_join_words(join)}{only}" for join in loss.joins)


def _lost_thing(loss: Loss) -> str:
    if loss.kind is LossKind.UNIT:
        return loss.name
    if loss.kind is LossKind.SUPPLY:
        feeds = f", which feeds {counted(len(set(loss.gone) - {loss.name}), 'unit')}"
        return (loss.name or "the supply (the rig names none: one for all that takes DC)") + feeds
    return f"MIDI lead from {loss.start} to {loss.name}" + (f", {ASSUMED}" if loss.assumed else "")


def _lost_words(loss: Loss) -> str:
    words = [f"loses {number_words(loss.lost)}" if loss.lost > 1e-9 else "no scene is lost"]
    if loss.feet:
        words.append(f"feet press {times_words(loss.feet)} more inside songs, once the leads are joined")
    if loss.deaf:
        until = "until the leads are joined " if loss.kind is not LossKind.LEAD and loss.joins else ""
        worked = "is worked" if len(loss.deaf) == 1 else "are worked"
        words.append(f"{until}{' + '.join(loss.deaf)} {worked} by hand, at {counted(loss.by_hand, 'cue')}")
    return "; ".join(words)


def _join_words(join: Join) -> str:
    if join.lines is Lines.MIDI:
        start = join.before if join.before.startswith("port ") else f"the thru of {join.before}"
        assumed = f" ({ASSUMED})" if join.assumed else ""
        return f"MIDI: join the lead from {start} with the one to {join.after}{assumed}"
    return f"join the lead from {join.before} with the one to {join.after}"
