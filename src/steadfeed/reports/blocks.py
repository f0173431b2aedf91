"""The parts that a document is made of. Texts are finished; a renderer only sets them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Align = Literal["start", "end"]


@dataclass(frozen=True, slots=True)
class Text:
    """A paragraph. lead: words set bold before it."""

    text: str
    lead: str = ""


@dataclass(frozen=True, slots=True)
class Bullets:
    """A list of sentences. numbered: counted from 1, as the flags on the chart are."""

    items: tuple[str, ...]
    numbered: bool = False


@dataclass(frozen=True, slots=True)
class Entry:
    """A term and what stands against it. code: set in a fixed-width face (a hash)."""

    term: str
    text: str
    code: bool = False


@dataclass(frozen=True, slots=True)
class Entries:
    """A list of terms."""

    rows: tuple[Entry, ...]


@dataclass(frozen=True, slots=True)
class Column:
    """Head of a table column."""

    title: str
    align: Align = "start"


@dataclass(frozen=True, slots=True)
class Row:
    """A table row. header: first cell, names the row; note: a second line under it; strong: what the eye must not miss."""

    header: str
    cells: tuple[str, ...]
    note: str = ""
    strong: bool = False


@dataclass(frozen=True, slots=True)
class Table:
    """A table; every row has one cell less than there are columns (the header is the first)."""

    caption: str
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]

    def __post_init__(self) -> None:
        for row in self.rows:
            if len(row.cells) != len(self.columns) - 1:
                raise ValueError(f"row “{row.header}” has {len(row.cells)} cells for {len(self.columns)} columns")


@dataclass(frozen=True, slots=True)
class Item:
    """A part of a section with its own small heading."""

    title: str
    blocks: tuple[Text | Bullets | Entries, ...]


Block = Text | Bullets | Entries | Table | Item


@dataclass(frozen=True, slots=True)
class Section:
    """A headed part of the document. key: stable id, also the anchor in HTML."""

    key: str
    title: str
    blocks: tuple[Block, ...]
