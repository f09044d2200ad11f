"""What a store gives, and how it changes: once, wholly, checked, and with what stood there before kept."""

import json
import re

import pytest
from sqlalchemy import event

from scenebook.errors import BadValueError, LibraryError, ScenebookError, UnknownNameError
from scenebook.model import Gig, GigSet, Library, Rig, Scene, SetEntry, Settings, Song, StandIn, Unit
from scenebook.storage import KINDS, Change, Kind, Store
from scenebook.storage.mapping import Aggregate, whole_json
from tests.storage.filling import fill, text


def refused(store: Store, kind: Kind, name: str, aggregate: Aggregate | None) -> ScenebookError:
    """Return the error of putting an aggregate (or deleting it); nothing may have changed."""
    before, revision = text(store.library()), store.revision
    with pytest.raises(ScenebookError) as caught:
        attempt(store, kind, name, aggregate)
    assert (text(store.library()), store.revision) == (before, revision)
    return caught.value


def attempt(store: Store, kind: Kind, name: str, aggregate: Aggregate | None) -> None:
    with store.change("try") as change:
        change.put_unit("put before the fault", Unit())
        if aggregate is None:
            change.delete(kind, name)
        else:
            change.put(kind, name, aggregate)


def test_names_come_in_alphabetical_order(store: Store) -> None:
    """As a player looks for them, capitals or not."""
    assert [store.names(kind) for kind in KINDS] == [
        ("fuzz", "Mehrfach, groß", "spare fuzz", "supply"),
        ("hall",),
        ("Harbour", "House"),
        ("Pier, 1 May",),
    ]


def test_things_are_found_without_regard_to_case_and_by_unique_beginning(store: Store, library: Library) -> None:
    """At soundcheck nobody types whole names."""
    assert store.find("song", "harb") == "Harbour"
    assert store.song("HARBOUR") == library.songs["Harbour"]
    assert store.gig("pier") == library.gigs["Pier, 1 May"]


def test_a_name_that_is_not_there_suggests_the_nearest(store: Store) -> None:
    """A slip costs one more try, not a search."""
    with pytest.raises(UnknownNameError, match=re.escape("no song is called 'Habrour'. Did you mean 'Harbour'?")):
        store.song("Habrour")


def test_each_thing_comes_as_it_was_put(store: Store, library: Library) -> None:
    """One at a time, or all of a kind."""
    assert store.settings() == library.settings
    assert store.unit("fuzz") == library.units["fuzz"]
    assert store.rig("hall") == library.rigs["hall"]
    assert store.all("unit") == library.units


def test_a_gig_brings_all_that_it_needs_and_nothing_else(store: Store, library: Library) -> None:
    """Its rig, songs, house sounds, the units of all of them, those that stand in or are played by another."""
    with store.change("more") as change:
        change.put_unit("at home", Unit())
        change.put_song("not tonight", Song(scenes={"a": Scene(units={"at home": {"main": "on"}})}))
        change.put_rig("other", Rig(chain=("at home",)))

    assert text(store.gig_slice("Pier, 1 May")) == text(library)


def test_a_gig_can_be_read_with_another_rig(store: Store) -> None:
    """To see how the same evening goes on the small board."""
    with store.change("more") as change:
        change.put_unit("wall", Unit())
        change.put_rig("other", Rig(chain=("wall",)))

    whole = store.gig_slice("pier", "OTHER")

    assert list(whole.rigs) == ["other"]
    assert sorted(whole.units) == ["Mehrfach, groß", "fuzz", "spare fuzz", "wall"]


def test_a_unit_that_is_only_triggered_belongs_to_the_gig(store: Store, library: Library) -> None:
    """A scene may fire something of a unit of which it says nothing else."""
    with store.change("trigger") as change:
        change.put_song("hit", Song(scenes={"a": Scene(triggers=("Mehrfach, groß.hit",))}))
        change.put_gig("small", Gig(sets=(GigSet(name="one", songs=(SetEntry(song="hit"),)),)))

    whole = store.gig_slice("small")

    assert list(whole.units) == ["Mehrfach, groß"]
    assert store.songs_using("Mehrfach, groß") == [("Harbour", "12:30"), ("hit", "a")]


def queries_of(store: Store, gig: str) -> int:
    count = 0

    def counted(*_: object) -> None:
        nonlocal count
        count += 1

    own = store._connection.connection.dbapi_connection
    assert own is not None
    own.set_trace_callback(counted)
    store.gig_slice(gig)
    own.set_trace_callback(None)
    return count


def test_a_gig_is_read_in_a_fixed_number_of_queries(store: Store, library: Library) -> None:
    """Forty songs cost as many questions as one."""
    songs = {f"song {number}": library.songs["Harbour"] for number in range(40)}
    with store.change("more") as change:
        for name, song in songs.items():
            change.put_song(name, song)
        change.put_gig(
            "long", Gig(rig="hall", sets=(GigSet(name="one", songs=tuple(SetEntry(song=n) for n in songs)),))
        )
        change.put_gig("short", Gig(rig="hall", sets=(GigSet(name="one", songs=(SetEntry(song="song 1"),)),)))

    assert queries_of(store, "long") == queries_of(store, "short") <= 14


def test_uses_are_known(store: Store) -> None:
    """Before a unit is sold, a player wants to know which songs need it."""
    assert store.songs_using("fuzz") == [("Harbour", "verse"), ("Harbour", "12:30")]
    assert store.rigs_using("spare fuzz") == ["hall"]
    assert store.gigs_using("harbour") == ["Pier, 1 May"]


@pytest.mark.parametrize(
    ("kind", "name", "message"),
    [
        ("unit", "fuzz", "unit 'fuzz' is used by rig 'hall', song 'Harbour', gig 'Pier, 1 May'. Take it out of these"),
        ("song", "house", "song 'House' is used by gig 'Pier, 1 May'. Take it out of these first."),
        ("rig", "hall", "rig 'hall' is used by gig 'Pier, 1 May'. Take it out of these first."),
    ],
)
def test_what_is_used_cannot_be_deleted(store: Store, kind: Kind, name: str, message: str) -> None:
    """The error says by what."""
    error = refused(store, kind, name, None)

    assert isinstance(error, BadValueError)
    assert str(error).startswith(message)


def test_a_beginning_is_not_enough_to_delete(store: Store) -> None:
    """It is enough to look at a thing; what goes is named in full, in capitals or not."""
    error = refused(store, "song", "hous", None)

    assert str(error) == "no song is called 'hous'. Did you mean 'House'?"


def test_what_is_free_can_be_deleted_and_history_keeps_it(store: Store, library: Library) -> None:
    """A thing and its last user may go in one change."""
    with store.change("clear out") as change:
        change.delete("song", "house")
        change.delete("gig", "Pier, 1 May")

    assert (store.names("song"), store.names("gig")) == (("Harbour",), ())
    kept = {before.name: before.text for before in store.history(2)}
    assert kept == {
        "House": whole_json("song", library.songs["House"]),
        "Pier, 1 May": whole_json("gig", library.gigs["Pier, 1 May"]),
    }


@pytest.mark.parametrize(
    ("kind", "name", "aggregate", "message"),
    [
        (
            "song",
            "new",
            Song(scenes={"a": Scene(units={"fuz": {}})}),
            "song 'new', scene 'a', unit 'fuz': no unit is called",
        ),
        ("song", "new", Song(form=("a",)), "song 'new', form number 1"),
        ("rig", "new", Rig(chain=("fuz",)), "rig 'new', chain: no unit is called 'fuz'. Did you mean 'fuzz'?"),
        (
            "rig",
            "new",
            Rig(stand_ins=(StandIn(part="x", by="fuzz", switch="fat"),)),
            "rig 'new', stand-in number 1, 'part'",
        ),
        ("gig", "new", Gig(rig="hal"), "gig 'new', rig: no rig is called 'hal'. Did you mean 'hall'?"),
        ("gig", "new", Gig(out=("fuz",)), "gig 'new', out: no unit is called 'fuz'. Did you mean 'fuzz'?"),
        ("gig", "new", Gig(played_by={"fuzz": "x"}), "gig 'new', player of unit 'fuzz': no unit is called 'x'"),
        ("unit", "new", Unit(switches={"leave": {}}), "unit 'new', switch 'leave': 'leave' cannot be a member's name"),
        ("unit", "FUZZ", Unit(), "unit 'FUZZ' differs from 'fuzz' only in capitals. Write 'fuzz', or another name."),
        (
            "unit",
            "two\nlines",
            Unit(),
            r"'two\nlines' cannot be the name of a unit; accepted: 1 to 80 characters on one",
        ),
    ],
)
def test_what_does_not_fit_is_refused_with_its_place(
    store: Store, kind: Kind, name: str, aggregate: Aggregate, message: str
) -> None:
    """And what was put before it in the same change is not kept either."""
    assert str(refused(store, kind, name, aggregate)).startswith(message)


def test_a_unit_keeps_what_songs_need_of_it(store: Store) -> None:
    """Taking a switch off a unit must not leave a song that nobody can play."""
    error = refused(store, "unit", "fuzz", Unit())

    assert str(error).startswith("rig 'hall', send of unit 'fuzz', 'fat': 'fuzz' has no switch 'fat'")


def test_a_song_keeps_the_scenes_that_a_gig_plays(store: Store) -> None:
    """A gig may have a form of its own."""
    error = refused(store, "song", "Harbour", Song(scenes={"other": Scene()}))

    assert str(error).startswith("gig 'Pier, 1 May', set number 1, song number 1, form number 1")


def test_things_that_need_each_other_may_be_put_in_any_order(store: Store) -> None:
    """A change is judged by its end."""
    with store.change("any order") as change:
        change.put_gig("small", Gig(sets=(GigSet(name="one", songs=(SetEntry(song="new"),)),)))
        change.put_song("new", Song(scenes={"a": Scene(units={"echo": {"main": "on"}})}))
        change.put_unit("echo", Unit())

    assert list(store.gig_slice("small").units) == ["echo"]


def test_a_change_that_fails_is_rolled_back(store: Store, library: Library) -> None:
    """Whatever goes wrong inside, the library is as before, and the store can be used on."""
    with pytest.raises(ZeroDivisionError):
        fail_inside(store)

    assert (text(store.library()), store.revision) == (text(library), 1)


def fail_inside(store: Store) -> None:
    with store.change("fail") as change:
        change.put_unit("new", Unit())
        change.write()
        raise ZeroDivisionError


def test_the_revision_counts_changes(store: Store) -> None:
    """A printed sheet can be told from a newer one."""
    with store.change("one") as change:
        change.put_unit("a", Unit())
        change.put_unit("b", Unit())

    assert store.revision == 2


def test_a_change_that_changes_nothing_is_none(store: Store, library: Library) -> None:
    """Importing the same folder twice leaves revision and history as they are."""
    fill(store, library, "again")

    assert (store.revision, store.history(1)[0].what) == (1, "fill")


def test_the_order_of_scenes_is_a_change(store: Store, library: Library) -> None:
    """Two mappings are equal whatever their order; to a player the order means something."""
    song = library.songs["Harbour"]
    turned = song.model_copy(update={"scenes": dict(reversed(song.scenes.items()))})

    with store.change("turn") as change:
        change.put_song("Harbour", turned)

    assert list(store.song("Harbour").scenes) == ["12:30", "verse"]


def test_history_keeps_what_stood_there_before(store: Store, library: Library) -> None:
    """Nothing that a player entered is ever lost: not by a command, and not by an import over it."""
    with store.change("scene set Harbour verse") as change:
        change.put_song("Harbour", Song(scenes={"verse": Scene(), "12:30": Scene()}))
        change.put_settings(Settings())
        change.put_unit("new", Unit())

    first, second, third = store.history(3)

    assert [(first.kind, first.name), (second.kind, second.name), (third.kind, third.name)] == [
        ("unit", "new"),
        ("song", "Harbour"),
        ("settings", "settings"),
    ]
    assert first.text is None
    assert Song.model_validate_json(second.text or "") == library.songs["Harbour"]
    assert json.loads(third.text or "")["tuning"] == 442.5
    assert {(before.revision, before.what) for before in (first, second, third)} == {(2, "scene set Harbour verse")}
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\+00:00", first.at)


def test_history_can_be_asked_of_one_kind(store: Store) -> None:
    """Songs only."""
    assert [before.name for before in store.history(None, kind="song")] == ["Harbour", "House"]


def test_reading_inside_a_change_sees_the_library_that_it_will_change(store: Store) -> None:
    """A command reads, decides and writes as one step."""
    with store.change("read") as change:
        assert isinstance(change, Change)
        unit = store.unit("fuzz")
        change.put_unit("fuzz", unit.model_copy(update={"notes": "new valve"}))

    assert store.unit("fuzz").notes == "new valve"


def test_foreign_errors_do_not_leave_the_room(store: Store) -> None:
    """A table that is gone is SQLite's complaint, told as ours."""
    store._connection.exec_driver_sql("DROP TABLE history")
    store._connection.commit()

    with pytest.raises(LibraryError, match="the library cannot be used: no such table: history"):
        store.history()


def test_no_query_lacks_its_index(store: Store) -> None:
    """What a gig needs is found by index, so the cost does not grow with the library."""
    statements: list[tuple[str, object]] = []
    event.listen(store._connection.engine, "before_cursor_execute", lambda *args: statements.append((args[2], args[3])))
    store.songs_using("fuzz")
    store.gigs_using("Harbour")

    plans = [
        row[3]
        for sql, values in statements
        if sql.startswith("SELECT")
        for row in store._connection.connection.cursor().execute(f"EXPLAIN QUERY PLAN {sql}", values).fetchall()  # type: ignore[arg-type]
    ]
    assert [plan for plan in plans if plan.startswith("SCAN")] == []
