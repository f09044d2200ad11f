"""Which sections of a multi-effects are on in what is said of it: its limit at once is kept exactly (rule S9)."""

from collections.abc import Iterator, Mapping

from scenebook.model import Unit

__all__ = ["NONE", "layers_of", "sections_of", "sections_on"]

NONE: frozenset[str] = frozenset()


def sections_of(unit: Unit) -> tuple[str, ...]:
    """Return the switches of a unit that turn on its sections, in its own order."""
    return tuple(name for name, switch in unit.switches.items() if switch.section is not None and not switch.momentary)


def sections_on(
    unit: Unit, home: Mapping[str, str], says: Mapping[str, str], before: frozenset[str] | None = None
) -> frozenset[str]:
    """Return the sections that are on where `says` is said of a unit: by home, by presets and by its own word (S3).

    `before` are those that were on at the cue before, for what is left (S6); without it `leave` means home.
    """
    if "leave" in says:
        return sections_on(unit, home, {}) if before is None else before
    texts: dict[str, str] = {}
    for setting in (home, says):
        for stored in layers_of(unit, setting):
            texts |= stored
        texts |= setting
    ours = sections_of(unit)
    left = [member for member in ours if texts.get(member) == "leave"]
    stood = (before if before is not None else sections_on(unit, home, {})) if left else NONE
    return frozenset(member for member in ours if texts.get(member) == "on" or (member in left and member in stood))


def layers_of(unit: Unit, setting: Mapping[str, str]) -> Iterator[Mapping[str, str]]:
    """Yield what the preset and the variant do that a setting names, the later winning (S3)."""
    if "preset" in setting:
        _, preset = unit.preset_at(setting["preset"])
        if preset.rest == "off":
            yield dict.fromkeys(unit.stored.intersection(unit.switches), "off")
        yield preset.stores
        if "variant" in setting:
            yield preset.variants[setting["variant"]].stores
