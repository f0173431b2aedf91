"""A document as PDF, set by Typst: tagged, the same bytes for the same document on every machine.

Texts go in as data (JSON in a system input), never as markup. Only the fonts beside this module and those inside Typst
are used; a writing that none of them has is the one case in which the machine's fonts are asked.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from functools import cache
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Literal

from steadfeed.reports import feed_scale, strip_chart
from steadfeed.reports.blocks import Block, Bullets, Entries, Item, Table, Text
from steadfeed.reports.document import Document
from steadfeed.reports.numbers import keep_together

if TYPE_CHECKING:
    import typst

Page = Literal["letter", "a4"]
_PAPERS: Final[dict[Page, str]] = {"letter": "us-letter", "a4": "a4"}

_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")
_LONG_WORD = re.compile(r"\S{25,}")
_JOINT = re.compile(r"(?<=[_/\\.,;-])(?=\w)")
#: Longest log name or place in the running head; more is cut there and stands in full on the first page.
_RUNNING_LENGTH: Final = 80


def render_pdf(document: Document, *, page: Page = "letter") -> bytes:
    """Render a document as a tagged PDF (PDF/UA-1). page: "letter" or "a4"; raises ValueError for another."""
    if page not in _PAPERS:
        raise ValueError(f"a page is one of {', '.join(_PAPERS)}, got {page!r}")
    import typst  # 3 ms, and 80 MB that most commands do not need

    data = json.dumps(_data(document, page), ensure_ascii=False)
    # PDF/UA wants a glyph for every character: ask the machine's fonts before doing without the promise
    for system_fonts, standard in _ATTEMPTS:
        try:
            result = typst.compile(
                _template(),
                None,
                font_paths=_fonts(system_fonts),
                sys_inputs={"document": data},
                pdf_standards=standard,
                timestamp=document.as_of,
            )
        except typst.TypstError:
            if standard is None:
                raise
        else:
            return bytes(result)
    raise AssertionError("the last attempt returns or raises")


_ATTEMPTS: Final[tuple[tuple[bool, Literal["ua-1"] | None], ...]] = ((False, "ua-1"), (True, "ua-1"), (True, None))


@cache
def _template() -> bytes:
    return resources.files("steadfeed.reports").joinpath("templates", "report.typ").read_bytes()


@cache
def _fonts(system_fonts: bool) -> typst.Fonts:
    import typst

    return typst.Fonts(include_system_fonts=system_fonts, font_paths=[str(Path(__file__).parent / "fonts")])


def _data(d: Document, page: Page) -> dict[str, Any]:
    chart = None
    if d.chart is not None:
        chart = {"svg": strip_chart.draw(d.chart), "alt": _text(f"{d.chart.title}. {d.chart.description}")}
    return {
        "paper": _PAPERS[page],
        "language": d.language,
        "title": _text(d.title),
        "as_of": [d.as_of.year, d.as_of.month, d.as_of.day],
        "running": _shorten(_text(" · ".join(d.place[:-1]))),
        "place": [_text(line) for line in d.place],
        "headline": _text(d.headline),
        "news": _text(d.news),
        "validity": _text(d.validity),
        "chart": chart,
        "chart_notes": _text(" ".join(d.chart_notes)),
        "scale": {"svg": feed_scale.draw(d.scale), "alt": _text(f"{d.scale.title}. {d.scale.description}")},
        "scale_note": _text(d.scale_note),
        "customer": _text(d.customer),
        "sections": [{"title": _text(s.title), "blocks": _blocks(s.blocks)} for s in d.sections],
        "disclaimer": _text(d.disclaimer),
        "fingerprint": _text(d.fingerprint),
    }


def _blocks(blocks: Sequence[Block]) -> list[dict[str, Any]]:
    """Prepare blocks in turn; a text that leads to a table, and a table that a text explains, stay on one page."""
    return [
        {
            **_block(block),
            "sticky": isinstance(block, Text) is not isinstance(following, Text) and following is not None,
        }
        for block, following in zip(blocks, [*blocks[1:], None], strict=True)
    ]


def _block(block: Block) -> dict[str, Any]:
    match block:
        case Text(text, lead):
            return {"kind": "text", "text": _text(text), "lead": _text(lead)}
        case Bullets(items, numbered):
            return {"kind": "bullets", "items": [_text(item) for item in items], "numbered": numbered}
        case Entries(rows):
            return {
                "kind": "entries",
                "rows": [
                    {"term": _text(r.term), "text": _code(r.text) if r.code else _text(r.text), "code": r.code}
                    for r in rows
                ],
            }
        case Item(title, blocks):
            return {"kind": "item", "title": _text(title), "blocks": _blocks(blocks)}
        case Table():
            return _table(block)


def _table(table: Table) -> dict[str, Any]:
    return {
        "kind": "table",
        "caption": _text(table.caption),
        "columns": [{"title": _text(c.title), "align": c.align} for c in table.columns],
        "widths": _widths(table),
        "rows": [
            {
                "header": _text(row.header),
                "note": _text(row.note),
                "cells": [_text(cell) for cell in row.cells],
                "strong": row.strong,
            }
            for row in table.rows
        ],
    }


def _widths(table: Table) -> list[float]:
    """Share the page's width: 0 = as wide as its words, else parts of what is left."""
    shares = []
    for i, column in enumerate(table.columns[1:]):
        longest = max((len(row.cells[i]) for row in table.rows), default=0)
        shares.append(0.0 if column.align == "end" else 2.0 if longest > 40 else 1.0)
    return [2.0, *shares]


def _text(text: str) -> str:
    """Prepare a text: no control characters, numbers bound to units, long words breakable."""
    return _LONG_WORD.sub(_breakable, keep_together(_CONTROL.sub("\ufffd", text)))


def _code(text: str) -> str:
    """Prepare a hash: copied from the page it must be what it was, so it is only broken when it fits no line."""
    return _CONTROL.sub("\ufffd", text) if len(text) <= 72 else _text(text)


def _breakable(found: re.Match[str]) -> str:
    """Let a long word break after its own joints, and anywhere in what has none."""
    pieces = _JOINT.split(found[0])
    parts = [piece[i : i + 24] for piece in pieces for i in range(0, len(piece), 24)]
    return "\u200b".join(parts)


def _shorten(text: str) -> str:
    return text if len(text) <= _RUNNING_LENGTH else f"{text[: _RUNNING_LENGTH - 1].rstrip()}…"
