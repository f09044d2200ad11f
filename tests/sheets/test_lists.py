"""The cue list for other programs and for the terminal."""

import csv
import io
import json
from dataclasses import replace

from scenebook.cueing.cues import Action, ByHand, CueList, Message, MessageKind, Moment
from scenebook.sheets import cue_list_json, cue_rows_csv, plain_cues
from tests.support.cue_lists import DELAY, FUZZ, LOOPER, MULTI, a_gig, a_library, compiled

SENT = (
    Message("front", MULTI, MessageKind.RECALL, "", "2B", b"\xb1\x00\x00", 0),
    Message("front", MULTI, MessageKind.RECALL, "", "2B", b"\xc1\x04", 960),
)
DONE = (
    ByHand(Action.PRESS, FUZZ, "main", "off", "on", Moment.CUE, 2, 700_000),
    ByHand(Action.TURN, FUZZ, "gain", "", "4 o'clock", Moment.FREE, 3, 2_500_000),
    ByHand(Action.RECALL, DELAY, "", "1", "4", Moment.GAP, 2, 2_100_000, 3),
)


def a_list() -> CueList:
    """One gig with all kinds of moves at cue 2."""
    made = compiled(a_library(a_gig(("Lamp room", "Kelp fire"), spares=("Limpet",))))
    cue = made.cues[2]._replace(
        messages=SENT, by_hand=DONE, lacks=("ring modulator",), without=("delay, tape",), late="late by 1.2 s",
        stand_ins=("a: b, likeness 0.7",), not_carried=("a mix",), notes=("look at its lamp",),
        silence_us=30_000, overlap_us=0, interrupted_us=0, bytes=5, running_bytes=4, settled_us=181_600,
    )  # fmt: skip
    cues = (*made.cues[:2], cue, *made.cues[3:])
    return replace(made, cues=cues, warnings=("delay, tape hears what is meant for the looper",))


def test_a_cue_is_json_by_the_contract() -> None:
    """Other programs are written against exactly these keys: they are only ever added to."""
    said = cue_list_json(a_list())["cues"][2]

    assert said == {
        "number": 2,
        "song": "Lamp room",
        "scene": "chorus",
        "entry": 0,
        "form": 1,
        "bars": 8,
        "free_bars": 2,
        "words": "",
        "moves": [
            by_hand("turn", FUZZ, "gain", "", "4 o'clock", "in the free bars before", 3, 2500.0, 1),
            by_hand("recall", DELAY, "", "1", "4", "in the gap before", 2, 2100.0, 3),
            {
                "do": "message", "kind": "recall", "port": "front", "unit": MULTI, "member": "", "value": "2B",
                "bytes": "B1 00 00", "ms": 0.0,
            },
            {
                "do": "message", "kind": "recall", "port": "front", "unit": MULTI, "member": "", "value": "2B",
                "bytes": "C1 04", "ms": 0.96,
            },
            by_hand("press", FUZZ, "main", "off", "on", "at the cue", 2, 700.0, 1),
        ],
        "target": [
            target(FUZZ, True, None, {"main": "on", "gain": "4 o'clock"}),
            target("drive, soft", False, None, {"main": "off", "gain": "11 o'clock"}),
            target(MULTI, True, "1A", {"chorus": "off"}),
            target(DELAY, True, None, {"main": "on", "time": "1/8.", "mix": "30 %"}),
            target(LOOPER, False, None, {"main": "off"}),
        ],
        "lacks": ["ring modulator"],
        "without": ["delay, tape"],
        "stand_ins": ["a: b, likeness 0.7"],
        "not_carried": ["a mix"],
        "notes": ["look at its lamp"],
        "late": "late by 1.2 s",
        "silence_ms": 30.0, "tails_cut": [],
        "overlap_ms": 0.0,
        "interrupted_ms": 0.0,
        "bytes": 5,
        "running_status_bytes": 4,
        "settled_ms": 181.6,
    }  # fmt: skip


def by_hand(
    do: str, unit: str, member: str, before: str, after: str, when: str, cue: int, ms: float, presses: int
) -> dict[str, object]:
    """A move by hand or foot as JSON has it."""
    return {
        "do": do, "unit": unit, "member": member, "from": before, "to": after, "when": when, "for_cue": cue,
        "takes_ms": ms, "presses": presses,
    }  # fmt: skip


def target(unit: str, sounds: bool, preset: str | None, members: dict[str, str]) -> dict[str, object]:
    return {
        "unit": unit, "sounds": sounds, "preset": preset, "preset_asked_for": False, "variant": None,
        "members": members, "left": [],
    }  # fmt: skip


def test_the_whole_list_is_plain_json() -> None:
    """It survives being written and read, and names what it is."""
    said = cue_list_json(a_list())

    assert json.loads(json.dumps(said)) == said
    assert {key: said[key] for key in ("gig", "rig", "list", "warnings")} == {
        "gig": "Pell Quay",
        "rig": "board",
        "list": "lean",
        "warnings": ["delay, tape hears what is meant for the looper"],
    }
    assert [cue["number"] for cue in said["cues"]] == list(range(11))
    assert [spare["song"] for spare in said["spares"]] == ["Limpet"]
    assert said["house"]["song"] == "House sounds"
    assert (said["cues"][0]["entry"], said["cues"][0]["form"], said["cues"][0]["bars"]) == (None, None, None)


def test_a_gig_without_house_sounds_has_null_there() -> None:
    """A key is never missing."""
    said = cue_list_json(replace(a_list(), house=None, spares=(), full=True))

    assert (said["house"], said["spares"], said["list"]) == (None, [], "full")


def test_csv_has_a_row_for_each_move_in_order() -> None:
    """Whoever likes a spreadsheet can sort it and get back to the order."""
    made = a_list()

    rows = list(csv.DictReader(io.StringIO(cue_rows_csv(made))))

    at_two = [row for row in rows if row["cue"] == "2" and not row["part"]]
    assert at_two[1] == {
        "part": "", "cue": "2", "song": "Lamp room", "scene": "chorus", "order": "2", "do": "recall", "port": "",
        "unit": DELAY, "member": "", "from": "1", "to": "4", "bytes": "", "ms": "", "when": "in the gap before",
        "for cue": "2", "presses": "3",
    }  # fmt: skip
    assert at_two[3] == {
        "part": "", "cue": "2", "song": "Lamp room", "scene": "chorus", "order": "4", "do": "message recall",
        "port": "front", "unit": MULTI, "member": "", "from": "", "to": "2B", "bytes": "C1 04", "ms": "0.96",
        "when": "", "for cue": "", "presses": "",
    }  # fmt: skip
    every = [*made.cues, *(cue for spare in (*made.spares, made.house) if spare for cue in spare.cues)]
    assert len(rows) == sum(len(cue.messages) + len(cue.by_hand) for cue in every)
    assert {row["part"] for row in rows} == {"", "spare song Limpet", "house sounds House sounds"}


def test_the_listing_of_a_cue_is_aligned() -> None:
    """Read down a column: when, what, bytes, unit, value."""
    lines = plain_cues(a_list()).splitlines()

    start = next(index for index, line in enumerate(lines) if line.startswith("   2"))
    assert lines[start : start + 14] == [
        "   2  Lamp room, chorus",
        "      8 bars, 2 free, 5 bytes, settled 181.6 ms, silent 30 ms",
        "      in the free bars before  turn              fuzz, silicon         gain → 4 o'clock, for cue 3",
        "      in the gap before        recall            delay, tape           1 → 4, 3 presses",
        "      0.00 ms                  send    B1 00 00  multi-effects, small  2B",
        "      0.96 ms                  send    C1 04     multi-effects, small  2B",
        "      at the cue               press             fuzz, silicon         main off → on",
        "      ▲ lacks ring modulator",
        "      ▲ without delay, tape",
        "      ▲ late by 1.2 s",
        "      stand-in: a: b, likeness 0.7",
        "      not carried: a mix",
        "      look at its lamp",
        "",
    ]
    assert lines[0] == "Pell Quay, board, lean list: 11 cues"
    assert lines[-1] == "▲ delay, tape hears what is meant for the looper"


def test_presses_are_listed_in_the_order_of_the_cue() -> None:
    """Off before on, along the chain: whoever presses in another order is heard."""
    cue = a_list().cues[2]
    units = (DELAY, FUZZ, MULTI)
    moves = tuple(ByHand(Action.PRESS, unit, "main", "", "on", Moment.CUE, 2, 700) for unit in units)

    lines = plain_cues(replace(a_list(), cues=(cue._replace(by_hand=moves),), spares=(), house=None)).splitlines()

    assert [unit for line in lines for unit in units if "press" in line and unit in line] == list(units)


def test_wide_letters_keep_the_columns() -> None:
    """A unit named in another script takes two columns a letter in a terminal."""
    cue = a_list().cues[2]
    wide = cue._replace(messages=(SENT[0]._replace(unit="残響"), SENT[1]), by_hand=())

    lines = plain_cues(replace(a_list(), cues=(wide,), spares=(), house=None)).splitlines()

    assert lines[4].endswith("残響                  2B")
    assert lines[5].endswith("multi-effects, small  2B")
