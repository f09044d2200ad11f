"""YAML as players write it: words stay words, lines are known, and tricks are refused."""

import pytest

from scenebook.errors import FormatError
from scenebook.storage.yaml_text import read_document


def refused(text: str) -> str:
    with pytest.raises(FormatError) as caught:
        read_document(text)
    return str(caught.value)


def test_every_plain_scalar_stays_as_it_is_written() -> None:
    """YAML 1.1 would make truth values, base-60 numbers and dates of these."""
    words = ["on", "off", "no", "yes", "12:30", "1/8.", "5.50", "0x1F", "1e3", "007", "2027-05-01", ".inf", "True"]

    said = read_document("".join(f"key {word}: {word}\n" for word in words)).value

    assert said == {f"key {word}": word for word in words}


def test_only_an_empty_value_a_tilde_and_null_say_nothing() -> None:
    """In quotes they are words like all others: a preset may be called null."""
    said = read_document("a:\nb: ~\nc: null\nd: '~'\ne: \"null\"\nf: ''\n").value

    assert said == {"a": None, "b": None, "c": None, "d": "~", "e": "null", "f": ""}


def test_every_value_knows_its_line() -> None:
    """An error can then say where to look."""
    document = read_document("name: x\n# a comment\nscenes:\n  verse:\n    - one\n    - two\n")

    assert [document.line_of(path) for path in [("name",), ("scenes", "verse"), ("scenes", "verse", 1)]] == [1, 4, 6]
    assert document.line_of(("scenes", "not there")) == 3


def test_an_alias_may_save_writing() -> None:
    """Two scenes that are alike are written once."""
    assert read_document("a: &x {b: 1}\nc: *x\n").value == {"a": {"b": "1"}, "c": {"b": "1"}}


def test_a_byte_order_mark_and_windows_line_ends_are_read() -> None:
    """As some editors write them."""
    assert read_document("\ufeffa: 1\r\nb: 2\r\n").value == {"a": "1", "b": "2"}


def bomb() -> str:
    lines = ["a0: &a0 [x, x, x, x, x, x, x, x, x, x]"]
    lines += [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 10)}]" for n in range(1, 9)]
    return "\n".join(lines)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("a: [1, 2\nb: 3\n", "line 2: this is not valid YAML: while parsing a flow sequence"),
        ("a: 1\n\tb: 2\n", "line 2: this is not valid YAML"),
        ("a: 1\na: 2\n", "line 2: the key 'a' is there twice. Keep one of them."),
        ("a:\n  b: 1\n  c: 1\n  b: 2\n", "line 4: the key 'b' is there twice. Keep one of them."),
        ("a: !int 3\n", "line 1: found the tag '!int'. Leave it out; every value is read as text."),
        ("a: !!python/object:os.system x\n", "line 1: found the tag 'tag:yaml.org,2002:python/object:os.system'."),
        ("? [a, b]\n: 1\n", "line 1: a key is not a single word or phrase; accepted: a key such as name:."),
        ("a: &x\n  b: *x\n", "line 2: values are nested too deeply; accepted: 40 levels."),
        ("[" * 5000, "line 1: this is not valid YAML: while increasing flow level, exceeded maximum nesting depth."),
        (bomb(), "the file says too much, aliases written out; accepted: 100000 values."),
        ("a: *nowhere\n", "line 1: this is not valid YAML: found undefined alias"),
        ("- a\n- b\n", "line 1: the file does not begin with a key; accepted: keys with values, such as name: fuzz."),
        ("just words\n", "line 1: the file does not begin with a key"),
        ("a: 1\n---\nb: 2\n", "line 2: this is not valid YAML: expected a single document in the stream"),
        ("a: \x00\n", "line 1: this is not text in YAML: unacceptable character #x0000"),
    ],
)
def test_what_is_not_a_file_of_ours_is_refused_with_its_line(text: str, message: str) -> None:
    """One clear error each, and no trick takes long or much room."""
    assert message in refused(text)
