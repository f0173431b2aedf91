"""Labels for units: tag, place and a QR code, on sheets of thirty."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any, Final, Literal

from steadfeed.errors import FixInput
from steadfeed.visit.session import Session, find_unit, store_part_missing

#: 30 labels of 2⅝ × 1 in on US Letter: columns, rows, label width and height, gaps, margins [in].
_LETTER: Final = {"columns": 3, "rows": 10, "width": 2.625, "height": 1.0, "gap": 0.125, "left": 0.1875, "top": 0.5}
#: 24 labels of 64 × 34 mm on A4 [in].
_A4: Final = {"columns": 3, "rows": 8, "width": 64 / 25.4, "height": 34 / 25.4, "gap": 0.1, "left": 0.28, "top": 0.48}
_PAPERS: Final = {"us-letter": _LETTER, "a4": _A4}


def label_text(unit_id: str) -> str:
    """Return what a label's QR code says: letters that the code packs tightly, no address of any server."""
    return f"STEADFEED:UNIT:{unit_id.upper()}"


def label_sheet(
    session: Session,
    references: Sequence[str] = (),
    *,
    paper: str = "us-letter",
    form: Literal["pdf", "png"] = "pdf",
    skip: int = 0,
) -> bytes:
    """Return a sheet of labels as PDF (or PNG of its first page). references: units, by tag or identity; none: all.

    skip: labels at the start of a sheet that was begun. Raises FixInput for an unknown paper or when there is no unit.
    """
    from steadfeed.records import pages

    if paper not in _PAPERS:
        raise FixInput(f"Labels come on {', '.join(_PAPERS)}; “{paper}” is unknown", code="unknown word")
    with session.store.reading() as t:
        ids = [find_unit(t, reference) for reference in references] if references else None
        units = pages.units_listed(t, ids)
    if not units:
        raise FixInput("There is no unit to label", code="no such unit")
    return _print(units, _PAPERS[paper], paper, form, skip)


def _print(
    units: Sequence[dict[str, Any]], sheet: dict[str, float], paper: str, form: Literal["pdf", "png"], skip: int
) -> bytes:
    import typst

    try:
        import segno
    except ModuleNotFoundError as error:
        raise store_part_missing() from error

    labels: list[dict[str, Any] | None] = [None] * skip
    for unit in units:
        code = segno.make(label_text(unit["unit_id"]), error="m", micro=False)
        labels.append(
            {
                "code": code.svg_inline(scale=4, border=2),
                "tag": str(unit["tag"] or unit["unit_id"][:8]),
                "lines": [str(line) for line in (unit["place"], unit["site"]) if line],
                "serial": f"serial {unit['serial']}" if unit["serial"] else "",
            }
        )
    # What people typed is data, never markup.
    inputs = {"labels": json.dumps(labels), "sheet": json.dumps({**sheet, "paper": paper})}
    made: Any = typst.compile(_TEMPLATE.encode(), sys_inputs=inputs, format=form)
    return bytes(made[0] if isinstance(made, list) else made)


_TEMPLATE: Final = """
#let sheet = json(bytes(sys.inputs.sheet))
#let labels = json(bytes(sys.inputs.labels))
#set document(title: "Unit labels")
#set page(paper: sheet.paper, margin: (left: sheet.left * 1in, top: sheet.top * 1in, right: 0in, bottom: 0in))
#set text(size: 8pt, number-type: "lining")
#let one(label) = box(width: sheet.width * 1in, height: sheet.height * 1in, clip: true, {
  if label != none {
    grid(columns: (sheet.height * 1in, 1fr), align: horizon, gutter: 4pt,
      image(bytes(label.code), format: "svg", height: (sheet.height - 0.08) * 1in, alt: "QR code of unit " + label.tag),
      block({
        text(size: 13pt, weight: "bold", label.tag)
        for line in label.lines { linebreak(); text(line) }
        if label.serial != "" { linebreak(); text(size: 7pt, label.serial) }
      }))
  }
})
#let per = int(sheet.columns * sheet.rows)
#for page in range(calc.ceil(labels.len() / per)) {
  if page > 0 { pagebreak() }
  grid(columns: int(sheet.columns) * (sheet.width * 1in,), column-gutter: sheet.gap * 1in, row-gutter: 0pt,
    ..labels.slice(page * per, calc.min(labels.len(), (page + 1) * per)).map(one))
}
"""
