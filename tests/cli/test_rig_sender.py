"""What a player types to get the lists of a sender."""

import json
from pathlib import Path

import pytest

from tests.support.terminal import contents, typed

RIG = "fly board, foot"


def test_without_a_file_the_lists_are_read_in_the_terminal(demo: Path) -> None:
    """List after list, then what to press."""
    printed = typed("rig", "sender", RIG, "--gig", "Pell")

    assert printed.code == 0
    assert printed.out.startswith("Sender: foot controller, programmable · fly board, foot controller · Pell Quay hall")
    assert "\nbank 1, switch 1: home\n" in printed.out
    assert "\n□  multi-effects, small  drive gain 11 o'clock  1        controller  20      51\n" in printed.out
    assert "\nWhat to press\n" in printed.out


@pytest.mark.parametrize(("ending", "begin"), [(".pdf", b"%PDF"), (".txt", b"Sender: "), (".mid", b"MThd")])
def test_the_ending_says_what_is_written(demo: Path, tmp_path: Path, ending: str, begin: bytes) -> None:
    """A sheet for a pen, a file for a sender that takes one."""
    out = tmp_path / f"lists{ending}"

    printed = typed("rig", "sender", RIG, "--gig", "Pell", "-o", str(out))

    assert (printed.code, printed.out) == (0, f"Wrote {out}\n")
    assert out.read_bytes().startswith(begin)


def test_json_has_every_list_and_every_press(demo: Path) -> None:
    """For a player's own scripts."""
    found = json.loads(typed("rig", "sender", RIG, "--gig", "Pell", "--json").out)

    assert found["holds"] == {"count": 100, "messages": 24, "channels": 8, "switches": 5, "pauses": True}
    assert found["lists"][0]["messages"][0] == {
        "port": "fly", "unit": "multi-effects, small", "member": "preset", "value": "1-1 plain", "bytes": "C0 00",
        "at_ms": 0.0,
    }  # fmt: skip
    assert found["cues"][1]["press"] == ["bank 1, switch 2"]
    assert [each["part"] for each in found["others"]] == ["spare song"] * 4 + ["house sounds"]


def test_verify_proves_the_rig_from_its_lists(demo: Path) -> None:
    """And says so."""
    printed = typed("verify", "Pell", "--rig", RIG, "--port", "loopback")

    assert printed.code == 0
    assert "69 lists of foot controller, programmable: each from unknown, and all in order" in printed.out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (
            ["hall board", "--gig", "Pell"],
            "rig 'hall board': the rig names no sender. Write sender into",
        ),
        (
            [RIG, "--gig", "Pell", "-o", "lists.doc"],
            "lists.doc: no lists can be written as .doc; accepted: .pdf, .txt, .mid",
        ),
        ([RIG, "--gig", "Nowhere"], "no gig is called 'Nowhere'"),
    ],
)
def test_what_cannot_be_done_is_said_in_one_line_and_writes_nothing(
    demo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: list[str], said: str
) -> None:
    """No sender, no such file, no such gig."""
    monkeypatch.chdir(tmp_path)
    before = contents(demo), sorted(tmp_path.iterdir())

    printed = typed("rig", "sender", *words)

    assert printed.code == 2
    assert said in printed.err
    assert "Traceback" not in printed.err
    assert (contents(demo), sorted(tmp_path.iterdir())) == before


def test_a_sender_without_room_names_the_cue(demo: Path, tmp_path: Path) -> None:
    """Twelve lists for a whole evening: it says at which cue they end, and what would help."""
    folder = tmp_path / "small"
    folder.mkdir()
    (folder / "units").mkdir()
    (folder / "units" / "foot-controller.yaml").write_text(
        "name: foot controller, programmable\nlists: {count: 12, messages: 24}\n", encoding="utf-8"
    )
    assert typed("library", "import", str(folder)).code == 0

    printed = typed("rig", "sender", RIG, "--gig", "Pell")

    assert printed.code == 2
    assert "lists are needed, and 'foot controller, programmable' holds 12: cue " in printed.err
    assert "is the first without" in printed.err
    assert typed("verify", "Pell", "--rig", RIG).err == printed.err
