"""Two laptops in a test: what a player does on either, what each says, and a first that can be killed."""

import subprocess
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from scenebook.live.acts import Act, Verb
from scenebook.web.follower import Following
from scenebook.web.keys import Right
from tests.support.checkout import ROOT
from tests.web.support import House

__all__ = ["copied", "key_of", "laptop", "roles", "step", "take_over", "words"]


def step(made: House, verb: Verb = Verb.NEXT, **said: Any) -> None:
    assert made.stand.ask(Act(verb, "test", **said)).refused == ""


def take_over(made: House) -> str:
    """Press the button on a laptop's own page; return what it answers."""
    answer = made.client(Right.STEP).post("/api/act", json={"verb": "take over", "by": "touch"})
    return str(answer.json().get("error", ""))


def roles(*laptops: House) -> list[str]:
    return [str(each.snapshot.role) for each in laptops]


def copied(second: House, first: House) -> list[Mapping[str, Any]]:
    """Return what a journal has of another's, as that has it."""
    plain = [{key: said for key, said in record.items() if key != "copied"} for record in second.journal]
    return [record for record in plain if record in first.journal]


def words(made: House, about: str) -> str:
    return next((each.words for each in made.snapshot.notices if each.about == about), "")


@contextmanager
def laptop(folder: Path, port: int = 0) -> Iterator[tuple["subprocess.Popen[str]", str]]:
    """Run the first laptop in a process of its own; give the process and its address."""
    command = [sys.executable, "-m", "tests.web.first_laptop", str(folder / "first.jsonl"), str(port)]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        try:
            yield process, process.stdout.readline().strip()
        finally:
            process.kill()


def key_of(second: House, folder: Path) -> str:
    """Return the first's next stepping key, as its own page would show it."""
    assert isinstance(second.stand, Following)
    said: Callable[..., Any] = second.stand._first._read
    address: str = said("/api/keys", "step")["step"]["address"]
    return address.rsplit("/", 1)[1]
