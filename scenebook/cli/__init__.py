"""The command: a face over actions. Each command parses, calls one action and prints what it returns.

A command's module is imported when that command runs, and the rooms below when its action is called, so that asking for
the version costs no more than the terminal library.
"""

from scenebook.cli.app import main, run

__all__ = ["main", "run"]
