"""HTML and PDF: self-contained, accessible, safe with any text, the same on every machine.

The rules checked on HTML are those of WCAG 2.2 (1.1.1, 1.3.1, 1.4.6, 2.4.6, 3.1.1); on PDF the marks of ISO 14289-1
(tagged, language, title shown). Page sizes: ANSI/ASME Y14.1 A size (8.5 × 11 in), ISO 216 A4 (210 × 297 mm).
"""

from __future__ import annotations

import io
import itertools
import re
from collections import Counter
from dataclasses import replace
from html.parser import HTMLParser

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader
from pypdf.generic import DictionaryObject
from tests.unit.reports.report_doubles import (
    BY_HAND,
    PROVENANCE,
    ROOFTOP,
    channel_missing,
    document,
    early_fixed,
    fixed,
    long_log,
    not_valid,
    regulating,
    seven_rows,
    undecided,
)

from steadfeed.reports import strip_chart
from steadfeed.reports.html import render_html
from steadfeed.reports.pdf import render_pdf

CASES = {
    "regulating": (regulating, ROOFTOP),
    "fixed": (fixed, ROOFTOP),
    "undecided": (undecided, ROOFTOP),
    "not valid": (not_valid, ROOFTOP),
    "early": (early_fixed, ROOFTOP),
    "channel missing": (channel_missing, ROOFTOP),
    "seven rows": (seven_rows, BY_HAND),
    "two hours": (long_log, ROOFTOP),
}
VOID = {"meta", "br", "link", "img", "input", "hr"}


class Page(HTMLParser):
    """Reads a page strictly: every element closed in its order."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[tuple[str, str]] = []
        self.feed(text)
        self.close()
        assert self.open == [], f"left open: {self.open}"

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        names = [name for name, _ in attrs]
        assert len(names) == len(set(names)), f"doubled attribute on {tag}"
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open, f"</{tag}> closes nothing"
        assert self.open.pop() == tag, f"</{tag}> out of order"

    def handle_data(self, data: str) -> None:
        self.words.append((self.open[-1] if self.open else "", data))

    def all(self, tag: str) -> list[dict[str, str | None]]:
        return [attrs for name, attrs in self.tags if name == tag]

    def text(self, tag: str) -> list[str]:
        return [data for name, data in self.words if name == tag]


@pytest.fixture(params=list(CASES))
def case(request: pytest.FixtureRequest) -> str:
    return str(request.param)


def made(case: str):  # type: ignore[no-untyped-def]
    judgement, system = CASES[case]
    return document(judgement(), system)


# -- HTML --------------------------------------------------------------------------------------------------------------
def test_html_is_whole_and_asks_for_nothing(case: str) -> None:
    text = render_html(made(case))
    page = Page(text)
    assert page.all("script") == []
    assert page.all("link") == []
    assert page.all("img") == []
    assert set(re.findall(r"https?://[^\"'\s)<]*", text)) == {"http://www.w3.org/2000/svg"}
    assert re.findall(r"url\((?!data:)", text) == []
    assert "default-src 'none'" in (page.all("meta")[2].get("content") or "")
    assert len(text) < 160_000


def test_html_has_one_language_one_title_and_headings_in_order(case: str) -> None:
    d = made(case)
    page = Page(render_html(d))
    assert page.all("html") == [{"lang": "en"}]
    levels = [int(tag[1]) for tag, _ in page.tags if re.fullmatch("h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in itertools.pairwise(levels))
    assert Counter(tag for tag, _ in page.tags)["main"] == 1
    ids = [attrs["id"] for _, attrs in page.tags if "id" in attrs]
    assert len(ids) == len(set(ids))
    named = {part for _, attrs in page.tags for part in (attrs.get("aria-labelledby") or "").split()}
    assert named <= set(ids)
    assert "".join(page.text("h1")).replace("\u00a0", " ") == d.headline


def test_html_tables_name_their_rows_and_columns(case: str) -> None:
    page = Page(render_html(made(case)))
    tables = len(page.all("table"))
    assert tables == len(page.all("caption"))
    assert tables >= 2
    scopes = Counter(attrs.get("scope") for attrs in page.all("th"))
    assert set(scopes) == {"row", "col"}
    assert scopes["row"] >= 4


def test_html_holds_the_drawings_for_both_widths(case: str) -> None:
    d = made(case)
    text = render_html(d)
    assert strip_chart.draw(d.chart) in text, "the very drawing that the PDF has"
    page = Page(text)
    drawings = page.all("svg")
    assert len(drawings) == 4
    assert all(attrs.get("role") == "img" for attrs in drawings)
    assert len(page.all("figure")) == 2


def contrast(one: str, other: str) -> float:
    """WCAG 2.2 contrast ratio."""

    def luminance(colour: str) -> float:
        channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_every_colour_is_readable_outdoors() -> None:
    text = render_html(made("regulating"))
    colours = set(re.findall(r"#[0-9A-F]{6}\b", text)) - {"#FAF8F2", "#FFFFFF"}
    assert colours == {"#16181D", "#474C54", "#0A3E8C", "#9E1216"}
    assert min(contrast(colour, ground) for colour in colours for ground in ("#FAF8F2", "#FFFFFF")) >= 7.0


HOSTILE = "<script>alert(1)</script> & \"q\" 's' #strong[x] $y$ @ref *a* _b_ `c` \\u{41} // ]] /* --> \x00\x07\x1b"


def test_no_text_is_ever_markup() -> None:
    d = document(regulating(), provenance=replace(PROVENANCE, log_name=HOSTILE, site=HOSTILE, unit=HOSTILE))
    text = render_html(d)
    page = Page(text)
    assert page.all("script") == []
    assert "\x00" not in text
    assert any(HOSTILE.split(" &")[0] in words for words in page.text("li"))
    paper = pdf_text(render_pdf(d))
    for piece in ("<script>alert(1)</script>", "#strong[x]", "$y$", "@ref", "*a*", "_b_"):
        assert piece in paper


@settings(max_examples=30)
@given(st.text(max_size=120), st.text(max_size=120))
def test_any_name_can_be_on_the_html(log_name: str, site: str) -> None:
    Page(render_html(document(channel_missing(), provenance=replace(PROVENANCE, log_name=log_name, site=site))))


# -- PDF ---------------------------------------------------------------------------------------------------------------
def pdf_text(data: bytes) -> str:
    text = "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(data)).pages)
    return text.replace("\u00a0", " ").replace("\u200b", "")


def squeezed(text: str) -> str:
    return re.sub(r"\s", "", text)


def test_pdf_holds_every_text_of_the_document(case: str) -> None:
    d = made(case)
    text = squeezed(pdf_text(render_pdf(d)))
    for wanted in (d.headline, d.news, d.validity, d.customer, d.disclaimer, d.scale_note, *d.place, *d.chart_notes):
        assert squeezed(wanted) in text
    for part in d.sections:
        assert squeezed(part.title) in text
    assert squeezed(PROVENANCE.sha256) in text, "a hash copied from the page is the hash"


@pytest.mark.parametrize(("page", "width", "height"), [("letter", 612.0, 792.0), ("a4", 595.28, 841.89)])
def test_pdf_pages_have_the_size_asked_for(page: str, width: float, height: float) -> None:
    for name in ("regulating", "not valid"):
        reader = PdfReader(io.BytesIO(render_pdf(made(name), page=page)))  # type: ignore[arg-type]
        assert 3 <= len(reader.pages) <= 6
        for sheet in reader.pages:
            assert float(sheet.mediabox.width) == pytest.approx(width, abs=0.1)
            assert float(sheet.mediabox.height) == pytest.approx(height, abs=0.1)


def test_pdf_is_tagged_and_says_its_language_and_title(case: str) -> None:
    reader = PdfReader(io.BytesIO(render_pdf(made(case))))
    root = reader.trailer["/Root"]
    assert isinstance(root, DictionaryObject)
    assert root["/MarkInfo"]["/Marked"]  # type: ignore[index]
    assert "/StructTreeRoot" in root
    assert str(root["/Lang"]).startswith("en")
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]  # type: ignore[index]
    assert b"pdfuaid:part" in root["/Metadata"].get_data()  # type: ignore[union-attr]
    assert reader.metadata is not None
    assert (reader.metadata.title or "").startswith("Challenge report")
    assert reader.metadata.creation_date is not None
    assert reader.metadata.creation_date.date() == PROVENANCE.as_of.date()


def structure(reader: PdfReader) -> Counter[str]:
    """Count the structure elements of a tagged PDF by kind, and the figures that tell what they show."""
    seen: Counter[str] = Counter()

    def walk(node: object) -> None:
        item = node.get_object() if hasattr(node, "get_object") else node
        if isinstance(item, list):
            for part in item:
                walk(part)
        elif isinstance(item, DictionaryObject):
            kind = str(item.get("/S", ""))
            seen[kind] += 1
            if kind == "/Figure" and item.get("/Alt"):
                seen["told figure"] += 1
            if "/K" in item:
                walk(item["/K"])

    walk(reader.trailer["/Root"]["/StructTreeRoot"]["/K"])  # type: ignore[index]
    return seen


def test_pdf_has_headings_tables_and_figures_that_are_told(case: str) -> None:
    d = made(case)
    seen = structure(PdfReader(io.BytesIO(render_pdf(d))))
    assert seen["/H1"] == 1
    assert seen["/H2"] == len(d.sections) + 1, "one for the customer"
    assert seen["/Table"] >= 2
    assert seen["/TH"] > 0
    assert seen["/Figure"] == seen["told figure"] == 2


def test_pdf_is_the_same_every_time_and_set_in_shipped_fonts() -> None:
    d = made("regulating")
    data = render_pdf(d)
    assert render_pdf(d) == data
    fonts = set(re.findall(rb"/BaseFont\s*/([A-Z]{6}\+)?([A-Za-z-]+)", data)) or {
        (b"", str(font.get_object()["/BaseFont"]).split("+")[-1].encode())
        for page in PdfReader(io.BytesIO(data)).pages
        for font in page["/Resources"]["/Font"].values()
    }
    names = {name.decode() for _, name in fonts}
    assert {name.split("-")[0] for name in names} <= {"PublicSans", "DejaVuSansMono", "LibertinusSerif"}
    assert any(name.startswith("PublicSans") for name in names)


def test_pdf_in_a_writing_that_no_shipped_font_has_is_made_all_the_same() -> None:
    d = document(regulating(), provenance=replace(PROVENANCE, site="屋上の機械室 🙂", unit="дом Ωμέγα ≥ →"))
    data = render_pdf(d)
    assert "дом" in pdf_text(data)
    assert PdfReader(io.BytesIO(data)).trailer["/Root"]["/MarkInfo"]["/Marked"]  # type: ignore[index]


def test_pdf_of_very_long_names_stays_on_its_pages() -> None:
    long = replace(
        PROVENANCE,
        log_name="2025-05-08_" + "a_log_name_without_a_blank_" * 6 + ".csv",
        site="Administration building of the regional water works, northern district " * 3,
        unit="x" * 200,
    )
    d = document(regulating(), provenance=long)
    reader = PdfReader(io.BytesIO(render_pdf(d)))
    right = []
    for sheet in reader.pages:

        def see(text: str, _cm: list[float], tm: list[float], _font: object, size: float) -> None:
            if text.strip():
                right.append(tm[4] + 0.3 * size * min(len(text.strip()), 3))

        sheet.extract_text(visitor_text=see)
    assert right
    assert max(right) < 612 - 0.8 * 72 + 6
    assert squeezed(long.log_name) in squeezed(pdf_text(render_pdf(d)))


def test_another_page_is_refused() -> None:
    with pytest.raises(ValueError, match="letter, a4"):
        render_pdf(made("regulating"), page="legal")  # type: ignore[arg-type]
