"""A player at a terminal: each command is a real process."""

import json
from pathlib import Path
from typing import Any

from tests.support.terminal import Printed, typed_in_a_process

__all__ = ["Player"]


class Player:
    """Somebody in a folder, with one library."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.library = folder / "tour.scenebook"

    def tries(self, *arguments: str) -> Printed:
        """Run a command and give back what comes of it."""
        environment = {"SCENEBOOK_LIBRARY": str(self.library), "JACK_NO_START_SERVER": "1"}
        printed = typed_in_a_process(*arguments, cwd=self.folder, **environment)
        assert "Traceback" not in printed.err, printed
        return printed

    def types(self, *arguments: str) -> str:
        """Run a command that works, and give back what it printed."""
        printed = self.tries(*arguments)
        assert printed.code == 0, printed
        assert printed.err == "", printed
        return printed.out

    def asks(self, *arguments: str) -> Any:
        """Run a command that shows something, as JSON."""
        return json.loads(self.types(*arguments, "--json"))
