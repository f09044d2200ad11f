"""The plain reading: what each cue of a gig asks of each unit, straight from what the library says (P3).

It is written to be seen to be right, not to be fast, and shares nothing with the compiler. Readings of our own:

- A loop follows the units in it that have a main switch; with none it is a switch like any other. What a scene says of
  a loop switch is its own words on it, what the preset that it names for the switcher stores, or that it leaves the
  switcher. Home is no scene: there too the units in the loop say.
- The preset of a switcher whose loops follow their units is open unless a scene names it.
- A unit in a loop that a scene leaves (or its main switch) should sound if it did at the cue before.
- While a shared loop is off, it is the main switches in it whose targets stay.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from scenebook.model import MAIN, FormEntry, Gig, Library, Rig, Unit
from scenebook.model.units import RESERVED
from scenebook.proof.scales import Value, held
from scenebook.proof.substitutes import Places, with_stand_ins
from scenebook.proof.tonight import Loop, Tonight, Words, tonight_at

__all__ = ["HOME", "Asked", "Key", "Reading", "read_gig"]

Key = tuple[int, int] | None  # index of the gig's entry and of the form in it; None is home
HOME: Key = None


@dataclass
class Asked:
    """What a cue asks of one unit: a slot and variant (no slot: the preset is open), and each determined member."""

    slot: int | None = None
    variant: str | None = None
    values: dict[str, Value] = field(default_factory=dict)


@dataclass(frozen=True)
class Reading:
    """What one cue asks: of each unit, and which triggers it fires once."""

    key: Key
    song: str | None
    scene: str | None
    units: Mapping[str, Asked]
    triggers: frozenset[tuple[str, str]] = frozenset()


def read_gig(library: Library, gig: Gig, rig: Rig) -> tuple[Tonight, list[Reading]]:
    """Return the rig of the gig, and its cues in order: home, then each form entry of each song.

    Raises:
        BadValueError: a value is off its scale, or a note value has no tempo.
    """
    tonight = tonight_at(library, gig, rig)
    tuning = library.settings.tuning
    home = _asked(tonight, {}, None, None, None, tuning)
    readings = [Reading(HOME, None, None, home)]
    places: Places = {}
    for key, entry, tempo, goes_on in _cues(library, gig):
        song = gig.entries[key[0]].song
        scene = library.songs[song].scenes[entry.scene]
        stood = _switched_on(readings[-1].units) if goes_on else None
        words, places = with_stand_ins(tonight, tonight.words(scene), places if goes_on else {}, stood)
        left = readings[-1].units if goes_on else home
        units = _asked(tonight, words, left, readings[-1].units, tempo, tuning)
        readings.append(Reading(key, song, entry.scene, units, frozenset(tonight.triggers(scene))))
    return tonight, readings


def _switched_on(units: Mapping[str, Asked]) -> dict[str, set[str]]:
    return {name: {member for member, value in each.values.items() if value == "on"} for name, each in units.items()}


def _cues(library: Library, gig: Gig) -> Iterator[tuple[tuple[int, int], FormEntry, float | None, bool]]:
    """Yield (key, form entry, tempo, whether `leave` carries over) for each cue after home (S6)."""
    for index, entry in enumerate(gig.entries):
        song = library.songs[entry.song]
        form = entry.form or song.played
        for place, part in enumerate(form):
            goes_on = place > 0 or (index > 0 and gig.entries[index - 1].segue)
            yield (index, place), part, entry.tempo or song.tempo, goes_on


def _asked(
    tonight: Tonight,
    words: Words,
    left: Mapping[str, Asked] | None,
    before: Mapping[str, Asked] | None,
    tempo: float | None,
    tuning: float,
) -> dict[str, Asked]:
    """Return what `words` ask. `left` is where `leave` finds its values, `before` the cue before; None at home."""
    asked = {}
    for name, unit in tonight.units.items():
        said, at_home = words.get(name, {}), tonight.home.get(name, {})
        if left is not None and said.get("leave") == "unit":
            asked[name] = Asked(left[name].slot, left[name].variant, dict(left[name].values))
        else:
            asked[name] = _target(unit, said, at_home, left[name] if left else None, tempo, tuning)
    for loop in tonight.loops:
        _loop(tonight, loop, asked, words, left, before)
    return asked


def _target(
    unit: Unit,
    said: Mapping[str, str],
    at_home: Mapping[str, str],
    left: Asked | None,
    tempo: float | None,
    tuning: float,
) -> Asked:
    """Layer what determines each member, the last word winning (S3)."""
    said = {key: text for key, text in said.items() if key in RESERVED or key in unit.members}
    texts = {name: "off" for name in unit.switches if name in unit.members}
    asked = Asked()
    texts |= _preset(unit, at_home, asked)
    texts |= {key: text for key, text in at_home.items() if key in unit.members}
    if said:
        asked = Asked()
        texts |= _preset(unit, said, asked)
        texts |= {key: text for key, text in said.items() if key in unit.members}
    asked.values = {m: held(unit, m, text, tempo, tuning) for m, text in texts.items() if text != "leave"}
    if left is not None:
        asked.values |= {m: left.values[m] for m, text in texts.items() if text == "leave" and m in left.values}
    return asked


def _preset(unit: Unit, said: Mapping[str, str], asked: Asked) -> dict[str, str]:
    """Note in `asked` the preset and variant that are named, and return what they store."""
    if "preset" not in said:
        return {}
    asked.slot, preset = unit.preset_at(said["preset"])
    asked.variant = said.get("variant")
    texts: dict[str, str] = {}
    if preset.rest == "off":
        texts |= {member: "off" for member in unit.stored if member in unit.switches}
    texts |= preset.stores
    return texts | preset.variants[asked.variant].stores if asked.variant else texts


def _loop(
    tonight: Tonight,
    loop: Loop,
    asked: dict[str, Asked],
    words: Words,
    left: Mapping[str, Asked] | None,
    before: Mapping[str, Asked] | None,
) -> None:
    """Switch a loop by what is asked of the units in it, and their main switches by the loop (S11)."""
    switched = [name for name in loop.inside if MAIN in tonight.units[name].members]
    if not switched:
        return
    holder = asked[loop.holder].values
    of_holder = words.get(loop.holder, {})
    says = of_holder.keys() | _preset(tonight.units[loop.holder], of_holder, Asked()).keys()
    if loop.switch not in says and (left is None or "leave" not in of_holder):
        if "preset" not in of_holder:
            asked[loop.holder].slot = asked[loop.holder].variant = None
        sounds = any(_should_sound(loop, name, asked, words, left) for name in switched)
        holder[loop.switch] = "on" if sounds else "off"
    if not loop.shared:
        asked[switched[0]].values[MAIN] = "on"
    elif holder.get(loop.switch) == "off" and before is not None:
        for name in switched:
            asked[name].values[MAIN] = before[name].values[MAIN]


def _should_sound(
    loop: Loop, name: str, asked: Mapping[str, Asked], words: Words, left: Mapping[str, Asked] | None
) -> bool:
    said = words.get(name, {})
    if left is None or not ("leave" in said or said.get(MAIN) == "leave"):
        return asked[name].values[MAIN] == "on"
    own = not loop.shared or left[name].values[MAIN] == "on"
    return own and left[loop.holder].values[loop.switch] == "on"
