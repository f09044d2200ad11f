"""A setlist-aware preset and scene librarian for a touring player.

A library holds songs, their scenes and the rigs that play them; the compiler turns a gig into program changes and
control changes, the proof sends them through a MIDI port and checks what arrives, and the sheet tells hands and feet
the rest. Importing this package imports nothing else, so that the command starts quickly.
"""

__all__ = ["__version__"]

__version__ = "0.1.0"
