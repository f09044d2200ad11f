"""Describe the files of the neutral format as JSON Schema, for editors that check while a person writes."""

from typing import Any

from scenebook.model import Settings
from scenebook.storage.folder import FOLDERS, SETTINGS_FILE
from scenebook.storage.mapping import MODELS

__all__ = ["json_schema"]

_DIALECT = "https://json-schema.org/draft/2020-12/schema"


def json_schema() -> dict[str, Any]:
    """Return a schema for each kind of file by where it lies: `library.yaml`, `units/*.yaml` and so on.

    Every scalar in a file is read as text, so a schema describes what an editor's reader makes of it as well: where
    text is meant, a number or a truth value is accepted.
    """
    schemas: dict[str, Any] = {SETTINGS_FILE: {"$schema": _DIALECT, **Settings.model_json_schema(mode="validation")}}
    for kind, folder in FOLDERS.items():
        schema = MODELS[kind].model_json_schema(mode="validation")
        name = {"type": "string", "minLength": 1, "maxLength": 80, "description": f"what the {kind} is called"}
        schema["properties"] = {"name": name, **schema["properties"]}
        schema["required"] = ["name", *schema.get("required", [])]
        schemas[f"{folder}/*.yaml"] = {"$schema": _DIALECT, **schema}
    return schemas
