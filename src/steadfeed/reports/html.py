"""A document as one self-contained HTML file: no script, no request to anywhere, readable at any width and in print."""

from __future__ import annotations

import re
from base64 import b64encode
from functools import cache
from html import escape
from importlib import resources

from steadfeed.reports import feed_scale, strip_chart
from steadfeed.reports.blocks import Block, Bullets, Entries, Item, Row, Section, Table, Text
from steadfeed.reports.document import Document
from steadfeed.reports.numbers import keep_together

_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")


def render_html(document: Document) -> str:
    """Render a document as one HTML file. Every text is escaped; nothing in it is ever taken for markup."""
    d = document
    main = [_header(d), '<main id="report">', _figures(d), _customer(d), *(_section(s) for s in d.sections), "</main>"]
    footer = f"<footer><p>{_text(d.disclaimer)}</p><p>Log {_text(d.fingerprint)}…, judged as of {d.as_of:%Y-%m-%d}.</p></footer>"
    return (
        f'<!DOCTYPE html>\n<html lang="{escape(d.language)}">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        '<meta http-equiv="Content-Security-Policy" '
        "content=\"default-src 'none'; style-src 'unsafe-inline'; font-src data:\">\n"
        '<meta name="generator" content="steadfeed">\n'
        f"<title>{_text(d.title)}</title>\n<style>\n{_styles()}</style>\n</head>\n<body>\n"
        f'<div class="page">\n{"".join(main)}{footer}\n</div>\n</body>\n</html>\n'
    )


@cache
def _styles() -> str:
    """Return the style sheet with the fonts in it."""
    package = resources.files("steadfeed.reports")
    faces = []
    for style, weight in (("Regular", 400), ("Bold", 700)):
        data = b64encode(package.joinpath("fonts", f"PublicSans-{style}.woff2").read_bytes()).decode("ascii")
        faces.append(
            f'@font-face{{font-family:"Public Sans";font-weight:{weight};'
            f'src:url(data:font/woff2;base64,{data}) format("woff2")}}\n'
        )
    return "".join(faces) + package.joinpath("templates", "report.css").read_text(encoding="utf-8")


def _text(text: str) -> str:
    return escape(keep_together(_CONTROL.sub("\ufffd", text)))


def _header(d: Document) -> str:
    place = "".join(f"<li>{_text(line)}</li>" for line in d.place)
    return (
        f'<header>\n<p class="kind"><b>Challenge report</b><span>steadfeed</span></p>\n<ul class="place">{place}</ul>\n'
        f'<h1>{_text(d.headline)}</h1>\n<p class="news">{_text(d.news)}</p>\n<p>{_text(d.validity)}</p>\n</header>\n'
    )


def _figures(d: Document) -> str:
    parts = []
    notes = _text(" ".join(d.chart_notes))
    if d.chart is None:
        parts.append(f"<p>{notes}</p>\n")
    else:
        wide = strip_chart.draw(d.chart, strip_chart.WIDE, "strip")
        narrow = strip_chart.draw(d.chart, strip_chart.NARROW, "strip-narrow")
        caption = f"<figcaption>{notes}</figcaption>" if notes else ""
        parts.append(f"<figure>{_both(wide, narrow)}{caption}</figure>\n")
    wide = feed_scale.draw(d.scale, feed_scale.WIDE, "scale")
    narrow = feed_scale.draw(d.scale, feed_scale.NARROW, "scale-narrow")
    parts.append(f"<figure>{_both(wide, narrow)}<figcaption>{_text(d.scale_note)}</figcaption></figure>\n")
    return "".join(parts)


def _both(wide: str, narrow: str) -> str:
    """Show one of two drawings of the same thing, by the width of the page."""
    return f'<div class="wide">{wide}</div><div class="narrow">{narrow}</div>'


def _customer(d: Document) -> str:
    return (
        '<section class="customer" aria-labelledby="customer"><h2 id="customer">For the customer</h2>'
        f"<p>{_text(d.customer)}</p></section>\n"
    )


def _section(section: Section) -> str:
    blocks = "".join(_block(block) for block in section.blocks)
    key = escape(section.key)
    return f'<section aria-labelledby="{key}"><h2 id="{key}">{_text(section.title)}</h2>\n{blocks}</section>\n'


def _block(block: Block) -> str:
    match block:
        case Text(text, lead):
            return f"<p>{f'<b>{_text(lead)}</b> ' if lead else ''}{_text(text)}</p>\n"
        case Bullets(items, numbered):
            tag = "ol" if numbered else "ul"
            return f"<{tag}>{''.join(f'<li>{_text(item)}</li>' for item in items)}</{tag}>\n"
        case Entries(rows):
            return f"<dl>{''.join(f'<dt>{_text(r.term)}</dt><dd>{_entry(r.text, r.code)}</dd>' for r in rows)}</dl>\n"
        case Table():
            return _table(block)
        case Item(title, blocks):
            return f"<h3>{_text(title)}</h3>\n{''.join(_block(part) for part in blocks)}"


def _entry(text: str, code: bool) -> str:
    return f"<code>{_text(text)}</code>" if code else _text(text)


def _table(table: Table) -> str:
    head = "".join(f'<th scope="col"{_align(c.align)}>{_text(c.title)}</th>' for c in table.columns)
    rows = "".join(_row(row, table) for row in table.rows)
    return (
        f"<table><caption>{_text(table.caption)}</caption><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>\n"
    )


def _row(row: Row, table: Table) -> str:
    note = f'<span class="note">{_text(row.note)}</span>' if row.note else ""
    cells = "".join(
        f"<td{_align(column.align)}>{_text(cell)}</td>"
        for cell, column in zip(row.cells, table.columns[1:], strict=True)
    )
    strong = ' class="strong"' if row.strong else ""
    return f'<tr{strong}><th scope="row"><span class="name">{_text(row.header)}</span>{note}</th>{cells}</tr>'


def _align(align: str) -> str:
    return ' class="end"' if align == "end" else ""
