"""Keys open a stand once; cookies outlast its process; nothing else lets anyone in."""

import os
import stat
from pathlib import Path

import pytest

from scenebook.errors import AccessError, OutputError
from scenebook.web.keys import FileKeyStore, Keys, MemoryKeyStore, Right


@pytest.fixture
def keys() -> Keys:
    return Keys(MemoryKeyStore())


@pytest.mark.parametrize("right", list(Right))
def test_a_key_opens_once_and_a_fresh_one_takes_its_place(keys: Keys, right: Right) -> None:
    """A photograph of the code that somebody took an hour ago opens nothing."""
    first = keys.key(right)

    assert keys.spend(first) is right
    assert keys.key(right) != first
    with pytest.raises(AccessError, match="has been used"):
        keys.spend(first)
    assert keys.spend(keys.key(right)) is right


def test_using_one_key_leaves_the_other_as_it_is(keys: Keys) -> None:
    """The code for the band on the screen stays good while the player opens his own."""
    see = keys.key(Right.SEE)

    keys.spend(keys.key(Right.STEP))

    assert keys.spend(see) is Right.SEE


def test_one_more_key_opens_once_and_leaves_those_that_are_shown(keys: Keys) -> None:
    """The stand opens the player's browser by itself; the code for the tech's phone is good afterwards."""
    shown, more = keys.key(Right.STEP), keys.another(Right.STEP)

    assert keys.spend(more) is Right.STEP
    with pytest.raises(AccessError):
        keys.spend(more)
    assert keys.spend(shown) is Right.STEP


def test_only_the_newest_few_of_such_keys_are_good(keys: Keys) -> None:
    """They do not pile up."""
    made = [keys.another(Right.SEE) for _ in range(9)]

    with pytest.raises(AccessError):
        keys.spend(made[0])
    assert [keys.spend(key) for key in made[1:]] == [Right.SEE] * 8


@pytest.mark.parametrize("wrong", ["", " ", "see", "\udcff", "ä", "x" * 10_000])
def test_a_wrong_key_opens_nothing_and_uses_nothing_up(keys: Keys, wrong: str) -> None:
    """Whatever somebody types, the player's own address is still good."""
    mine = keys.key(Right.STEP)

    with pytest.raises(AccessError):
        keys.spend(wrong)

    assert keys.spend(mine) is Right.STEP


def test_a_part_of_a_key_or_a_longer_one_is_wrong(keys: Keys) -> None:
    """Compared as a whole, never by how it begins."""
    key = keys.key(Right.STEP)

    for near in (key[:-1], key + "x", key.swapcase()):
        with pytest.raises(AccessError):
            keys.spend(near)


@pytest.mark.parametrize("right", list(Right))
def test_a_cookie_allows_what_its_key_allowed(keys: Keys, right: Right) -> None:
    """And no two are alike."""
    first, second = keys.admitted(right), keys.admitted(right)

    assert first != second
    assert keys.right_of(first) is keys.right_of(second) is right


def test_a_cookie_that_was_changed_allows_nothing(keys: Keys) -> None:
    """Who may see cannot make himself one who steps."""
    cookie = keys.admitted(Right.SEE)
    words, _, mac = cookie.rpartition(".")
    forged = [
        None,
        "",
        ".",
        "..",
        mac,
        f"{words}.",
        f".{mac}",
        cookie.replace("see", "step"),
        cookie[:-1],
        cookie + "0",
        cookie.upper(),
        f"step.{mac}",
        f"{words}x.{mac}",
        f"\udcff{cookie}",
        "ü" * 100,
    ]

    assert [keys.right_of(each) for each in forged] == [None] * len(forged)


def test_a_cookie_of_another_stand_allows_nothing(keys: Keys) -> None:
    """The support band's laptop is not ours; and its cookie has another name, so neither throws the other out."""
    other = Keys(MemoryKeyStore())

    assert keys.right_of(other.admitted(Right.STEP)) is None
    assert keys.cookie != other.cookie


def test_cookies_outlast_the_stand_and_its_keys_do_not(tmp_path: Path) -> None:
    """After a crash every screen goes on by itself; an address that was left lying about opens nothing."""
    store = FileKeyStore(tmp_path / "hall.stand" / "keys")
    before = Keys(store)
    cookie, key = before.admitted(Right.STEP), before.key(Right.STEP)

    after = Keys(FileKeyStore(tmp_path / "hall.stand" / "keys"))

    assert (after.right_of(cookie), after.cookie) == (Right.STEP, before.cookie)
    with pytest.raises(AccessError):
        after.spend(key)


@pytest.mark.skipif(os.name != "posix", reason="another system keeps files by other rules")
def test_only_the_player_may_read_the_secret(tmp_path: Path) -> None:
    """From the moment at which the file is there, whatever the system gives to new files."""
    path = tmp_path / "keys"
    was = os.umask(0)
    try:
        Keys(FileKeyStore(path))
    finally:
        os.umask(was)

    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert [each.name for each in tmp_path.iterdir()] == ["keys"]


@pytest.mark.skipif(os.name != "posix", reason="another system keeps files by other rules")
def test_a_secret_that_others_could_read_is_replaced(tmp_path: Path) -> None:
    """A copy of the folder from somewhere else, open to all: what it says may be known."""
    path = tmp_path / "keys"
    before = Keys(FileKeyStore(path))
    path.chmod(0o644)

    after = Keys(FileKeyStore(path))

    assert after.right_of(before.admitted(Right.STEP)) is None
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


@pytest.mark.parametrize("damage", [b"", b"zz", b"00" * 31, b"\xff\xfe", b"00" * 32 + b"\x00"])
def test_a_damaged_secret_is_replaced(tmp_path: Path, damage: bytes) -> None:
    """Screens have to be opened anew; the gig goes on."""
    path = tmp_path / "keys"
    path.write_bytes(damage)
    path.chmod(0o600)

    keys = Keys(FileKeyStore(path))

    assert Keys(FileKeyStore(path)).right_of(keys.admitted(Right.SEE)) is Right.SEE


def test_a_place_that_keeps_no_secret_is_said(tmp_path: Path) -> None:
    """One sentence, and what to do."""
    (tmp_path / "file").write_text("")

    with pytest.raises(OutputError, match="cannot be kept"):
        Keys(FileKeyStore(tmp_path / "file" / "keys"))
