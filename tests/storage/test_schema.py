"""The JSON Schema that editors check with knows every key and every short form that the reader knows."""

from typing import Any

import pytest

from scenebook.model import Library
from scenebook.storage import json_schema
from scenebook.storage.shorthand import plain, plain_settings
from tests.storage.full import full_library


def accepts(schema: dict[str, Any], value: Any, definitions: dict[str, Any]) -> bool:
    """Tell whether a schema accepts a value, by the few keywords of JSON Schema (2020-12) that ours use."""
    if "$ref" in schema:
        return accepts(definitions[schema["$ref"].rpartition("/")[2]], value, definitions)
    if "anyOf" in schema:
        return any(accepts(arm, value, definitions) for arm in schema["anyOf"])
    if "enum" in schema or "const" in schema:
        return value in schema.get("enum", [schema.get("const")])
    kinds = [schema["type"]] if isinstance(schema["type"], str) else schema["type"]
    if isinstance(value, dict) and "object" in kinds:
        known, other = schema.get("properties", {}), schema.get("additionalProperties", True)
        inner = {key: known.get(key, other) for key in value}
        return (
            all(
                part is True or (part is not False and accepts(part, value[key], definitions))
                for key, part in inner.items()
            )
            and set(schema.get("required", [])) <= value.keys()
        )
    if isinstance(value, list) and "array" in kinds:
        items = schema.get("prefixItems") or [schema["items"]] * len(value)
        return all(accepts(item, part, definitions) for item, part in zip(items, value, strict=True))
    return isinstance(value, str) and bool({"string", "number", "integer", "boolean"} & set(kinds))


def files(library: Library) -> list[tuple[str, dict[str, Any]]]:
    """Return what the files of a library say, every scalar as text, short forms used."""
    said: list[tuple[str, dict[str, Any]]] = [("library.yaml", plain_settings(library.settings))]
    said += [("units/*.yaml", plain("unit", name, unit)) for name, unit in library.units.items()]
    said += [("rigs/*.yaml", plain("rig", name, rig)) for name, rig in library.rigs.items()]
    said += [("songs/*.yaml", plain("song", name, song)) for name, song in library.songs.items()]
    said += [("gigs/*.yaml", plain("gig", name, gig)) for name, gig in library.gigs.items()]
    return said


@pytest.mark.parametrize(("place", "said"), files(full_library()))
def test_every_key_and_short_form_is_accepted(place: str, said: dict[str, Any]) -> None:
    """An editor must not underline what the program takes."""
    schema = json_schema()[place]

    assert accepts(schema, said, schema.get("$defs", {}))


@pytest.mark.parametrize(
    ("place", "said"),
    [
        ("units/*.yaml", {"name": "a", "swiches": {}}),
        ("units/*.yaml", {"controls": {}}),
        ("units/*.yaml", {"name": "a", "controls": {"gain": "clok"}, "roles": ["fuz"]}),
        ("songs/*.yaml", {"name": "a", "form": [{"bars": "8"}]}),
        ("library.yaml", {"name": "a"}),
    ],
)
def test_what_the_program_refuses_is_not_accepted(place: str, said: dict[str, Any]) -> None:
    """Else the schema would be of no use."""
    schema = json_schema()[place]

    assert not accepts(schema, said, schema.get("$defs", {}))


def test_there_is_a_schema_for_each_kind_of_file() -> None:
    """Each says which dialect it is written in."""
    schemas = json_schema()

    assert list(schemas) == ["library.yaml", "units/*.yaml", "rigs/*.yaml", "songs/*.yaml", "gigs/*.yaml"]
    assert {schema["$schema"] for schema in schemas.values()} == {"https://json-schema.org/draft/2020-12/schema"}
