"""The report of a judged challenge as one typed document. Renderers set it; they decide nothing."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Final

from steadfeed.circuit.equipment import System
from steadfeed.reports import background, sections
from steadfeed.reports.blocks import Entries, Entry, Section
from steadfeed.reports.chart_data import strip_chart
from steadfeed.reports.clock import LogClock, utc_offset
from steadfeed.reports.feed_scale import FeedScale, feed_scale
from steadfeed.reports.numbers import Numbers, Units, gauge_zero
from steadfeed.reports.sentences import customer_sentence, good_news, headline
from steadfeed.reports.strip_chart import StripChart
from steadfeed.reports.wording import DISCLAIMER

if TYPE_CHECKING:
    from steadfeed.analysis.challenge import Judgement
    from steadfeed.physics.properties import Curves


@dataclass(frozen=True, slots=True)
class Provenance:
    """Where a report comes from, told by the caller: reports never ask the clock or the disk.

    log_name: as the person knows it. sha256, system_sha256: of the raw bytes, hexadecimal; None without a system file.
    method_version: "CODE+HASH". as_of: when the judgement was made, with an offset. site, unit: as the person calls them.
    """

    log_name: str
    sha256: str
    system_sha256: str | None
    method_version: str
    as_of: datetime
    site: str = ""
    unit: str = ""

    def __post_init__(self) -> None:
        if self.as_of.utcoffset() is None:
            raise ValueError("the time of a judgement needs an offset from UTC")


@dataclass(frozen=True, slots=True)
class Document:
    """Everything that a renderer needs, texts finished and charts as data.

    title: for the window and the PDF's metadata. place: unit and log, one line each. chart is None when no pressure could
    be drawn; chart_notes then say why. fingerprint: first digits of the raw log's hash.
    """

    title: str
    place: tuple[str, ...]
    headline: str
    news: str
    validity: str
    chart: StripChart | None
    chart_notes: tuple[str, ...]
    scale: FeedScale
    scale_note: str
    customer: str
    sections: tuple[Section, ...]
    disclaimer: str
    fingerprint: str
    as_of: datetime
    language: str = "en"


#: Said under every feed-held scale that has a mark.
_SCALE_NOTE: Final = (
    "The mark is the share of the push that the metering device cancelled; the bar is its interval at {level} %. "
    "Both may lie outside the scale."
)
_NO_FIGURE_NOTE: Final = (
    "The share of the push that the metering device cancelled could not be computed: "
    "a reading is missing, or the push moved the feed’s drive too little for these instruments."
)


def build(
    judgement: Judgement,
    system: System,
    curves: Curves | None,
    provenance: Provenance,
    *,
    units: Units = "us",
) -> Document:
    """Build the report of one judged circuit.

    curves: of the refrigerant in `system`, None when it is not known; then what would need them is not drawn.
    units: "us" (°F, psig) or "si" (°C, barg).
    """
    assessment = judgement.assessment
    numbers = Numbers(units, gauge_zero(judgement.recording, system))
    chart, chart_notes = strip_chart(judgement, system, curves, numbers)
    held = assessment.feed_held
    said = headline(assessment, system, units)
    parts = (
        sections.marks(judgement, system),
        sections.validity(assessment, system, numbers),
        sections.readings(assessment, numbers),
        sections.likelihood(assessment),
        sections.findings(judgement),
        sections.sensors(assessment),
        sections.standstill(judgement, numbers),
        sections.remarks(judgement, provenance.log_name),
        background.cautions(curves),
        background.unit(system, curves, numbers),
        background.instruments(judgement, system, numbers),
        background.sources(assessment, numbers),
        _record(judgement, provenance),
    )
    return Document(
        title=f"Challenge report: {assessment.verdict}",
        place=_place(judgement, provenance),
        headline=said,
        news=good_news(assessment, system).text,
        validity=sections.validity_summary(assessment),
        chart=chart,
        chart_notes=chart_notes,
        scale=feed_scale(held),
        scale_note=_NO_FIGURE_NOTE if held is None else _SCALE_NOTE.format(level=f"{100 * held.level:.0f}"),
        customer=customer_sentence(assessment, system),
        sections=tuple(section for section in parts if section is not None),
        disclaimer=DISCLAIMER,
        fingerprint=provenance.sha256[:12],
        as_of=provenance.as_of,
    )


def _place(judgement: Judgement, provenance: Provenance) -> tuple[str, ...]:
    circuit = judgement.assessment.circuit
    named = [part for part in (provenance.site, provenance.unit, f"circuit {circuit}" if circuit else "") if part]
    lines = [" · ".join(named)] if named else []
    lines.append(f"Log {provenance.log_name}")
    lines.append(LogClock.of(judgement.recording).when())
    return tuple(lines)


def _record(judgement: Judgement, provenance: Provenance) -> Section:
    """What anyone needs to make this judgement again."""
    offset = provenance.as_of.utcoffset()
    seconds = 0.0 if offset is None else offset.total_seconds()
    count = len(judgement.recording)
    rows = [
        Entry("Log", provenance.log_name),
        Entry("SHA-256 of the raw log", provenance.sha256, code=True),
        Entry(
            "SHA-256 of the system file",
            provenance.system_sha256 or "no system file",
            code=provenance.system_sha256 is not None,
        ),
        Entry("Method version", provenance.method_version, code=True),
        Entry("Readings", f"{count:,} times, {LogClock.of(judgement.recording).when()}"),
        Entry("Judged as of", f"{provenance.as_of:%Y-%m-%d %H:%M} ({utc_offset(seconds)})"),
    ]
    return Section("record", "Record", (Entries(tuple(rows)),))
