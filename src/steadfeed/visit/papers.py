"""From a judged log to what people read: the sentence, the terminal's print, the report as HTML and PDF."""

from __future__ import annotations

import datetime
import errno
import os
import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from steadfeed.errors import FixInput, SteadfeedError, TryAgain

if TYPE_CHECKING:
    from rich.console import Console

    from steadfeed.analysis.challenge import Judgement
    from steadfeed.reports.document import Document
    from steadfeed.visit.judge_log import JudgedLog

Units = Literal["us", "si"]
Page = Literal["letter", "a4"]

#: What a circuit's name may not bring into a file's name.
_SAFE = re.compile(r"[^\w-]+")


@dataclass(frozen=True, slots=True)
class Summary:
    """A judgement in one row. feed_held: as text, "" when it cannot be computed."""

    log: str
    circuit: str
    verdict: str
    valid: bool
    early: bool
    reasons: tuple[str, ...]
    feed_held: str


def summary(judged: JudgedLog) -> Summary:
    """Return the row of a judged circuit in a table of many."""
    from steadfeed.reports.numbers import feed_held

    assessment = judged.judgement.assessment
    return Summary(
        log=judged.log,
        circuit=assessment.circuit or "",
        verdict=assessment.verdict,
        valid=assessment.valid,
        early=assessment.early,
        reasons=assessment.reasons,
        feed_held="" if assessment.feed_held is None else feed_held(assessment.feed_held),
    )


def headline(judged: JudgedLog, units: Units = "us") -> str:
    """Say the judgement in one or two sentences."""
    from steadfeed.reports import sentences

    return sentences.headline(judged.judgement.assessment, judged.system, units)


def document(judged: JudgedLog, *, units: Units = "us", as_of: datetime.datetime | None = None) -> Document:
    """Build the report of a judged circuit as a typed document. as_of: when it was judged, with offset; now if None."""
    from steadfeed.reports.document import Provenance, build

    provenance = Provenance(
        log_name=Path(judged.log).name,
        sha256=judged.sha256,
        system_sha256=judged.system_sha256,
        method_version=judged.method_version,
        as_of=(as_of or datetime.datetime.now().astimezone()).replace(microsecond=0),
    )
    return build(_in_units(judged, units), judged.system, judged.curves, provenance, units=units)


def _in_units(judged: JudgedLog, units: Units) -> Judgement:
    """The judgement with the sentences of its findings in these units; they were made in US units."""
    judgement = judged.judgement
    if units == "us" or not judgement.assessment.findings or judgement.trace is None:
        return judgement
    from steadfeed.analysis.diagnosis.of_challenge import with_findings

    return with_findings(judgement, judged.system, judged.curves, units=units)


def print_judgement(judged: JudgedLog, console: Console, *, units: Units = "us", sources: bool = False) -> None:
    """Print a judged circuit on a terminal. sources: also where each threshold comes from, and the hashes."""
    from steadfeed.reports.terminal import FIRST_SECTIONS, SOURCE_SECTIONS, print_document

    wanted = (*FIRST_SECTIONS, *SOURCE_SECTIONS) if sources else FIRST_SECTIONS
    print_document(document(judged, units=units), console, wanted)


def make_folder(folder: Path) -> None:
    """Make the folder of the reports before any work is done for them. Raises FixInput when it cannot be written."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if not os.access(folder, os.W_OK | os.X_OK):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))
    except OSError as error:
        raise _not_written(folder, error) from error


def write_reports(
    judged: JudgedLog,
    folder: str | os.PathLike[str],
    *,
    name: str | os.PathLike[str] | None = None,
    units: Units = "us",
    page: Page = "letter",
    as_of: datetime.datetime | None = None,
) -> tuple[Path, Path]:
    """Write the report of a judged circuit as HTML and as PDF; return their paths.

    folder is made when it is not there. name: path without ending under it; the log's own name if None. A circuit is
    added to the name. Raises FixInput when the folder cannot be written, TryAgain when the disk is full.
    """
    from steadfeed.reports.html import render_html
    from steadfeed.reports.pdf import render_pdf

    circuit = judged.judgement.assessment.circuit
    base = Path(folder) / (name if name is not None else Path(judged.log).stem)
    stem = f"{base.name}-{_SAFE.sub('-', circuit)}" if circuit else base.name
    html, pdf = base.with_name(f"{stem}.html"), base.with_name(f"{stem}.pdf")
    made = document(judged, units=units, as_of=as_of)
    try:
        base.parent.mkdir(parents=True, exist_ok=True)
        html.write_text(render_html(made), encoding="utf-8")
        pdf.write_bytes(render_pdf(made, page=page))
    except OSError as error:
        raise _not_written(base.parent, error) from error
    return html, pdf


def _not_written(folder: Path, error: OSError) -> SteadfeedError:
    reason = (error.strerror or str(error)).lower()
    kind = TryAgain if error.errno == errno.ENOSPC else FixInput
    return kind(
        f"The reports could not be written into {folder} ({reason}); choose another folder or make room",
        code="not written",
        where=str(folder),
    )
