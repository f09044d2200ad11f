"""What a player types to choose a rig, and to see what a limit does to its reach."""

import json
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import pytest

from tests.support.terminal import typed


def test_choose_names_the_best_rig_says_that_it_is_proved_and_what_each_limit_costs(demo: Path) -> None:
    """The studio wall comes down to six units; one more unit would give something, one more kilogram nothing."""
    printed = typed("rig", "choose", "--max", "weight=5kg", "--max", "units=6", "--must", "tuner")

    assert printed.code == 0
    assert printed.out.startswith("The best rig: 6 units, in chain order\n")
    assert "  tuner, stage\n" in printed.out
    assert "Proved: no other reaches more.\n" in printed.out
    assert "  units:   6 of 6 units\n" in printed.out
    assert "one more kilogram:" in printed.out
    assert "one more unit:" in printed.out


def test_choose_prints_nothing_but_json_where_json_is_asked_for(demo: Path) -> None:
    """The solver greets on standard output whatever it is told: none of it reaches another program."""
    found = json.loads(typed("rig", "choose", "--max", "units=4", "--json").out)

    assert found["proved"]
    assert len(found["units"]) <= 4
    assert found["worth"] == found["bound"]
    assert [gain["limit"] for gain in found["gains"]] == ["units"]


def test_a_stored_choice_is_a_rig_that_reaches_what_was_told(demo: Path) -> None:
    """What is told of it without the gigs' own changes is what comparing tells; a channel each, and its stand-ins."""
    chosen = json.loads(typed("rig", "choose", "--max", "units=5", "--name", "five", "--json").out)
    rig = json.loads(typed("rig", "show", "five", "--json").out)
    reach = json.loads(typed("rig", "reach", "five", "--json").out)

    assert rig["chain"] == chosen["units"]
    channels = [placed["channel"] for placed in rig["units"].values() if "channel" in placed]
    assert channels == list(range(1, len(channels) + 1))
    assert {stand_in["by"] for stand_in in rig["stand_ins"]} <= set(chosen["units"])
    assert reach["worth"] == pytest.approx(chosen["tonight"])


def test_a_stored_choice_has_a_supply_that_is_counted_when_it_is_packed(demo: Path) -> None:
    """A rig without its supply would be too light on paper, and dark on stage."""
    printed = typed("rig", "choose", "--max", "units=3", "--name", "five")
    rig = json.loads(typed("rig", "show", "five", "--json").out)
    packed = json.loads(typed("rig", "pack", "five", "--json").out)

    assert f"Its supply is {rig['supply']!r}, the lightest owned one that feeds it: see scenebook rig" in printed.out
    assert "frame_g and case_g in its file" in printed.out
    assert rig["supply"] in [item["what"] for item in packed["items"]]
    assert typed("rig", "power", "five").out.startswith(f"five on {rig['supply']}: it feeds every unit.")


def test_a_choice_says_at_once_what_its_supply_leaves_unfed_and_what_would_do(demo: Path) -> None:
    """Who carries a unit that stays dark wants to know before the gig, whether the rig is stored or not."""
    words = ("rig", "choose", "--max", "units=3", "--must", "preamp, viola")
    printed, found = typed(*words).out, json.loads(typed(*words, "--json").out)

    assert found["unfed"] == ["preamp, viola"]
    assert (
        f"▲ {found['supply']}, the owned supply that feeds most of it, leaves 1 unit unfed: preamp, viola (" in printed
    )
    assert "preamp, viola (the other polarity, another plug).\nThe least that would feed them all:\n" in printed
    assert "  for preamp, viola on outlet 9: a lead from one plug to the other that turns the polarity" in printed
    assert "leaves" not in typed("rig", "choose", "--max", "units=3").out


def test_curve_prints_a_table_and_draws_it(demo: Path, tmp_path: Path) -> None:
    """Each point is proved; the plot is a file, as lines or as a picture."""
    lines, picture = tmp_path / "curve.svg", tmp_path / "curve.png"

    printed = typed("rig", "curve", "--against", "units", "--max", "weight=4kg", "--out", str(lines))
    typed("rig", "curve", "--points", "3", "-o", str(picture))

    rows = printed.out.splitlines()
    table = rows[1 : rows.index("")]
    assert rows[0].split() == ["units", "reach", "units"]
    assert [row.split()[0] for row in table] == ["nothing", *(str(number) for number in range(1, len(table)))]
    assert all(row.endswith("proved") for row in table)
    steps = rows[rows.index("Units of the first step, then what comes and goes:") + 1 :][: len(table)]
    assert steps[0] == "  nothing carried"
    assert steps[1].startswith("  1 unit           with ")
    assert rows[-2].startswith(f"From {len(table) - 1} units on more gives nothing: ")
    assert rows[-2].endswith("is the most within the limit on weight.")
    assert ElementTree.parse(lines).getroot().tag.endswith("svg")
    assert picture.read_bytes().startswith(b"\x89PNG")


def test_what_has_to_be_bought_is_marked_with_its_price_and_the_sum(demo: Path) -> None:
    """A rig that is best on paper may not be in the house; a price that nobody knows is in no sum."""
    assert typed("unit", "add", "space echo box", "--role", "delay").code == 0
    file = demo.parent / "files"
    typed("library", "export", str(file))
    tuner, echo = file / "units/tuner-stage.yaml", file / "units/space-echo-box.yaml"
    tuner.write_text(f"{tuner.read_text(encoding='utf-8')}owned: false\nprice: 149\n", encoding="utf-8")
    echo.write_text(f"{echo.read_text(encoding='utf-8')}owned: false\n", encoding="utf-8")
    assert typed("library", "import", str(file)).code == 0
    asked = ("rig", "choose", "--max", "units=4", "--must", "tuner, stage", "--must", "space echo box")

    printed, found = typed(*asked), json.loads(typed(*asked, "--json").out)

    assert "tuner, stage" in printed.out
    assert "  to buy, 149\n" in printed.out
    assert "  to buy, price not known\n" in printed.out
    assert "To buy: 2 units, 149 in the library's own money, price not known of space echo box.\n" in printed.out
    prices = {each["unit"]: each["price"] for each in found["to_buy"]}
    assert (prices, found["to_buy_price"]) == ({"tuner, stage": 149, "space echo box": None}, 149)


def test_a_rig_that_counts_on_a_computer_says_so_and_one_by_hand_has_no_midi(demo: Path) -> None:
    """With no computer a unit has no channel; where a foot works it as well, it is chosen all the same."""
    wired = typed("rig", "choose", "--max", "units=5", "--name", "wired")
    free = typed("rig", "choose", "--max", "units=5", "--by-hand", "--name", "free")
    found = json.loads(typed("rig", "choose", "--max", "units=5", "--by-hand", "--json").out)
    compared = typed("rig", "compare", "wired", "free").out.splitlines()

    rig = json.loads(typed("rig", "show", "free", "--json").out)
    assert "Counted on: a computer or a sender, with MIDI to " in wired.out
    assert "It needs no computer and no sender; " in free.out
    assert found["hear_midi"] == []
    assert not any("port" in placed for placed in rig.get("units", {}).values())
    row = next(line for line in compared if line.startswith("computer or sender"))
    assert row.split("  ")[-1] == "none"
    assert "needs one: MIDI to " in row


def test_a_limit_on_weight_says_what_is_carried_beside_the_units(demo: Path) -> None:
    """The limit counts units; the player carries supply and leads too, and what nobody knows is named."""
    asked = ("rig", "choose", "--max", "weight=5kg", "--max", "units=6")

    printed, found = typed(*asked), json.loads(typed(*asked, "--name", "five", "--json").out)

    packed = json.loads(typed("rig", "pack", "five", "--json").out)
    assert "(The limit counts the units alone. With the supply 'supply" in printed.out
    assert "not known, on top: bare board or frame; case or bag.)" in printed.out
    assert found["carried_g"] == packed["known_g"]
    assert found["carried_unknown"] == packed["unknown"]


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (["--max", "weight=9"], "'9' has no unit of measure; accepted: 9kg or 850g."),
        (["--max", "weight=-1kg"], "'-1kg' is negative"),
        (["--max", "wieght=9kg"], "no property 'wieght' can be limited"),
        (["--max", "weight=9lb"], "'lb' is no measure of weight; accepted: 9kg or 850g."),
        (["--max", "weight="], "no amount is given; accepted: 9kg or 850g."),
        (["--max", "weight"], "a limit is written as PROPERTY=MOST"),
        (["--max", "weight=nan"], "'nan' cannot be read as an amount"),
        (["--max", "weight=9999999999999kg"], "is more than anybody carries"),
        (["--max", "units=2.5"], "'2.5' is no whole number of units; accepted: a whole number, such as 8."),
        (["--max", "units=0"], "a rig of no unit is none; accepted: units=1 or more."),
        (
            ["--max", "weight=200g", "--max", "current=50mA"],
            "no unit keeps all limits at once: the nearest, 'compressor, optical', is over the limit on weight by",
        ),
        (["--max", "units=3", "--max", "units=4"], "units is limited twice"),
        (["--max", "weight=1g"], "no unit keeps the limit on weight: the least, 'looper, small', is over it by"),
        (["--max", "weight=300g", "--must", "multi-effects, large"], "over the limit: weight by 1.68 kg (1.98 kg)"),
        (["--must", "tuner", "--never", "tuner"], "'tuner, stage' must be carried and must never be"),
        (["--name", "hall board"], "rig 'hall board': there is one of that name already"),
        (["--seconds", "0"], "0 s is no time to look"),
        (["--must", "zither"], "no unit is called 'zither'"),
    ],
)
def test_what_cannot_be_chosen_is_one_clear_error(demo: Path, given: list[str], said: str) -> None:
    """It says where, what was found and what is accepted; the library stays as it was."""
    before = demo.read_bytes()

    printed = typed("rig", "choose", *given)

    assert printed.code == 2
    assert said in printed.err
    assert printed.out == ""
    assert demo.read_bytes() == before


@pytest.mark.parametrize("command", ["choose", "curve"])
def test_with_nothing_to_choose_from_or_by_there_is_no_best_rig(empty: Path, command: str) -> None:
    """A rig of nothing is not stored, and nothing is called proved."""
    nothing = typed("rig", command)
    assert typed("unit", "add", "fuzz").code == 0
    unplayed = typed("rig", command)

    assert (nothing.code, nothing.out, unplayed.code, unplayed.out) == (2, "", 2, "")
    assert nothing.err.startswith("Error: the library has no units to choose from.")
    assert unplayed.err.startswith("Error: no scene is played, so no rig is better than another.")


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (["--against", "wieght"], "no property 'wieght' can be limited; accepted: 'weight', 'units', "),
        (["--points", "1"], "1 point is no curve; accepted: 2 to 60."),
        (["--seconds", "-2"], "-2 s is no time to look; accepted: more than 0 s, up to 86,400 s."),
    ],
)
def test_what_cannot_be_drawn_is_one_clear_error(demo: Path, given: list[str], said: str) -> None:
    """Before any work is done for it."""
    printed = typed("rig", "curve", *given)

    assert (printed.code, printed.out) == (2, "")
    assert said in printed.err


def test_a_plot_of_another_kind_is_refused_before_any_work(demo: Path, tmp_path: Path) -> None:
    """Nothing is written."""
    printed = typed("rig", "curve", "--out", str(tmp_path / "curve.gif"))

    assert printed.code == 2
    assert "no plot can be written as .gif; accepted: .png, .svg." in printed.err
    assert not list(tmp_path.glob("curve*"))
