"""Write a gig's messages for other programs: Standard MIDI Files, CSV and JSON."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from scenebook.actions.compiling import GigSlice, compiled_slice, gig_slice
from scenebook.actions.files import file_name, write_files
from scenebook.actions.sender import sender_note
from scenebook.actions.smf_files import timeline_bytes
from scenebook.cueing.cues import CueList
from scenebook.cueing.timeline import Timeline, gig_timelines, song_timelines
from scenebook.sheets.lists import cue_list_json, cue_rows_csv

__all__ = ["Exported", "export_gig", "export_lists"]


class Exported(NamedTuple):
    """The files that were written, and those of an earlier export of the same gig that are still there.

    `note` tells which of the messages in them the rig's sender stores and sends itself; "" without one.
    """

    files: tuple[Path, ...]
    older: tuple[Path, ...]
    note: str = ""


def export_gig(path: Path, gig: str, folder: Path, rig: str | None = None) -> Exported:
    """Write what a gig sends into a folder; files of the same name are replaced.

    A Standard MIDI File for each port of the rig holds the whole gig, one for each song and port that song by itself.
    The lean and the full list come as CSV and as JSON.

    Raises:
        ScenebookError: the gig cannot be compiled, or the folder cannot be written.
    """
    part = gig_slice(path, gig, rig)
    done = export_lists(part, compiled_slice(part), compiled_slice(part, full=True), folder)
    return done._replace(note=sender_note(part))


def export_lists(part: GigSlice, lean: CueList, full: CueList, folder: Path) -> Exported:
    """Write the two lists of a compiled gig into a folder, as `export_gig` does."""
    stem = file_name(part.gig)
    files = {
        f"{stem}-{kind}.{ending}": data
        for kind, cue_list in (("lean", lean), ("full", full))
        for ending, data in (
            ("csv", cue_rows_csv(cue_list).encode()),
            ("json", (json.dumps(cue_list_json(cue_list), ensure_ascii=False, indent=1) + "\n").encode()),
        )
    }
    timelines = (*gig_timelines(part.library, lean, full), *song_timelines(part.library, lean, full))
    files |= {name: timeline_bytes(timeline) for name, timeline in _named(stem, timelines)}
    written = write_files(folder, files)
    return Exported(written, tuple(sorted(set(folder.glob(f"{stem}-*.mid")) - set(written))))


def _named(stem: str, timelines: tuple[Timeline, ...]) -> Iterator[tuple[str, Timeline]]:
    """Yield a file name for each timeline: the gig and its port, or the song's number, name and port."""
    taken: set[str] = set()
    several = len({timeline.port for timeline in timelines}) > 1
    for timeline in timelines:
        port = file_name(timeline.port) if several else ""
        words = [stem] if not timeline.song else [stem, f"{timeline.number:02}", file_name(timeline.song)]
        name = "-".join(filter(None, [*words, port]))
        while name in taken:  # two ports whose names differ only in signs
            name += "-2"
        taken.add(name)
        yield f"{name}.mid", timeline
