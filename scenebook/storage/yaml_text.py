"""Read one YAML file as a person wrote it: every plain scalar stays text, and every value knows its line.

`on`, `no`, `12:30`, `1/8.` and `5.50` mean what the model makes of them, not what YAML 1.1 does. Only an empty value,
`~` and `null` are special: nothing was said. Equal keys, tags, and aliases that unfold without end are refused.
"""

from typing import Any, NamedTuple

import yaml

from scenebook.errors import FormatError, Path

__all__ = ["MAX_BYTES", "NOTHING", "Document", "read_document"]

MAX_BYTES = 1_000_000  # the largest real file is a unit with all its presets, some tens of thousands
_MAX_VALUES, _MAX_DEPTH = 100_000, 40
NOTHING = ("", "~", "null")
_PLAIN_TAGS = ("tag:yaml.org,2002:str", "tag:yaml.org,2002:seq", "tag:yaml.org,2002:map")


class Document(NamedTuple):
    """What a file says, and where: text, lists and mappings, with nothing (None) where nothing was said."""

    value: dict[str, Any]
    node: yaml.MappingNode

    def line_of(self, path: Path) -> int:
        """Return the line, from 1, of the value at `path`, or of the nearest that is there around it."""
        node: yaml.Node = self.node
        line = 1
        for key in path:
            found = _inside(node, key)
            if found is not None:
                line, node = found
        return line


def read_document(text: str) -> Document:
    """Return what a YAML text says.

    Raises:
        FormatError: it is not valid YAML, not a mapping, or refused as the module says; `where` is the line.
    """
    try:
        node = yaml.compose(text.removeprefix("\ufeff"), Loader=yaml.CBaseLoader)
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        raise _refused(_plain(error), mark.line if mark else 0) from None
    except (yaml.YAMLError, ValueError) as error:
        raise _refused(f"this is not text in YAML: {str(error).splitlines()[0]}", 0) from None
    if node is None:  # nothing but comments
        return Document({}, yaml.MappingNode("tag:yaml.org,2002:map", []))
    if not isinstance(node, yaml.MappingNode):
        accepted = "keys with values, such as name: fuzz"
        raise _refused("the file does not begin with a key", node.start_mark.line, accepted=accepted)
    value = _Reading().value_of(node, 0)
    assert isinstance(value, dict)
    return Document(value, node)


class _Reading:
    """One pass over the nodes, which counts what it unfolds."""

    def __init__(self) -> None:
        self._count = 0

    def value_of(self, node: yaml.Node, depth: int) -> Any:
        self._count += 1
        line = node.start_mark.line
        if self._count > _MAX_VALUES:
            raise _refused("the file says too much, aliases written out", line, accepted=f"{_MAX_VALUES} values")
        if depth > _MAX_DEPTH:
            raise _refused("values are nested too deeply", line, accepted=f"{_MAX_DEPTH} levels")
        if node.tag not in _PLAIN_TAGS:
            raise _refused(f"found the tag {node.tag!r}", line, remedy="Leave it out; every value is read as text")
        if isinstance(node, yaml.MappingNode):
            return self._mapping(node, depth)
        if isinstance(node, yaml.SequenceNode):
            return [self.value_of(item, depth + 1) for item in node.value]
        return None if not getattr(node, "style", None) and node.value in NOTHING else node.value

    def _mapping(self, node: yaml.MappingNode, depth: int) -> dict[str, Any]:
        said: dict[str, Any] = {}
        for key_node, value_node in node.value:
            line, key = key_node.start_mark.line, self.value_of(key_node, depth + 1)
            if not isinstance(key, str):
                raise _refused("a key is not a single word or phrase", line, accepted="a key such as name:")
            if key in said:
                raise _refused(f"the key {key!r} is there twice", line, remedy="Keep one of them")
            said[key] = self.value_of(value_node, depth + 1)
        return said


def _inside(node: yaml.Node, key: str | int) -> tuple[int, yaml.Node] | None:
    if isinstance(node, yaml.MappingNode):
        for key_node, value_node in node.value:
            if key_node.value == key:
                return key_node.start_mark.line + 1, value_node
    elif isinstance(node, yaml.SequenceNode) and isinstance(key, int) and key < len(node.value):
        return node.value[key].start_mark.line + 1, node.value[key]
    return None


def _plain(error: yaml.MarkedYAMLError) -> str:
    context = f"{error.context}, " if error.context else ""
    return f"this is not valid YAML: {context}{error.problem}"


def _refused(found: str, line: int, *, accepted: str = "", remedy: str = "") -> FormatError:
    return FormatError(found, where=f"line {line + 1}", accepted=accepted, remedy=remedy)
