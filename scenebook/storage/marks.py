"""What marks an SQLite file as a Scenebook library, and which revision of its tables this version reads.

Nothing here imports a database library, so that a file is looked at before anything slow is loaded.
"""

__all__ = ["APPLICATION_ID", "FIRST", "HEAD", "KINDS", "Kind", "fold"]

from typing import Literal

APPLICATION_ID = 0x5CE9EB00  # in the SQLite header, so that `file` and we know whose it is
FIRST, HEAD = "0001", "0004"  # alembic revisions: the first released, and the one that this version's tables have

Kind = Literal["unit", "rig", "song", "gig"]
KINDS: tuple[Kind, ...] = ("unit", "rig", "song", "gig")  # each needs only what stands before it


def fold(name: str) -> str:
    """Return the key under which a name is unique: capitals do not count."""
    return name.casefold()
