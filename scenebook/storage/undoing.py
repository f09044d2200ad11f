"""Go back: put what stood there before the latest changes in place of what they made.

Going back is a change like any other, so it stands in the history and can itself be undone.
"""

from collections.abc import Iterable
from typing import cast

from scenebook.errors import BadValueError
from scenebook.storage.boxes import boxes_of
from scenebook.storage.change import Change, Source
from scenebook.storage.mapping import one_model, settings_of
from scenebook.storage.marks import KINDS, Kind
from scenebook.storage.store import Before, Store

__all__ = ["go_back"]


def go_back(store: Store, to: int | None = None) -> tuple[Before, ...]:
    """Make the library as it was at revision `to`, or before its last change; return what was put back.

    What is returned has one entry for each thing: its state then, or no text where it was not there yet.

    Raises:
        BadValueError: there is no such revision, or nothing to go back over.
        LibraryError: the library cannot be written, or its history is damaged.
    """
    now = store.revision
    goal = now - 1 if to is None else to
    if not 0 <= goal < now:
        accepted = f"a revision from 0 to {now - 1}" if now else ""
        found = "nothing has been changed yet" if to is None else f"there is no way back to revision {to}"
        raise BadValueError(found, accepted=accepted, remedy="See them with: scenebook library history")
    with store.change(f"back to revision {goal}", as_it_was=True) as change:
        first = _oldest(store.history(None, since=goal))
        files = {str(kind): {name: file for name, (file, _) in store.sources(kind).items()} for kind in KINDS}
        for before in first:
            _put_back(change, before, files.get(before.kind, {}))
    return first


def _oldest(entries: Iterable[Before]) -> tuple[Before, ...]:
    """Return for each thing the oldest of its entries, which come latest first: how it stood before all of them."""
    found: dict[tuple[str, str], Before] = {}
    for entry in entries:
        found[entry.kind, entry.name] = entry
    return tuple(found.values())


def _put_back(change: Change, before: Before, files: dict[str, str | None]) -> None:
    """Put one thing as it was, with the text that it was imported from; `files` are those of its kind by name."""
    if before.kind == "settings":
        change.put_settings(settings_of(before.text or "{}"), before.source)
        return
    if before.kind == "box":
        change.put_boxes(before.name, boxes_of(before.name, before.text))
        return
    kind = cast(Kind, before.kind)
    if before.text is None:
        change.delete_if_there(kind, before.name)
        return
    source = None
    if before.source is not None:
        file = files.get(before.name) or _file_for(before.name, files)
        source = Source(file, before.source)
    change.put(kind, before.name, one_model(kind, before.name, before.text), source)


def _file_for(name: str, files: dict[str, str | None]) -> str:
    """Return a file's name for a thing that was gone: history keeps the text of its file, and not the file's name."""
    from scenebook.storage.exporting import free_file  # late: it loads YAML

    files[name] = file = free_file(name, {each.casefold() for each in files.values() if each})
    return file
