"""The sheet as one HTML page: nothing is asked of any other place, and it prints decently.

Plain strings; every text is escaped where it is put in.
"""

from collections.abc import Iterable
from html import escape

from scenebook.sheets.as_pdf import DO_POINTS, FLOOR_MM, NEAR_MM
from scenebook.sheets.faces import point_size
from scenebook.sheets.view import (
    Caveat,
    Do,
    Entry,
    FloorLine,
    FloorSet,
    GigView,
    Mark,
    Paper,
    Part,
    SetUp,
    Shape,
    SongPage,
    Sound,
    Table,
)

__all__ = ["html"]

# The policy forbids every request, so that a text with a link in it can't make one.
_HEAD = """<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<title>{title}</title>
<style>
@page {{ size: {paper}; margin: 18mm 12mm 14mm 20mm; font: {near}pt sans-serif;
  @top-left {{ content: "{bearing}" }} @top-right {{ content: "page " counter(page) " of " counter(pages) }} }}
body {{ font: {near}pt/1.35 "DejaVu Sans Condensed", "DejaVu Sans", sans-serif; color: #000; background: #fff;
  margin: 1rem auto; max-width: 62rem; padding: 0 1rem; overflow-wrap: anywhere }}
header {{ border-bottom: 1px solid }}
h1, h2 {{ border-bottom: 3px solid; line-height: 1.15; margin: 1.2rem 0 .4rem; break-after: avoid }}
h2 small {{ font-weight: normal; font-size: {near}pt }}
h3 {{ font-size: 1.2em; margin: 0; break-after: avoid }}
h3 small {{ font-weight: normal; font-size: {near}pt }}
section {{ break-before: page }}
section.song {{ break-before: auto }}
section.set-up {{ break-after: page }}
section.short {{ break-inside: avoid }}
.floor {{ font-size: {floor}pt; line-height: 1.15; break-before: auto }}
.song + .floor {{ break-before: page }}
.floor h2 {{ font-size: 1em }}
.floor small, .key {{ font-size: {near}pt }}
.floor p {{ margin: 0; padding: .1em 0 .15em; border-bottom: 1px solid; break-inside: avoid }}
.floor .facts {{ float: right; margin-left: .6em }}
.floor i {{ font-style: normal; border: 2px solid; padding: 0 .15em }}
.floor span, .chain span, .facts {{ display: inline-block; margin-right: .6em }}
article {{ border-bottom: 1px solid; padding: .5rem 0; break-inside: avoid }}
article p, section > p {{ margin: .3rem 0 }}
.do {{ border-left: 4px solid; padding-left: .7rem; margin: .4rem 0 }}
.do b {{ font-size: {do}pt; line-height: 1.2 }}
.do b.look {{ font-size: 1em }}
.care {{ border: 2px solid; padding: .2rem .5rem; font-weight: bold }}
.new {{ text-decoration: underline; font-weight: bold }}
table {{ border-collapse: collapse; width: 100%; margin: .3rem 0 1rem }}
caption {{ text-align: left; font-weight: bold; padding-top: .6rem }}
th, td {{ border-bottom: 1px solid; text-align: left; vertical-align: top; padding: .15rem .4rem;
  overflow-wrap: break-word }}
tr {{ break-inside: avoid }}
@media print {{ header {{ display: none }} body {{ margin: 0; padding: 0; max-width: none }} }}
</style>
</head>
<body>
"""


def html(view: GigView) -> str:
    """Return the sheet as one self-contained HTML page."""
    paper = "A4" if view.paper is Paper.A4 else "letter"
    head = _HEAD.format(
        title=escape(f"{view.gig}, {view.rig}"),
        paper=paper,
        bearing=_in_css(" · ".join(view.bearing)),
        near=point_size(NEAR_MM),
        floor=point_size(FLOOR_MM),
        do=DO_POINTS,
    )
    body = [
        _tag("header", escape(" · ".join(view.bearing))),
        *(_floor(part) for part in view.floor),
        _tag("p", escape("   ".join(view.floor_legend)), "key"),
        _set_up(view.set_up, view.place),
        *(_song(song) for song in view.songs),
    ]
    for section in view.last:
        body += [_floor(section.floor), *(_song(song) for song in section.songs)]
    body.append(_tag("footer", escape("   ".join(view.legend))))
    return head + "\n".join(body) + "\n</body>\n</html>\n"


def _tag(name: str, inner: str, kind: str = "") -> str:
    return f'<{name} class="{kind}">{inner}</{name}>' if kind else f"<{name}>{inner}</{name}>"


def _in_css(words: str) -> str:
    """Return a text for a CSS string, all but letters and digits by number: nothing in it can end the string."""
    return "".join(c if c.isascii() and c.isalnum() else f"\\{ord(c):x} " for c in words)


def _lines(words: str) -> str:
    return "<br>".join(escape(line) for line in words.splitlines())


def _floor(part: FloorSet) -> str:
    said = " · ".join(filter(None, [part.display, part.after]))
    after = f" <small>{escape(said)}</small>" if said else ""
    heading = _tag("h2", escape(part.name) + after)
    return _tag("section", heading + "".join(_floor_line(line) for line in part.lines), "floor")


def _floor_line(line: FloorLine) -> str:
    facts = " ".join(filter(None, [line.key, line.tempo]))
    items = "".join(_tag("span", escape(f"{item.mark} {item.words}".strip())) for item in line.items)
    slot = f" {_tag('i', escape(line.slot))}" if line.slot else ""
    slot += f" +{line.later}" if line.later else ""
    number = f"{escape(line.number)} " if line.number else ""
    return _tag("p", f"{_tag('span', escape(facts) + slot, 'facts')}{number}<b>{escape(line.name)}</b> {items}")


def _dos(to_do: Iterable[Do]) -> str:
    said, moment = [], ""
    for do in to_do:
        if do.moment != moment:
            moment = do.moment
            said.append(f"{escape(moment)}:")
        was = f" (was {escape(do.was)})" if do.was else ""
        later = f", {escape(do.later)}" if do.later else ""
        said.append(_tag("b", f"{do.shape} {escape(do.words)}", _LOOK if do.shape is Shape.CHECK else "") + was + later)
    return _tag("div", "<br>".join(said), "do") if said else ""


_LOOK = "look"  # a look at a lamp is no press, and no larger than the rest
_SHORT = 6  # entries that a page holds nearly always


def _song(song: SongPage) -> str:
    title = escape(" ".join(filter(None, [song.number, song.name])))
    facts = f" <small>{escape(' · '.join(song.facts))}</small>" if song.facts else ""
    notes = "".join(_tag("p", _lines(note)) for note in song.notes)
    then = _tag("p", f"Then: {escape(song.then)}") if song.then else ""
    lacks = "".join(map(_caveat, song.lacks))
    stand_ins = _tag("p", escape(f"Stand-ins: {'; '.join(song.stand_ins)}")) if song.stand_ins else ""
    inner = _tag("h2", title + facts) + notes + lacks + stand_ins + "".join(map(_entry, song.entries)) + then
    return _tag("section", inner, "song short" if len(song.entries) <= _SHORT else "song")


def _caveat(caveat: Caveat) -> str:
    return _tag("p", f"▲ {escape(caveat.what)}: {escape(caveat.do)}", "care")


def _entry(entry: Entry) -> str:
    words = f" “{escape(entry.words)}”" if entry.words else ""
    again = f" · as cue {entry.as_cue}, nothing to do" if entry.as_cue is not None else ""
    inner = [
        _tag("h3", f"{escape(entry.scene)} <small>{escape(entry.bars)}{words}{again} · cue {entry.cue}</small>"),
        _dos(entry.to_do),
        _tag("p", _tag("b", escape(f"▲ lacks {'; '.join(entry.lacks)}"))) if entry.lacks else "",
        _tag("p", escape(f"without {'; '.join(entry.without)}")) if entry.without else "",
        *map(_caveat, entry.caveats),
        _tag("p", " ".join(map(_mark, entry.chain)), "chain") if entry.chain else "",
        _tag("p", "   ".join(map(_sound, entry.sounds))) if entry.sounds else "",
        *(_tag("p", _lines(words)) for words in entry.remarks),
        _tag("p", f"“{_lines(entry.notes)}”") if entry.notes else "",
        _tag("p", escape(". ".join(entry.asides))) if entry.asides else "",
    ]
    return _tag("article", "".join(inner))


def _mark(mark: Mark) -> str:
    words = f"{'●' if mark.on else '○'} {mark.unit} {mark.shows}".rstrip()
    return _tag("span", escape(words), "new" if mark.changed else "")


def _sound(sound: Sound) -> str:
    return f"<b>{escape(sound.unit)}</b>: {'; '.join(map(_part, sound.parts))}"


def _part(part: Part) -> str:
    words = escape(f"{part.need} {part.words}".strip())
    return _tag("span", words, "new") if part.changed else words


def _set_up(set_up: SetUp, place: str) -> str:
    care = [*set_up.changes, *set_up.warnings]
    inner = [
        _tag("h2", "Set-up"),
        *(_tag("p", _lines(words)) for words in (place, *set_up.notes) if words),
        *(_tag("p", f"▲ {escape(words)}", "care") for words in care),
        _tag("p", f"<b>Chain:</b> {escape(set_up.chain)}"),
        _tag("p", f"<b>MIDI leads:</b> {escape(set_up.leads)}") if set_up.leads else "",
        _dos(set_up.checks),
        *map(_table, set_up.tables),
        *(_tag("p", f"▲ {escape(words)}", "care") for words in set_up.cautions),
    ]
    return _tag("section", "".join(inner), "set-up")


def _table(table: Table) -> str:
    heads = _tag("tr", "".join(_tag("th", escape(head)) for head in table.columns)) if table.columns else ""
    rows = "".join(_tag("tr", "".join(_tag("td", escape(cell)) for cell in row)) for row in table.rows)
    closing = _tag("p", escape(table.closing)) if table.closing else ""
    return _tag("table", _tag("caption", escape(table.title)) + heads + rows) + closing
