"""Write a library as a folder of the neutral format; what was imported comes back as it was, comments included.

Nothing that the library does not know is overwritten: into a folder that holds other things it writes nothing.
"""

import re
import secrets
import unicodedata
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path
from shutil import rmtree
from typing import TYPE_CHECKING, Any

from ruamel.yaml.error import YAMLError

from scenebook.errors import OutputError
from scenebook.model import Settings
from scenebook.storage.folder import FOLDERS, SETTINGS_FILE, FileFaults, parse_aggregate, parse_settings
from scenebook.storage.mapping import Aggregate, one_model, settings_of, whole_json
from scenebook.storage.marks import KINDS, Kind
from scenebook.storage.shorthand import plain, plain_settings
from scenebook.storage.yaml_write import edited_texts, new_text

if TYPE_CHECKING:
    from scenebook.storage.store import Store

__all__ = ["aggregate_text", "export_folder", "free_file", "settings_text"]


def export_folder(store: "Store", path: Path) -> int:
    """Write the whole library into a folder, new, empty or the one that it was imported from; return how many files.

    Raises:
        OutputError: the folder holds something that the library does not know, or cannot be written.
    """
    texts = _texts(store)
    try:
        if path.exists() and (not path.is_dir() or any(path.iterdir())):
            _check_target(store, path, texts)
            _write(path, texts)
        else:
            _write_new(path, texts)
    except OSError as error:
        raise OutputError(f"cannot be written: {error.strerror or error}", where=str(path)) from error
    return len(texts)


def aggregate_text(kind: Kind, name: str, aggregate: Aggregate, source: str | None = None) -> str:
    """Return the text of an aggregate's file, with as much as can be of the text that it came from (`source`)."""

    def says_it(text: str) -> bool:
        read, whole, _ = parse_aggregate(kind, text)
        return read == name and whole_json(kind, whole) == whole_json(kind, aggregate)

    new = plain(kind, name, aggregate)
    for text in _candidates(source, lambda text: plain(kind, *parse_aggregate(kind, text)[:2]), new):
        if _holds(says_it, text):
            return text
    return new_text(new, quoted=True)


def settings_text(settings: Settings, source: str | None = None) -> str:
    """Return the text of the settings' file, with as much as can be of the text that they came from."""
    new = plain_settings(settings)
    for text in _candidates(source, lambda text: plain_settings(parse_settings(text)), new):
        if _holds(lambda text: parse_settings(text) == settings, text):
            return text
    return new_text(new, quoted=True)


def _candidates(source: str | None, said: Callable[[str], dict[str, Any]], new: dict[str, Any]) -> Iterator[str]:
    """Yield texts to try: the source as it is, the source edited, a fresh one."""
    if source is not None:
        yield source
        with suppress(FileFaults, YAMLError):  # a text that only an older version took is written anew
            yield from edited_texts(source, said(source), new)
    yield new_text(new)


def _holds(says_it: Callable[[str], bool], text: str) -> bool:
    try:
        return says_it(text)
    except FileFaults:
        return False


def _texts(store: "Store") -> dict[str, str]:
    """Return the text of every file by its path within the folder."""
    texts: dict[str, str] = {}
    settings, source = store.settings(), store.settings_source()
    if source is not None or settings != Settings():
        texts[SETTINGS_FILE] = settings_text(settings, source)
    for kind in KINDS:
        sources = store.sources(kind)
        taken = {file.casefold() for file, _ in sources.values() if file}
        for name, aggregate in store.all(kind).items():
            file, source = sources[name]
            chosen = file or free_file(name, taken)
            texts[f"{FOLDERS[kind]}/{chosen}"] = aggregate_text(kind, name, aggregate, source)
    return texts


def free_file(name: str, taken: set[str]) -> str:
    """Return a file name that is safe everywhere: letters and digits of any script, the rest as hyphens."""
    plain_name = re.sub(r"[\W_]+", "-", unicodedata.normalize("NFC", name).casefold()).strip("-") or "unnamed"
    stem = plain_name[:60] if plain_name not in _NOT_FILES else f"{plain_name}-"
    number, file = 1, f"{stem}.yaml"
    while file.casefold() in taken:
        number += 1
        file = f"{stem}-{number}.yaml"
    taken.add(file.casefold())
    return file


# Names that one system keeps for its devices, whatever the ending.
_NOT_FILES = {"con", "prn", "aux", "nul", *(f"{device}{n}" for device in ("com", "lpt") for n in range(1, 10))}


def _check_target(store: "Store", path: Path, texts: dict[str, str]) -> None:
    """Refuse a folder that is no library, or that holds a file with words which the library does not know."""
    folders = [path / folder for folder in FOLDERS.values() if (path / folder).is_dir()]
    if not path.is_dir() or not (folders or (path / SETTINGS_FILE).is_file()):
        raise OutputError(
            "there is something else here already", where=str(path), remedy="Give a new folder, or an export to renew"
        )
    files = [file for folder in folders for file in sorted(folder.glob("*.yaml")) if not file.name.startswith(".")]
    for file in [*files, *([path / SETTINGS_FILE] if (path / SETTINGS_FILE).is_file() else [])]:
        place = file.relative_to(path).as_posix()
        text = _read(file)
        if text == texts.get(place):
            continue
        if text not in _known_texts(store, place):
            raise OutputError(
                "this file says something that the library does not know",
                where=str(file),
                remedy="Import it first, or export to a new folder",
            )
        if place not in texts:
            raise OutputError(
                "this file is of something that was taken out of the library",
                where=str(file),
                remedy="Delete the file, or export to a new folder",
            )


def _known_texts(store: "Store", place: str) -> Iterator[str]:
    """Yield what a file may hold without anything being lost: its import, and what exports of older states wrote."""
    folder, _, file = place.rpartition("/")
    kind = next((kind for kind, name in FOLDERS.items() if name == folder), None)
    if kind is None:
        yield store.settings_source() or ""
        for before in store.history(None, kind="settings"):
            yield settings_text(settings_of(before.text or "{}"), before.source)
        return
    yield from (source for own, source in store.sources(kind).values() if own == file and source is not None)
    for before in store.history(None, kind=kind):
        if before.text is not None:
            yield aggregate_text(kind, before.name, one_model(kind, before.name, before.text), before.source)


def _read(file: Path) -> str:
    return file.read_bytes().decode(errors="replace")


def _write_new(path: Path, texts: dict[str, str]) -> None:
    """Write into a folder beside `path` and give it the name at the end, so that half an export is never seen."""
    part = path.with_name(f".{path.name}.{secrets.token_hex(4)}.part")
    part.mkdir(parents=True)
    try:
        _write(part, texts)
        if path.exists():
            path.rmdir()  # empty, as has been seen; if it is not any more this is refused
        part.rename(path)
    finally:
        rmtree(part, ignore_errors=True)


def _write(path: Path, texts: dict[str, str]) -> None:
    """Write the files that are not so already, each at once."""
    for folder in FOLDERS.values():
        (path / folder).mkdir(parents=True, exist_ok=True)
    for place, text in texts.items():
        file, data = path / place, text.encode()
        if not file.is_file() or file.read_bytes() != data:
            part = file.with_name(f".{file.name}.part")
            try:
                part.write_bytes(data)
                part.replace(file)
            finally:
                part.unlink(missing_ok=True)
