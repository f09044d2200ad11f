"""A folder of small text files: read as it is meant, or refused with file, line and what is accepted."""

from pathlib import Path

import pytest

from scenebook.errors import ScenebookError
from scenebook.model import Control, FormEntry, Placement, Scene, Settings, Switch
from scenebook.resources import demo_library_folder
from scenebook.storage import Store, import_folder, open_library, read_folder
from tests.storage.filling import text


def folder(path: Path, files: dict[str, str | bytes]) -> Path:
    """Write a folder of files, and give it."""
    path.mkdir(exist_ok=True)
    for place, content in files.items():
        (path / place).parent.mkdir(exist_ok=True)
        (path / place).write_bytes(content.encode() if isinstance(content, str) else content)
    return path


def faults(path: Path) -> list[str]:
    """Return the first fault of a folder and the notes that are the others."""
    with pytest.raises(ScenebookError) as caught:
        read_folder(path)
    return [str(caught.value), *getattr(caught.value, "__notes__", [])]


def one_fault(tmp_path: Path, place: str, content: str | bytes) -> str:
    (fault,) = faults(folder(tmp_path / "folder", {place: content}))
    return fault


def test_a_folder_says_a_library(tmp_path: Path) -> None:
    """Each file belongs to what it names, and short forms are written out."""
    library, texts = read_folder(
        folder(
            tmp_path / "mine",
            {
                "library.yaml": "tuning: 442\n",
                "units/anything.yaml": "name: fuzz, silicon\ncontrols:\n  gain: clock\n  level: {scale: dB}\n",
                "rigs/hall.yaml": "name: hall\nchain: ['fuzz, silicon']\nhome:\n  fuzz, silicon: on\n",
                "songs/a.yaml": "name: Ä\nscenes:\n  verse:\n    units: {'fuzz, silicon': leave}\nform: [verse]\n",
                "gigs/g.yaml": "name: 1 May\nsets:\n  - {name: one, songs: [Ä]}\n",
                "README.md": "not ours",
                "units/.hidden.yaml": "[",
            },
        )
    )

    assert library.settings == Settings(tuning=442)
    assert library.units["fuzz, silicon"].controls == {"gain": Control(scale="clock"), "level": Control(scale="dB")}
    assert library.rigs["hall"].home == {"fuzz, silicon": {"main": "on"}}
    assert library.songs["Ä"].scenes == {"verse": Scene(units={"fuzz, silicon": {"leave": "unit"}})}
    assert library.songs["Ä"].form == (FormEntry(scene="verse"),)
    assert library.gigs["1 May"].sets[0].songs[0].song == "Ä"
    assert texts.files["unit"]["fuzz, silicon"].file == "anything.yaml"
    assert texts.settings == "tuning: 442\n"


def test_a_name_with_nothing_after_it_is_still_there(tmp_path: Path) -> None:
    """A scene in which all is at home, a switch of which nothing is known yet; a known key with nothing is absent."""
    library, _ = read_folder(
        folder(
            tmp_path / "mine",
            {
                "units/a.yaml": "name: a\nswitches:\n  main:\nnotes:\nprice: ~\n",
                "rigs/r.yaml": "name: r\nunits:\n  a:\n",
                "songs/s.yaml": "name: s\ntempo:\nscenes:\n  home:\n  other:\n    units:\n      a:\n",
            },
        )
    )

    assert library.units["a"].switches == {"main": Switch()}
    assert library.rigs["r"].units == {"a": Placement()}
    assert library.songs["s"].scenes == {"home": Scene(), "other": Scene(units={"a": {}})}


@pytest.mark.parametrize(
    ("place", "content", "message"),
    [
        (
            "units/a.yaml",
            "name: a\nswiches: {}\n",
            "line 2: the key 'swiches' is not known here. Did you mean 'switches'?",
        ),
        (
            "units/a.yaml",
            "name: a\nsize: {x: 1, width: 2, depth: 3}\n",
            "line 2: the key 'x' is not known here; accepted: width, depth, height.",
        ),
        ("units/a.yaml", "name: a\nname: b\n", "line 2: the key 'name' is there twice. Keep one of them."),
        ("units/a.yaml", "name: a\nroles: fuzz\n", "line 2: found 'fuzz' for 'roles'; accepted: a list."),
        (
            "units/a.yaml",
            "name: a\nroles: [fuz]\n",
            "line 2: found 'fuz' for 'roles'; accepted: octave, dynamics, drive, fuzz",
        ),
        (
            "units/a.yaml",
            "name: a\nweight_g: heavy\n",
            "line 2: found 'heavy' for 'weight_g'; accepted: a number above 0, at most 100000.",
        ),
        ("units/a.yaml", "name: a\nprice: .inf\n", "line 2: found '.inf' for 'price'; accepted: a number from 0 up."),
        ("units/a.yaml", "name: a\nprice: inf\n", "line 2: found 'inf' for 'price'; accepted: a number from 0 up."),
        (
            "units/a.yaml",
            "name: a\nprograms:\n  count: 0\n",
            "line 3: found '0' for 'count'; accepted: a whole number from 1 to 2097152.",
        ),
        ("units/a.yaml", "name: a\nowned: perhaps\n", "line 2: found 'perhaps' for 'owned'; accepted: true or false."),
        (
            "units/a.yaml",
            "name: a\nnotes: [x]\n",
            "line 2: found a list for 'notes'; accepted: text of at most 4000 characters.",
        ),
        (
            "units/a.yaml",
            f"name: a\nswitches:\n  main: {{contact: {'x' * 300}}}\n",
            "for 'contact'; accepted: text of at most 200 characters on one line.",
        ),
        (
            "units/a.yaml",
            "name: a\ncontrols:\n  gain: clok\n",
            "line 3: found 'clok' for 'scale'; accepted: clock, 0 to 10, percent, dB",
        ),
        (
            "units/a.yaml",
            "name: a\nswitches:\n  x: {message: {controller: 128}}\n",
            "line 3: found '128' for 'controller'; accepted: a whole number from 0 to 127.",
        ),
        (
            "units/a.yaml",
            "name: a\nswitches: [main]\n",
            "line 2: found a list for 'switches'; accepted: keys with values.",
        ),
        ("units/a.yaml", "name: a\npresets: [{name: x}]\n", "line 2: 'slot' is missing. Write slot: and its value."),
        (
            "units/a.yaml",
            "name: a\nprograms: {count: 1}\npresets:\n- {slot: 1, stores: {main: }}\n",
            "line 4: found nothing for 'main'; accepted: text of at most 200 characters on one line.",
        ),
        ("units/a.yaml", "switches: {}\n", "line 1: name is missing. Write name: and what the unit is called."),
        ("units/a.yaml", "", "line 1: name is missing. Write name: and what the unit is called."),
        ("units/a.yaml", "name: [a]\n", "line 1: found ['a'] for 'name'; accepted: 1 to 80 characters on one line."),
        ("units/a.yaml", b"name: a\nnotes: \xff\n", "line 2: this is not text in UTF-8. Save it as UTF-8."),
        ("units/a.yaml", b"name: \x00\n", "line 1: this is not text in YAML: unacceptable character #x0000"),
        ("units/a.yml", "name: a\n", "files end in .yaml here. Rename it."),
        (
            "rigs/r.yaml",
            "name: r\nchain: [a, {paralel: []}]\n",
            "line 2: the key 'paralel' is not known here. Did you mean 'parallel'?",
        ),
        (
            "rigs/r.yaml",
            "name: r\nchain: [[a]]\n",
            "line 2: found a list for 'chain'; accepted: text of at most 80 characters on one line, or keys",
        ),
        ("rigs/r.yaml", "name: r\nunits:\n  a: {port: x}\n", "line 3: port and channel go together."),
        (
            "rigs/r.yaml",
            "name: r\nunits:\n  a: {port: x, channel: 17}\n",
            "line 3: found '17' for 'channel'; accepted: a whole number from 1 to 16.",
        ),
        (
            "rigs/r.yaml",
            "name: r\nunits:\n  a: {port: x, channel: 1, hears: all}\n",
            "line 3: found 'all' for 'hears'; accepted: omni, or a list.",
        ),
        (
            "songs/s.yaml",
            "name: s\ntempo: fast\n",
            "line 2: found 'fast' for 'tempo'; accepted: a number from 20 to 400.",
        ),
        ("songs/s.yaml", "name: s\nmetre: 4/3\n", "line 2: a metre is written as 4/4, 6/8, 7/8 or the like."),
        (
            "songs/s.yaml",
            "name: s\nscenes:\n  a:\n    units:\n      fuzz: [1]\n",
            "line 5: found a list for 'fuzz'; accepted: keys with values.",
        ),
        (
            "songs/s.yaml",
            "name: s\nform:\n  - {scene: a}\n  - {bars: 8}\n",
            "line 4: 'scene' is missing. Write scene: and its value.",
        ),
        (
            "gigs/g.yaml",
            "name: g\ndate: 31.12.2026\n",
            "line 2: found '31.12.2026' for 'date'; accepted: a day such as 2026-05-01.",
        ),
        (
            "gigs/g.yaml",
            "name: g\nsets:\n- name: x\n  songs:\n  - {song: a, segue: yes, gap: 3}\n",
            "line 5: a segue has no gap.",
        ),
        ("library.yaml", "tuning: 500\n", "line 1: found '500' for 'tuning'; accepted: a number from 390 to 470."),
        ("library.yaml", "tunig: 440\n", "line 1: the key 'tunig' is not known here. Did you mean 'tuning'?"),
    ],
)
def test_a_fault_names_file_line_what_was_found_and_what_is_accepted(
    tmp_path: Path, place: str, content: str | bytes, message: str
) -> None:
    """One clear error, in a player's words."""
    fault = one_fault(tmp_path, place, content)

    assert fault.startswith(place)
    assert message in fault


def test_a_huge_file_is_refused_without_being_read(tmp_path: Path) -> None:
    """Somebody's recording, dropped into the wrong folder; it is not even there, only its size is."""
    mine = folder(tmp_path / "mine", {"units/a.yaml": ""})
    with (mine / "units/a.yaml").open("wb") as file:
        file.truncate(50_000_000)

    assert faults(mine) == ["units/a.yaml: the file is too large: 50.0 MB; accepted: at most 1 MB."]


def test_all_faults_of_all_files_are_gathered(tmp_path: Path) -> None:
    """A player mends everything in one go; the first fault is the message and says how many more there are."""
    mine = folder(
        tmp_path / "mine",
        {
            "songs/s.yaml": "name: s\ntempo: 1\nmetre: x\n",
            "units/a.yaml": "name: a\nx: 1\n",
            "units/b.yaml": "[",
        },
    )

    first, *others = faults(mine)

    assert first.startswith("units/a.yaml, line 2: the key 'x' is not known here")
    assert first.endswith("And 3 more faults.")
    assert [other.split(":")[0] for other in others] == [
        "units/b.yaml, line 2",
        "songs/s.yaml, line 2",
        "songs/s.yaml, line 3",
    ]


def test_two_files_of_one_name_are_refused(tmp_path: Path) -> None:
    """Capitals do not count."""
    mine = folder(tmp_path / "mine", {"units/a.yaml": "name: fuzz\n", "units/b.yaml": "name: Fuzz\n"})

    assert faults(mine) == ["units/b.yaml: a.yaml is called 'Fuzz' too. Give each its own name; capitals do not count."]


def test_a_folder_that_is_no_library_is_refused(tmp_path: Path) -> None:
    """A folder of photographs would otherwise be an empty library."""
    mine = folder(tmp_path / "mine", {"photo.jpg": b"\xff\xd8"})

    assert faults(mine) == [
        f"{mine}: this folder is not a library; "
        "accepted: a folder with units/, rigs/, songs/, gigs/ or library.yaml in it."
    ]
    assert faults(tmp_path / "no") == [f"{tmp_path / 'no'}: there is no folder here."]


def test_a_folder_is_imported_and_says_how_many_of_each(store: Store, tmp_path: Path) -> None:
    """What has the same name is replaced, the rest stays."""
    mine = folder(
        tmp_path / "mine", {"units/f.yaml": "name: new\n", "songs/h.yaml": "name: House\nscenes: {clean: , big: }\n"}
    )

    imported = import_folder(store, mine)

    assert imported.new == {"unit": 1, "rig": 0, "song": 0, "gig": 0}
    assert imported.replaced == {"unit": 0, "rig": 0, "song": 1, "gig": 0}
    assert imported.unchanged == {"unit": 0, "rig": 0, "song": 0, "gig": 0}
    assert list(store.song("House").scenes) == ["clean", "big"]
    assert store.history(1)[0].what == "import mine"


def test_importing_again_changes_nothing(store: Store, tmp_path: Path) -> None:
    """Nothing is written, so the revision stays; a comment more is a change, for it comes back with the next export."""
    mine = folder(tmp_path / "mine", {"units/f.yaml": "name: new\n", "library.yaml": "tuning: 441\n"})
    import_folder(store, mine)
    revision = store.revision

    again = import_folder(store, mine)

    assert (again.new["unit"], again.replaced["unit"], again.unchanged["unit"]) == (0, 0, 1)
    assert store.revision == revision
    folder(mine, {"units/f.yaml": "name: new  # and good\n"})
    assert import_folder(store, mine).replaced["unit"] == 1


def test_what_does_not_fit_the_library_is_named_by_file_and_line(store: Store, library: object, tmp_path: Path) -> None:
    """A song that names a unit which is neither in the folder nor in the library; nothing at all is imported."""
    before = text(store.library())
    mine = folder(
        tmp_path / "mine",
        {
            "units/good.yaml": "name: good\n",
            "songs/h.yaml": "name: New\nscenes:\n  a:\n    units:\n      fuzz: on\n      good: on\n      godd: on\n",
            "gigs/g.yaml": "name: G\nplace: hall\nsets:\n  - name: one\n    songs:\n      - New\n      - Nex\n",
        },
    )

    with pytest.raises(ScenebookError) as caught:
        import_folder(store, mine)

    assert str(caught.value) == (
        "songs/h.yaml, line 7: no unit is called 'godd'. Did you mean 'good'? And 1 more fault."
    )
    assert caught.value.__notes__ == ["gigs/g.yaml, line 7: no song is called 'Nex'. Did you mean 'New'?"]
    assert (text(store.library()), store.revision) == (before, 1)


def test_one_bad_file_changes_nothing(store: Store, tmp_path: Path) -> None:
    """The good ones wait until all are good."""
    mine = folder(tmp_path / "mine", {"units/a.yaml": "name: a\n", "units/b.yaml": "name: b\nx: 1\n"})

    with pytest.raises(ScenebookError, match=r"units/b\.yaml, line 2"):
        import_folder(store, mine)

    assert "a" not in store.names("unit")


def test_a_replaced_unit_must_still_fit_the_songs(store: Store, tmp_path: Path) -> None:
    """The fault is in what uses it, so that is named."""
    mine = folder(tmp_path / "mine", {"units/f.yaml": "name: fuzz\n"})

    with pytest.raises(ScenebookError, match="rig 'hall', send of unit 'fuzz', 'fat': 'fuzz' has no switch 'fat'"):
        import_folder(store, mine)


def test_the_demo_library_is_imported(path: Path) -> None:
    """What the demo shows is read like any player's folder."""
    library, _ = read_folder(demo_library_folder())

    with open_library(path) as store:
        import_folder(store, demo_library_folder())

        assert text(store.library()) == text(library)
