"""What was done tonight, kept: written into the gig, so that the next evening begins with it. Pure."""

from scenebook.live.tonight import Tonight, gig_tonight
from scenebook.model import Gig, Library

__all__ = ["kept"]


def kept(library: Library, gig: str, tonight: Tonight) -> Gig:
    """Return the gig with what was done tonight: units out or played by others, keys, tempos, forms without the cuts.

    Songs and rigs stay as they are. A gig has no place for units that heard no MIDI, so its notes name them.
    """
    evening = gig_tonight(library, gig, tonight)
    fields = {name: getattr(evening, name) for name in Gig.model_fields}
    deaf = f"Heard no MIDI: {', '.join(sorted(tonight.deaf))}." if tonight.deaf else ""
    if deaf and deaf not in evening.notes:
        fields["notes"] = "\n".join(text for text in (evening.notes, deaf) if text)
    return Gig(**fields)
