"""The kitchen card as one HTML file: no script, nothing loaded from elsewhere, made for one printed page."""

from collections.abc import Iterator
from html import escape
from pathlib import Path

from holdctl.errors import JobError
from holdctl.plan.card import HEAD, Card, Section
from holdctl.plan.words import glued

_STYLE = """
body { font: 12pt/1.4 Georgia, serif; max-width: 44em; margin: 2em auto; padding: 0 1em; color: #111; background: #fff }
h1 { font-size: 1.8em; margin: 0 } .made { color: #444 } .facts { margin: .3em 0 1em }
.facts span { white-space: nowrap }
table { border-collapse: collapse; width: 100%; font-size: 1.1em }
th, td { text-align: right; padding: .25em .5em; border-bottom: 1px solid #bbb; font-variant-numeric: tabular-nums }
th:first-child, td:first-child { text-align: left; overflow-wrap: anywhere }
thead th { border-bottom: 2px solid #111 } tfoot td { border-bottom: 0; font-weight: bold }
td.scald { font-weight: bold; background: #eee }
dl { display: grid; grid-template-columns: 5em 1fr; gap: .35em .8em; margin: 1.2em 0 }
dt { font-weight: bold } dd { margin: 0 } dd p { margin: 0 }
.loud { border: 3px solid #111; padding: .4em }
@page { size: A4; margin: 15mm } @media print { body { margin: 0; max-width: none } dl, table { break-inside: avoid } }
"""


def write(card: Card, path: Path) -> None:
    """Write the page. Raises JobError for a name that is no page's or a place that can't be written."""
    if path.suffix.lower() not in (".html", ".htm"):
        raise JobError(f"Can't write a page to {path}: let its name end in .html.")
    try:
        path.write_text(page(card), "utf-8")
    except OSError as error:
        raise JobError(f"Can't write the page {path} ({error.strerror}): give another folder.") from error


def page(card: Card) -> str:
    """Return the page."""
    title = escape(card.title)
    return "\n".join(
        [
            '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            f"<title>{title}</title><style>{_STYLE}</style></head><body>",
            f'<h1>{title}</h1><div class="made">{escape(card.made)}</div>',
            f'<div class="facts">{" · ".join(f"<span>{escape(fact)}</span>" for fact in card.facts)}</div>',
            *_list(card.first),
            *_table(card),
            *_list(card.sections),
            "</body></html>\n",
        ]
    )


def _table(card: Card) -> Iterator[str]:
    head = "".join(f'<th scope="col">{escape(cell)}</th>' for cell in HEAD)
    yield f"<table><thead><tr>{head}</tr></thead><tbody>"
    yield from (_row(row) for row in card.rows)
    yield f"</tbody><tfoot>{_row(card.foot)}</tfoot></table>"


def _row(cells: tuple[str, ...]) -> str:
    name, scald, *rest = map(escape, cells)
    return f'<tr><td>{name}</td><td class="scald">{scald}</td>{"".join(f"<td>{c}</td>" for c in rest)}</tr>'


def _list(sections: tuple[Section, ...]) -> Iterator[str]:
    if not sections:
        return
    yield "<dl>"
    for section in sections:
        loud = ' class="loud"' if section.loud else ""
        lines = "".join(f"<p>{escape(glued(line.whole))}</p>" for line in section.lines)
        yield f"<dt{loud}>{escape(section.label)}</dt><dd{loud}>{lines}</dd>"
    yield "</dl>"
