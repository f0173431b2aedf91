"""A document on a terminal: the same texts as on paper, set by Rich, without the charts."""

from __future__ import annotations

from collections import Counter
from collections.abc import Container, Iterable, Iterator
from typing import Final

from rich.box import SIMPLE_HEAD
from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table as RichTable
from rich.text import Text as RichText

from steadfeed.reports.blocks import Block, Bullets, Entries, Item, Row, Section, Table, Text
from steadfeed.reports.document import Document

#: What a person at a terminal wants first; the papers hold the rest.
FIRST_SECTIONS: Final = ("validity", "readings", "likelihood", "findings", "remarks")
#: What `--sources` adds.
SOURCE_SECTIONS: Final = ("sources", "record")

#: Longer lines are hard to read, and tables fall apart.
_WIDEST: Final = 100


def print_document(document: Document, console: Console, sections: Container[str] = FIRST_SECTIONS) -> None:
    """Print a document: the sentence first, then the named sections in the document's order."""
    width = min(console.width, _WIDEST)
    console.print(RichText(document.headline, style="bold"), width=width)
    console.print(RichText(document.news), width=width)
    console.print(RichText(" · ".join(document.place), style="dim"), width=width)
    for section in document.sections:
        if section.key in sections:
            console.print()
            console.print(_section(section), width=width)
    console.print()
    console.print(RichText(document.disclaimer, style="dim"), width=width)


def _section(section: Section) -> RenderableType:
    return Group(RichText(section.title, style="bold underline"), *_blocks(section.blocks))


def _blocks(blocks: Iterable[Block]) -> Iterator[RenderableType]:
    for block in blocks:
        match block:
            case Text(text, lead):
                yield RichText.assemble((f"{lead} " if lead else "", "bold"), text)
            case Bullets(items, numbered):
                for number, item in enumerate(items, 1):
                    yield _hanging(f"{number}." if numbered else "–", RichText(item))
            case Entries(rows):
                for row in rows:
                    yield _hanging("", RichText.assemble((f"{row.term}: " if row.term else "", "bold"), row.text))
            case Item(title, inner):
                yield RichText(title, style="bold")
                for part in _blocks(inner):
                    yield Padding(part, (0, 0, 0, 2))
            case Table():
                yield _table(block)


def _hanging(mark: str, text: RichText) -> RenderableType:
    """Set a text so that its further lines begin where the first does."""
    grid = RichTable.grid(padding=(0, 1))
    grid.add_column(width=max(1, len(mark)))
    grid.add_column()
    grid.add_row(mark, text)
    return grid


def _table(table: Table) -> RenderableType:
    out = RichTable(box=SIMPLE_HEAD, pad_edge=False, show_edge=False)
    for column in table.columns:
        out.add_column(column.title, justify="right" if column.align == "end" else "left")
    headers = Counter(row.header for row in table.rows)
    for row in table.rows:
        out.add_row(
            _name(row, noted=headers[row.header] > 1),
            *(RichText(cell) for cell in row.cells),
            style="bold" if row.strong else None,
        )
    return out


def _name(row: Row, *, noted: bool) -> RichText:
    """The row's name; its note only where the eye must not miss it or the name says too little: terminals are short."""
    if row.note and (row.strong or noted):
        return RichText.assemble(row.header, (f"\n{row.note}", "not bold dim"))
    return RichText(row.header)
