"""The set-up page: what is put where, how every knob stands at home, what each unit takes from its supply."""

from scenebook.model import Rig, Unit
from scenebook.model.rigs import Lead
from scenebook.sheets import GigView, view_of
from scenebook.sheets.set_up import leads_words
from tests.support.cue_lists import DELAY, FUZZ, LOOPER, MULTI, a_gig, a_library, a_rig, compiled

NAMES = ("Lamp room", "Kelp fire", "Chalk line")


def a_view() -> GigView:
    library = a_library(a_gig(NAMES, spares=("Limpet",)))
    return view_of(library, compiled(library), revision=12)


def test_the_set_up_page_says_chain_leads_channels_home_and_supply() -> None:
    """All that the player puts together before the doors open."""
    said = a_view().set_up

    assert (
        said.chain == "in → fuzz, silicon → drive, soft → multi-effects, small → [ delay, tape | dry ] → looper → out"
    )
    assert said.leads == "port front → multi-effects, small"
    tables = {table.title.split(":")[0].split(",")[0]: table.rows for table in said.tables}
    assert tables["Channels"] == ((MULTI, "front", "2", "2"),)
    assert tables["Home"][0] == ("○ fuzz, silicon", "off; gain 2 o'clock", "")
    assert tables["Home"][2] == ("● multi-effects, small", "chorus off", "preset 1A plain")
    assert tables["Supply"][0] == (FUZZ, "9 V DC", "centre negative", "8", "5.5 x 2.1 mm", "", "0.3 kg")
    assert tables["Supply"][1:] == ((MULTI, "unknown", "", "unknown", "", "18 s", ""),)
    assert said.tables[-1].closing == "Not noted: drive, soft, delay, tape, looper"
    assert said.notes == ("Load in through the fish door.", "The looper stands at the right.")


def test_the_set_up_page_has_the_usual_cautions() -> None:
    """Voltage and polarity, mains, lifting, hearing; the plate and the local code decide, not a page."""
    cautions = " ".join(a_view().set_up.cautions)

    for word in ("plate on the unit", "polarity", "licensed", "local code", "two people", "Hearing", "louder"):
        assert word in cautions


def test_what_is_out_or_played_by_another_tonight_is_said() -> None:
    """A unit that stayed at home must not be looked for on the stage."""
    library = a_library(a_gig(NAMES).model_copy(update={"out": ("drive, soft",), "played_by": {DELAY: "echo"}}))

    said = view_of(library, compiled(library), revision=1).set_up

    assert said.changes == ("Out tonight: drive, soft", "delay, tape is played by echo")
    assert "(drive, soft: out)" in said.chain
    assert "[ echo | dry ]" in said.chain


def test_midi_leads_that_nobody_noted_are_named_and_marked() -> None:
    """Each that the packing list counts; what is out tonight has none, and its neighbours are joined."""
    heard = {name: {"port": "front", "channel": at} for at, name in enumerate((FUZZ, MULTI, DELAY), 1)}
    rig = Rig.model_validate({"chain": [FUZZ, MULTI, DELAY], "units": heard})

    assert leads_words(rig, a_gig(NAMES)) == (
        "not noted, taken for granted: port front → fuzz, silicon; thru of fuzz, silicon → multi-effects, small; "
        "thru of multi-effects, small → delay, tape"
    )
    noted = rig.model_copy(update={"leads": (Lead(port="front", to=FUZZ), Lead(thru=FUZZ, to=MULTI))})
    assert leads_words(noted, a_gig(NAMES)) == (
        "port front → fuzz, silicon; thru of fuzz, silicon → multi-effects, small; "
        "not noted, taken for granted: port front → delay, tape"
    )
    tonight = a_gig(NAMES).model_copy(update={"out": (FUZZ, MULTI), "played_by": {MULTI: "echo"}})
    assert leads_words(rig, tonight) == ("not noted, taken for granted: port front → echo; thru of echo → delay, tape")


def test_loops_and_sends_say_what_is_in_them() -> None:
    """Which lead goes where at the back of the switcher."""
    rig = a_rig().model_copy(update={"loops": {LOOPER: {"loop 1": (FUZZ, DELAY)}}, "sends": {MULTI: {"loop": ()}}})
    library = a_library(a_gig(NAMES)).model_copy(update={"rigs": {"board": rig}})

    table = view_of(library, compiled(library), revision=1).set_up.tables[0]

    assert table.rows == (
        ("looper, loop 1", "fuzz, silicon, then delay, tape"),
        (f"{MULTI}, loop (send and return)", "nothing"),
    )


def test_a_supply_that_is_not_known_is_unknown_and_none_is_none() -> None:
    """An empty cell beside mA is added up as nothing, and the supply is too small."""
    library = a_library(a_gig(NAMES))
    known = {"main": library.units[FUZZ].switches["main"]}
    units = {
        **library.units,
        FUZZ: Unit(switches=known, supply={"volts": "9"}),
        DELAY: Unit(switches=known, supply={"volts": "12", "current": "AC", "ma": 0}, boot_s=0),
    }

    tables = view_of(library.model_copy(update={"units": units}), compiled(library), revision=1).set_up.tables

    rows = {row[0]: row[1:] for row in tables[-1].rows}
    assert rows[FUZZ] == ("9 V DC", "unknown", "unknown", "", "", "")
    assert rows[DELAY] == ("12 V AC", "", "0", "", "0 s", "")
    assert tables[-1].closing == "Not noted: drive, soft, looper"


def test_where_nothing_is_noted_of_any_unit_there_is_only_the_line() -> None:
    """A table of empty rows says nothing."""
    library = a_library(a_gig(NAMES))
    bare = {
        name: unit.model_copy(update={"supply": None, "boot_s": None, "weight_g": None})
        for name, unit in library.units.items()
    }

    supply = view_of(library.model_copy(update={"units": bare}), compiled(library), revision=1).set_up.tables[-1]

    assert (supply.columns, supply.rows) == ((), ())
    assert supply.closing.startswith("Not noted: fuzz, silicon, ")
