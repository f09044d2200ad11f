"""Every command explains itself, and README knows it."""

import re
from collections.abc import Iterator
from typing import Any

import pytest

from scenebook.cli.app import COMMANDS, root
from tests.support.checkout import ROOT
from tests.support.terminal import typed


def commands(command: Any = None, *path: str) -> Iterator[tuple[tuple[str, ...], Any]]:
    """Yield every command with its words: ("scene", "set") and what it is."""
    command = command or root()
    if not hasattr(command, "list_commands"):
        yield path, command
        return
    for name in command.list_commands(None):
        yield from commands(command.get_command(None, name), *path, name)


ALL = [path for path, _ in commands()]
WITHOUT_A_LIBRARY = {("demo",), ("ports",), ("library", "schema")}
SHOWING = [
    path
    for path in ALL
    if path[-1] in ("list", "show", "check", "compile", "verify", "ports", "send", "reach", "compare", "work")
]


def test_the_contract_is_whole() -> None:
    """Other programs and other people's notes rely on these names."""
    assert {" ".join(path) for path in ALL} >= {
        "demo",
        *(f"library {each}" for each in ("create", "import", "export", "check", "backup", "schema")),
        *(f"unit {each}" for each in ("list", "show", "add")),
        *(f"rig {each}" for each in ("list", "show", "add", "reach", "compare")),
        *(f"song {each}" for each in ("list", "show", "add", "form")),
        *(f"gig {each}" for each in ("list", "show", "add", "order", "out", "replace", "work")),
        *(f"scene {each}" for each in ("show", "set", "copy", "rename", "delete")),
        *("compile", "verify", "ports", "send", "export", "sheet"),
    }
    assert {path[0] for path in ALL} == set(COMMANDS)


@pytest.mark.parametrize(("path", "command"), list(commands()))
def test_every_command_explains_itself_with_an_example(path: tuple[str, ...], command: Any) -> None:
    """Help is read in a hurry: what it does, each option, and one line to copy."""
    printed = typed(*path, "--help")

    assert printed.code == 0
    text = " ".join(printed.out.split())
    assert f"Example: scenebook {' '.join(path)}" in text
    assert [each.name for each in command.params if not each.help] == []
    assert "<" not in text  # no type in Python's words


@pytest.mark.parametrize(("path", "command"), list(commands()))
def test_every_command_takes_a_library_where_it_needs_one(path: tuple[str, ...], command: Any) -> None:
    """One player may keep several libraries: a band's, a duo's."""
    options = {option for each in command.params for option in each.opts}

    assert ("--library" in options) == (path not in WITHOUT_A_LIBRARY)


@pytest.mark.parametrize("path", SHOWING)
def test_everything_that_shows_can_speak_json(path: tuple[str, ...]) -> None:
    """A player's own scripts need no table to be taken apart."""
    command = dict(commands())[path]

    assert "--json" in {option for each in command.params for option in each.opts}


@pytest.mark.parametrize("path", [(), ("library",), ("unit",), ("rig",), ("song",), ("scene",), ("gig",)])
def test_a_group_without_a_command_lists_what_it_has(path: tuple[str, ...]) -> None:
    """`scenebook scene` alone is a question."""
    printed = typed(*path)

    assert "Commands:" in printed.out + printed.err


def test_the_version_is_said() -> None:
    """A report of a fault begins with it."""
    from scenebook import __version__

    assert typed("--version") == (0, f"scenebook {__version__}\n", "")


def test_readme_knows_every_command() -> None:
    """What README's table does not name nobody finds; a name there that is no command sends people astray."""
    named = set()
    for line in (ROOT / "README.md").read_text(encoding="utf-8").splitlines():
        if line.startswith("| `scenebook "):  # | `scenebook unit list` `show` `add` | ... |
            first, *others = re.findall(r"`([^`]+)`", line.split("|")[1])
            _, *words = first.split()
            named |= {" ".join(words), *(" ".join([*words[:-1], other]) for other in others)}

    assert named == {" ".join(path) for path in ALL}
