"""Read a folder of the neutral format: `library.yaml` and one file for each unit, rig, song and gig.

A file belongs to what it names (`name:`), whatever it is called itself. Nothing is written here.
"""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any, NamedTuple

from pydantic import BaseModel, TypeAdapter, ValidationError

from scenebook.errors import FormatError, ScenebookError
from scenebook.model import Library, Settings
from scenebook.model.base import Name
from scenebook.storage.mapping import MODELS, library_of
from scenebook.storage.marks import KINDS, Kind, fold
from scenebook.storage.shapes import without_nothing
from scenebook.storage.words import format_faults
from scenebook.storage.yaml_text import MAX_BYTES, Document, read_document

__all__ = ["FOLDERS", "SETTINGS_FILE", "FileFaults", "FolderText", "TextFile", "located", "parse_aggregate"]
__all__ += ["parse_settings", "raise_first", "read_folder"]

FOLDERS: dict[Kind, str] = {"unit": "units", "rig": "rigs", "song": "songs", "gig": "gigs"}
SETTINGS_FILE = "library.yaml"
_NAME: TypeAdapter[str] = TypeAdapter(Name)


class TextFile(NamedTuple):
    """A file as it was read: its name within the folder of its kind, its text, and the lines of what it says."""

    file: str
    text: str
    document: Document


class FolderText(NamedTuple):
    """The files behind a library that was read from a folder: by kind and name, and that of the settings."""

    files: Mapping[Kind, Mapping[str, TextFile]]
    settings: str | None

    def located(self, kind: Kind, name: str, fault: ScenebookError) -> ScenebookError:
        """Return a fault of an aggregate with file and line as its place."""
        file = self.files[kind][name]
        return located(f"{FOLDERS[kind]}/{file.file}", file.document, fault)


def read_folder(path: Path) -> tuple[Library, FolderText]:
    """Return what a folder says, and its texts. That names stand for something is checked where a library is.

    Raises:
        FormatError: the folder is no library, or a file is not as it must be. The first fault is raised; its text
            says how many more there are, and its notes (`__notes__`) are the others.
    """
    if not path.is_dir():
        raise FormatError("there is no folder here", where=str(path))
    if not any((path / folder).is_dir() for folder in FOLDERS.values()) and not (path / SETTINGS_FILE).is_file():
        raise FormatError(
            "this folder is not a library",
            where=str(path),
            accepted=f"a folder with {', '.join(f'{name}/' for name in FOLDERS.values())} or {SETTINGS_FILE} in it",
        )
    faults: list[ScenebookError] = []
    settings, settings_text = _settings(path, faults)
    read = {kind: dict(_aggregates(path / folder, kind, faults)) for kind, folder in FOLDERS.items()}
    raise_first(faults)
    parts: dict[str, Any] = {kind: {name: whole for name, (_, whole) in read[kind].items()} for kind in KINDS}
    files = {kind: {name: file for name, (file, _) in read[kind].items()} for kind in KINDS}
    return library_of(settings, parts), FolderText(files, settings_text)


def parse_aggregate(kind: Kind, text: str) -> tuple[str, Any, Document]:
    """Return the name, the aggregate and the lines of one file's text.

    Raises:
        FileFaults: all that is wrong with it, each with its line.
    """
    with _gathered():
        document = read_document(text)
        said = dict(document.value)
        name = _name(kind, said.pop("name", None), document)
        return name, _validated(MODELS[kind], said, document), document


def parse_settings(text: str) -> Settings:
    """Return the settings of one file's text; a file that says nothing leaves them as they come.

    Raises:
        FileFaults: all that is wrong with it, each with its line.
    """
    with _gathered():
        document = read_document(text)
        settings: Settings = _validated(Settings, document.value, document)
        return settings


class FileFaults(Exception):
    """All that is wrong with one file."""

    def __init__(self, faults: list[ScenebookError]) -> None:
        """Keep them in the order of the file."""
        self.faults = faults
        super().__init__(*faults)


def raise_first(faults: list[ScenebookError]) -> None:
    """Raise the first of the faults, if there are any; it says how many more there are, and has them as notes."""
    if not faults:
        return
    first, *others = faults
    if others:
        more = f"{len(others)} more fault{'s' if len(others) > 1 else ''}"
        remedy = f"{first.remedy}. And {more}" if first.remedy else f"And {more}"
        first = type(first)(first.found, where=first.where, accepted=first.accepted, remedy=remedy, path=first.path)
        for other in others:
            first.add_note(str(other))
    raise first


@contextmanager
def _gathered() -> Iterator[None]:
    try:
        yield
    except ScenebookError as fault:
        raise FileFaults([fault]) from None


def _settings(path: Path, faults: list[ScenebookError]) -> tuple[Settings, str | None]:
    file = path / SETTINGS_FILE
    if file.is_file():
        try:
            text = _text_of(file)
            return parse_settings(text), text
        except FileFaults as wrong:
            faults += [fault.at(SETTINGS_FILE) for fault in wrong.faults]
    return Settings(), None


def _aggregates(folder: Path, kind: Kind, faults: list[ScenebookError]) -> Iterator[tuple[str, tuple[TextFile, Any]]]:
    taken: dict[str, str] = {}
    for file in sorted(folder.iterdir()) if folder.is_dir() else []:
        where = f"{folder.name}/{file.name}"
        if file.suffix == ".yml":
            faults.append(FormatError("files end in .yaml here", where=where, remedy="Rename it"))
        if file.suffix != ".yaml" or file.name.startswith(".") or not file.is_file():
            continue
        try:
            text = _text_of(file)
            name, aggregate, document = parse_aggregate(kind, text)
        except FileFaults as wrong:
            faults += [fault.at(where) for fault in wrong.faults]
            continue
        if fold(name) in taken:
            found = f"{taken[fold(name)]} is called {name!r} too"
            faults.append(FormatError(found, where=where, remedy="Give each its own name; capitals do not count"))
        taken.setdefault(fold(name), file.name)
        yield name, (TextFile(file.name, text, document), aggregate)


def _text_of(file: Path) -> str:
    """Return a file's text as it stands, line ends included; a file that is too large is not read."""
    with _gathered():
        try:
            if file.stat().st_size > MAX_BYTES:
                size = f"{file.stat().st_size / 1e6:.1f} MB"
                raise FormatError(f"the file is too large: {size}", accepted=f"at most {MAX_BYTES // 1_000_000} MB")
            return file.read_bytes().decode()
        except UnicodeDecodeError as error:
            line = error.object.count(b"\n", 0, error.start) + 1
            raise FormatError("this is not text in UTF-8", where=f"line {line}", remedy="Save it as UTF-8") from None
        except OSError as error:
            raise FormatError(f"cannot be read: {error.strerror}") from None


def _name(kind: Kind, name: Any, document: Document) -> str:
    if name is None:
        raise FormatError("name is missing", where="line 1", remedy=f"Write name: and what the {kind} is called")
    try:
        return _NAME.validate_python(name)
    except ValidationError:
        where = f"line {document.line_of(('name',))}"
        raise FormatError(
            f"found {name!r} for 'name'", where=where, accepted="1 to 80 characters on one line"
        ) from None


def _validated(model: type[BaseModel], said: dict[str, Any], document: Document) -> Any:
    try:
        return model.model_validate(without_nothing((model, ()), said))
    except ValidationError as error:
        faults = sorted(format_faults(model, error), key=lambda fault: document.line_of(fault.path))
        raise FileFaults([located("", document, fault) for fault in faults]) from None


def located(file: str, document: Document, fault: ScenebookError) -> ScenebookError:
    """Return a fault with its file (if given) and line as its place; its path is spent."""
    line = f"line {document.line_of(fault.path)}"
    place = ", ".join(part for part in (file, line, fault.where) if part)
    return type(fault)(fault.found, where=place, accepted=fault.accepted, remedy=fault.remedy, path=fault.path)
