"""What a report says, and how its HTML is built, held still: a change shows as a change to be read.

Numbers come from the coefficient file and are rounded to what is shown; the drawings and the fonts are left out.
"""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from syrupy.assertion import SnapshotAssertion
from tests.unit.reports.report_doubles import (
    BY_HAND,
    ROOFTOP,
    channel_missing,
    document,
    early_fixed,
    fixed,
    not_valid,
    regulating,
    seven_rows,
    undecided,
)

from steadfeed.circuit.equipment import MeteringDevice
from steadfeed.reports.blocks import Block, Bullets, Entries, Item, Table, Text
from steadfeed.reports.document import Document
from steadfeed.reports.html import render_html

PISTON = replace(ROOFTOP, metering_device=MeteringDevice.FIXED_ORIFICE)

CASES = {
    "TXV that regulates": lambda: document(regulating()),
    "piston that is fixed": lambda: document(fixed(), PISTON),
    "TXV that is fixed": lambda: document(fixed()),
    "undecided, SI": lambda: document(undecided(), units="si"),
    "not valid for three reasons": lambda: document(not_valid()),
    "called early": lambda: document(early_fixed()),
    "channel missing": lambda: document(channel_missing()),
    "seven rows by hand": lambda: document(seven_rows(), BY_HAND),
}


def outline(made: Document) -> str:
    """Write a document as plain lines."""
    lines = [*made.place, "", f"# {made.headline}", made.news, made.validity, ""]
    if made.chart is not None:
        bands = ", ".join(band.word for band in made.chart.bands)
        lines += [f"[{made.chart.title}: {', '.join(pen.name for pen in made.chart.pens)}; {bands}]"]
    lines += [*made.chart_notes, f"[{made.scale.words}] {made.scale_note}", f"Customer: {made.customer}"]
    for part in made.sections:
        lines += ["", f"## {part.title} ({part.key})"]
        for block in part.blocks:
            lines += lines_of(block)
    return "\n".join([*lines, "", made.disclaimer])


def lines_of(block: Block) -> list[str]:
    match block:
        case Text(text, lead):
            return [f"{lead} {text}".strip()]
        case Bullets(items, numbered):
            return [f"{f'{i}.' if numbered else '-'} {item}" for i, item in enumerate(items, start=1)]
        case Entries(rows):
            return [f"{row.term}: {row.text}" for row in rows if row.term != "Properties"]
        case Table():
            head = " | ".join(column.title for column in block.columns)
            body = [
                f"{'* ' if row.strong else ''}{row.header} [{row.note}] | {' | '.join(row.cells)}" for row in block.rows
            ]
            return [f"<{block.caption}>", head, *body]
        case Item(title, parts):
            return [f"### {title}", *(line for part in parts for line in lines_of(part))]


@pytest.mark.parametrize("name", list(CASES))
def test_what_the_report_says(name: str, snapshot: SnapshotAssertion) -> None:
    assert outline(CASES[name]()) == snapshot


def test_how_the_html_is_built(snapshot: SnapshotAssertion) -> None:
    text = render_html(CASES["not valid for three reasons"]())
    text = re.sub(r"<style>.*?</style>", "<style/>", text, flags=re.DOTALL)
    text = re.sub(r"<svg.*?</svg>", "<svg/>", text, flags=re.DOTALL)
    text = re.sub(r"<dt>Properties</dt><dd>.*?</dd>", "", text)
    assert re.sub(r"(</(?:tr|p|li|dd|h[1-6]|thead|caption|figure|section)>)", r"\1\n", text) == snapshot
