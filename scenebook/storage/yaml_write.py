"""Write the text of a file: anew, or by editing the text that a person wrote, so that comments and order stay.

ruamel.yaml does the round trip. It sets some things in its own way (spaces, the indent of lists), so its text before
and after the edit are compared, and only the lines that the edit itself changed are taken over.
"""

from difflib import SequenceMatcher
from io import StringIO
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.comments import CommentedMap, CommentedSeq
from ruamel.yaml.resolver import VersionedResolver
from ruamel.yaml.scalarstring import DoubleQuotedScalarString, LiteralScalarString, SingleQuotedScalarString

from scenebook.storage.yaml_text import NOTHING

__all__ = ["edited_texts", "new_text"]

_LINE = 100  # a mapping or list that fits on a line of this length is written on one
_AT_ONCE = ("size", "supply", "instrument")  # top-level keys that belong on one line
_ONE_BELOW_ANOTHER = ("units",)  # what a scene says of each unit
_DASHES = (2, 0)  # how far lists are indented under their key, as people write them
_MISSING = object()


def new_text(said: dict[str, Any], *, quoted: bool = False) -> str:
    """Return a fresh text; `quoted` quotes every value, for the rare text that no plain writing brings back."""
    return _dumped(_fresh(said, 0, quoted), _DASHES[0]) if said else "# nothing but what comes with it\n"


def edited_texts(source: str, old: dict[str, Any], new: dict[str, Any]) -> list[str]:
    """Return `source`, which says `old`, changed so as to say `new`: the closest to the source first.

    Whoever asks takes the first that reads back as wanted; there may be none.
    """
    mark, line_end = "\ufeff" if source.startswith("\ufeff") else "", "\r\n" if "\r\n" in source else "\n"
    clean = source.removeprefix("\ufeff").replace("\r\n", "\n").rstrip("\n") + "\n"
    as_written = {dash: _dumped(_loaded(clean), dash) for dash in _DASHES}
    dash = max(_DASHES, key=lambda dash: _alike(clean, as_written[dash]))
    document = _loaded(clean)
    if document is None:  # nothing but comments
        return [mark + (clean + new_text(new)).replace("\n", line_end)]
    _edit_map(document, old, new, 0)
    edited = _dumped(document, dash)
    merged = _merged(as_written[dash], clean, edited)
    comments = "".join(line.lstrip() for line in clean.splitlines(keepends=True) if line.lstrip().startswith("#"))
    texts = (merged, edited, comments + new_text(new))  # the last at least keeps the comments, on top
    return [mark + text.replace("\n", line_end) for text in texts if text is not None]


class _AllText(VersionedResolver):
    """Takes every plain scalar for text, as the reader does."""

    @property
    def versioned_resolver(self) -> Any:
        return {}


def _yaml(dash: int) -> YAML:
    yaml = YAML(typ="rt")
    yaml.Resolver = _AllText
    yaml.preserve_quotes = True
    yaml.width = 1_000_000
    yaml.indent(mapping=2, sequence=dash + 2, offset=dash)
    return yaml


def _loaded(text: str) -> Any:
    return _yaml(0).load(text)


def _dumped(document: Any, dash: int) -> str:
    out = StringIO()
    _yaml(dash).dump(document, out)
    return out.getvalue()


def _edit_map(node: CommentedMap, old: dict[str, Any], new: dict[str, Any], depth: int) -> None:
    for key in [key for key in node if key in old and key not in new]:
        _delete(node, key)
    before: list[str] = []
    for key, value in new.items():
        if key in node:
            _edit(node, key, old.get(key, _MISSING), value, depth + 1)
        else:
            places = [place for place, there in enumerate(node) if there in before]
            node.insert(places[-1] + 1 if places else 0, key, _fresh(value, depth + 1))
        before.append(key)
    if [key for key in node if key in new] != list(new):
        for key in new:
            node.move_to_end(key)


def _edit(holder: Any, key: Any, old: Any, new: Any, depth: int) -> None:
    node = holder[key]
    if _same(old, new):
        return
    if isinstance(node, CommentedMap) and isinstance(new, dict):
        _edit_map(node, old if isinstance(old, dict) else dict(node), new, depth)
    elif isinstance(node, CommentedSeq) and isinstance(new, list) and isinstance(old, list) and len(node) == len(old):
        _edit_list(node, old, new, depth)
    else:
        holder[key] = _fresh(new, depth)


def _edit_list(node: CommentedSeq, old: list[Any], new: list[Any], depth: int) -> None:
    """Keep the items that stay, edit those that stand in the place of another, insert and delete the rest."""
    steps = SequenceMatcher(None, [repr(item) for item in old], [repr(item) for item in new], autojunk=False)
    for _, i1, i2, j1, j2 in reversed([step for step in steps.get_opcodes() if step[0] != "equal"]):
        both = min(i2 - i1, j2 - j1)
        for extra in range(i2 - 1, i1 + both - 1, -1):
            del node[extra]
        for place in range(j1 + both, j2):
            node.insert(i1 + both + place - j1 - both, _fresh(new[place], depth + 1))
        for offset in range(both):
            _edit(node, i1 + offset, old[i1 + offset], new[j1 + offset], depth + 1)


def _delete(node: CommentedMap, key: str) -> None:
    """Delete a key, but keep the comment lines that stand between it and the next key."""
    keys = list(node)
    following = keys[keys.index(key) + 1 :]
    comment = _comment_after(node, key)
    del node[key]
    node.ca.items.pop(key, None)
    if comment and following:
        column = node.lc.col or 0
        text = "\n".join(line.strip().removeprefix("#").removeprefix(" ") for line in comment.splitlines())
        node.yaml_set_comment_before_after_key(following[0], before=text, indent=column)


def _comment_after(node: Any, key: Any) -> str:
    """Return the comment lines below a value; they hang on the last scalar in it."""
    value = node[key]
    if isinstance(value, (CommentedMap, CommentedSeq)) and value and not value.fa.flow_style():
        return _comment_after(value, list(value)[-1] if isinstance(value, CommentedMap) else len(value) - 1)
    tokens = node.ca.items.get(key) or []
    after = next((token for token in reversed(tokens) if token is not None and not isinstance(token, list)), None)
    return "" if after is None else str(after.value).partition("\n")[2].strip("\n")


def _fresh(value: Any, depth: int, quoted: bool = False, key: str = "") -> Any:
    if isinstance(value, dict):
        made: Any = CommentedMap({_scalar(k, quoted): _fresh(v, depth + 1, quoted, k) for k, v in value.items()})
    elif isinstance(value, list):
        made = CommentedSeq([_fresh(item, depth + 1, quoted) for item in value])
    else:
        return _scalar(value, quoted)
    if _on_one_line(value, depth, key):
        made.fa.set_flow_style()
    return made


def _on_one_line(value: Any, depth: int, key: str) -> bool:
    text = repr(value)
    if not value:
        return True
    if len(text.replace("'", "")) > _LINE or "\\n" in text:
        return False
    if isinstance(value, list):
        return all(isinstance(item, str) for item in value)
    return key in _AT_ONCE or (depth > 1 and key not in _ONE_BELOW_ANOTHER)


def _scalar(text: str, quoted: bool) -> str:
    made = text
    if quoted:
        made = DoubleQuotedScalarString(text)
    elif text in NOTHING:
        made = SingleQuotedScalarString(text)
    elif "\n" in text:
        made = LiteralScalarString(text)
    return made


def _same(old: Any, new: Any) -> bool:
    return repr(old) == repr(new)  # unlike ==, it heeds the order of keys


def _alike(one: str, other: str) -> int:
    return sum(a == b for a, b in zip(one.splitlines(), other.splitlines(), strict=False))


def _indented_as(line: str, lines: list[str], own: list[str], place: list[int | None]) -> str:
    """Indent a new line as the person did whose lines stand above it on the same level."""
    for index in range(len(lines) - 1, -1, -1):
        there = place[index]
        if _indent(lines[index]) == _indent(line) and there is not None and there < len(own):
            same = own[there].strip()[:1] == lines[index].strip()[:1]
            return " " * (_indent(own[there]) if same else _indent(line)) + line.lstrip(" ")
    return line


def _indent(line: str) -> int:
    return len(line) - len(line.lstrip(" "))


def _merged(base: str, source: str, edited: str) -> str | None:
    """Return the source with the lines that differ between `base` and `edited` changed as they were there."""
    lines, own, changed = (text.splitlines(keepends=True) for text in (base, source, edited))
    place: list[int | None] = [None] * (len(lines) + 1)
    for _, i1, i2, j1, j2 in SequenceMatcher(None, lines, own, autojunk=False).get_opcodes():
        place[i1], place[i2] = j1, j2
        if i2 - i1 == j2 - j1:
            place[i1 : i2 + 1] = range(j1, j2 + 1)
    out: list[str] = []
    for tag, i1, i2, j1, j2 in SequenceMatcher(None, lines, changed, autojunk=False).get_opcodes():
        begin, end = place[i1], place[i2]
        if tag != "equal":
            out += [_indented_as(line, lines[:i2], own, place) for line in changed[j1:j2]]
        elif begin is None or end is None:
            return None
        else:
            out += own[begin:end]
    return "".join(out)
