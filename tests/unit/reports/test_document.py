"""The document: complete, true to the assessment, and never asking the clock."""

from __future__ import annotations

import ast
from dataclasses import FrozenInstanceError, replace
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
from tests.unit.reports.report_doubles import (
    BY_HAND,
    PROVENANCE,
    PSI,
    R410A,
    ROOFTOP,
    F,
    channel_missing,
    document,
    early_fixed,
    fixed,
    long_log,
    not_valid,
    recording,
    regulating,
    seven_rows,
    spread,
    undecided,
)

import steadfeed.reports
from steadfeed.analysis.challenge import Judgement, judge
from steadfeed.analysis.criteria import CRITERIA
from steadfeed.circuit.equipment import Instruments, MeteringDevice, Site
from steadfeed.circuit.phase import Phases
from steadfeed.circuit.recording import Recording, Remark
from steadfeed.circuit.verdict import STATES, Check, Measured
from steadfeed.physics.properties import curves
from steadfeed.reports.blocks import Block, Bullets, Column, Entries, Item, Row, Section, Table, Text
from steadfeed.reports.document import Document, Provenance

STATES_OF_THE_TEST = {
    "regulating": regulating,
    "fixed": fixed,
    "undecided": undecided,
    "not valid": not_valid,
    "early": early_fixed,
    "channel missing": channel_missing,
    "seven rows": seven_rows,
    "two hours": long_log,
}


def section(made: Document, key: str) -> Section:
    return next(part for part in made.sections if part.key == key)


def texts(blocks: tuple[Block, ...]) -> list[str]:
    """Every text of some blocks."""
    out: list[str] = []
    for block in blocks:
        match block:
            case Text(text, lead):
                out += [lead, text]
            case Bullets(items):
                out += items
            case Entries(rows):
                out += [word for row in rows for word in (row.term, row.text)]
            case Table():
                out += [block.caption, *(column.title for column in block.columns)]
                out += [word for row in block.rows for word in (row.header, row.note, *row.cells)]
            case Item(title, parts):
                out += [title, *texts(parts)]
    return out


def told(made: Document, key: str) -> str:
    return " | ".join(texts(section(made, key).blocks))


def table(made: Document, key: str) -> Table:
    return next(block for block in section(made, key).blocks if isinstance(block, Table))


@pytest.mark.parametrize("name", list(STATES_OF_THE_TEST))
@pytest.mark.parametrize("units", ["us", "si"])
def test_every_state_of_a_test_makes_a_document_without_holes(name: str, units: str) -> None:
    made = document(STATES_OF_THE_TEST[name](), units=units)  # type: ignore[arg-type]
    keys = [part.key for part in made.sections]
    assert len(keys) == len(set(keys))
    assert set(keys) >= {
        "validity", "readings", "likelihood", "sensors", "standstill", "remarks", "cautions", "unit", "instruments", "record",
    }  # fmt: skip
    everything = [made.headline, made.news, made.validity, made.customer, made.disclaimer, made.scale_note, *made.place]
    for part in made.sections:
        everything += [part.title, *texts(part.blocks)]
    for text in everything:
        assert "nan" not in text.lower().split()
        assert "None" not in text
        assert "{" not in text
        assert "  " not in text
    assert all(block != Text("") for part in made.sections for block in part.blocks)


def test_us_and_si_do_not_mix() -> None:
    judgement = regulating()
    plain = replace(
        judgement,
        assessment=replace(judgement.assessment, sensors={}, notes=(), would_change=()),
    )
    for units, foreign in (("us", (" K", "°C", "bar", " kg")), ("si", ("°F", "psi ", "psig ", " ft", " oz"))):
        made = document(plain, units=units)  # type: ignore[arg-type]
        shown = [made.headline, *made.chart_notes]
        for part in made.sections:
            if part.key not in ("instruments", "record", "sources"):
                shown += texts(part.blocks)
        for text in shown:
            assert not any(f"{text} ".endswith(f"{word} ") or f"{word} " in text for word in foreign), text


def test_readings_carry_their_expanded_uncertainty_and_their_change() -> None:
    rows = {row.header: row.cells for row in table(document(regulating()), "readings").rows}
    assert rows["Head pressure, psig"] == ("341.1 ± 2.4", "436.5 ± 2.4", "342.0 ± 2.4", "+95.4")
    assert rows["Superheat, °F"][3].startswith("−")
    assert "coverage factor of 2" in told(document(regulating()), "readings")


def test_a_sealed_gauge_is_shown_as_it_reads() -> None:
    """At 5,000 ft a sealed gauge shows 2.5 psi less than a vented one for the same pressure."""
    judgement = regulating()
    high = replace(judgement, recording=replace(judgement.recording, atmosphere=84307.0))
    sealed = replace(ROOFTOP, site=Site(altitude=1524.0), instruments=Instruments("digital", "sealed"))
    vented = replace(ROOFTOP, site=Site(altitude=1524.0))
    value = judgement.assessment.baseline["head_pressure"].value
    for system, zero in ((sealed, 101325.0), (vented, 84307.0)):
        row = next(r for r in table(document(high, system), "readings").rows if r.header.startswith("Head"))
        assert row.cells[0].startswith(f"{(value - zero) / PSI:.1f} ±")
    assert "sealed" in told(document(high, sealed), "instruments")


def test_validity_says_what_held_what_did_not_and_what_could_not_be_checked() -> None:
    made = document(not_valid())
    rows = {row.header: row for row in table(made, "validity").rows}
    assert rows["Push large enough"].cells == ("not passed", "8.0 °F", "at least 15.0 °F")
    assert rows["Push large enough"].strong
    assert rows["Hold long enough"].cells == ("not passed", "1 min 2 s", "at least 2 min")
    assert rows["Clamps on the pipe"].cells == ("could not be checked", "", "")
    assert rows["Load steady"].cells == ("passed", "0.4 °F", "at most 1.5 °F")
    assert told(made, "validity").count("What to do:") == 3
    assert document(regulating()).validity == "The test is valid: 12 of 13 conditions held, 1 could not be checked."
    assert "called early" in document(early_fixed()).validity


def test_a_limit_that_is_just_met_claims_no_direction() -> None:
    judgement = regulating()
    check = Check("push too small", True, "just so", 15 * F, 15 * F, "temperature_difference")
    made = document(replace(judgement, assessment=replace(judgement.assessment, checks=(check,))))
    assert table(made, "validity").rows[0].cells == ("passed", "15.0 °F", "15.0 °F")


def test_likelihoods_stand_in_words_and_numbers_and_small_ones_are_counted() -> None:
    made = document(regulating())
    first = table(made, "likelihood").rows[0]
    assert (first.header, first.cells, first.strong) == ("regulating", ("very likely", "19 in 20", "96 %"), True)
    assert "The other 5 states are each below half a percent." in told(made, "likelihood")
    assert "carry no verdict" in told(document(not_valid()), "likelihood")
    assert "No likelihoods" in told(document(channel_missing()), "likelihood")
    sure = regulating()
    sure = replace(
        sure, assessment=replace(sure.assessment, probability=dict.fromkeys(STATES, 0.0) | {"regulating": 1.0})
    )
    assert table(document(sure), "likelihood").rows[0].cells[2] == "> 99 %"
    even = replace(sure, assessment=replace(sure.assessment, probability=spread()))
    assert len(table(document(even), "likelihood").rows) == len(STATES)


def test_the_standstill_is_told_from_the_readings() -> None:
    assert "The compressor stopped at 15:46, with head 342 psig and suction 12" in told(
        document(regulating()), "standstill"
    )
    assert "psi apart." in told(document(regulating()), "standstill")
    assert "not that it modulates" in told(document(regulating()), "standstill")
    assert "shows no standstill" in told(document(not_valid()), "standstill")
    assert "Both sides met within 1.2 psi" in told(document(regulating()), "standstill")
    assert "Both sides met" not in told(document(regulating()), "remarks"), "said once"
    judgement = regulating()
    cut = judgement.assessment.phases.standstill
    assert cut is not None
    assert judgement.trace is not None
    blind = replace(
        judgement,
        trace=replace(
            judgement.trace, head_pressure=np.where(judgement.trace.time < cut, judgement.trace.head_pressure, np.nan)
        ),
    )
    assert "were not read before and after" in told(document(blind), "standstill")


def test_findings_tell_for_against_and_next() -> None:
    said = told(document(fixed()), "findings")
    for word in ("more likely than not, 1 in 2", "Superheat fell by 9.5 °F", "baseline was normal", "Look at strap"):
        assert word in said
    assert "findings" not in [part.key for part in document(regulating()).sections]


def test_sensors_tell_why_and_a_dead_one_stands_out() -> None:
    rows = {row.header: row for row in table(document(not_valid()), "sensors").rows}
    dead = rows["Suction pressure"]
    assert (dead.cells, dead.strong) == (("not alive", "frozen"), True)
    assert rows["Liquid line temperature"].cells[0] == "not shown"
    assert len(table(document(regulating()), "sensors").columns) == 2, "no empty column"


def test_remarks_are_told_with_their_place_and_once() -> None:
    judgement = not_valid()
    twice = Remark("duplicate rows", "Four rows with the same time were dropped.", "rows 88 to 91")
    mine = Remark("columns", "Read 5 columns.", f"somewhere/{PROVENANCE.log_name}")
    read = replace(judgement, recording=replace(judgement.recording, remarks=(twice, mine)))
    said = told(document(read), "remarks")
    assert said.count("Four rows with the same time were dropped (rows 88 to 91).") == 1
    assert "Read 5 columns." in said
    assert "somewhere" not in said


def test_marks_are_numbered_as_on_the_chart() -> None:
    made = document(seven_rows(), BY_HAND)
    items = section(made, "marks").blocks[0]
    assert isinstance(items, Bullets)
    assert items.numbered
    assert items.items[1] == "15:31, push: half the coil covered"
    assert made.chart is not None
    assert [flag.number for flag in made.chart.flags] == [1, 2, 3, 4]


def test_cautions_are_there_and_a_refrigerant_that_burns_is_named() -> None:
    said = told(document(regulating()), "cautions")
    for word in ("licensed", "Lock out", "never the only fan", "stop the compressor", "pressure switch", "blades",
                 "gloves", "unattended", "flammable"):  # fmt: skip
        assert word in said
    burns = document(channel_missing(), replace(ROOFTOP, refrigerant="R-32"))
    assert "R-32 is flammable (A2L)" in told(burns, "cautions")
    assert "not a safety device" in made_disclaimer()


def made_disclaimer() -> str:
    return document(regulating()).disclaimer


def test_what_is_not_known_of_the_unit_is_said() -> None:
    bare = replace(ROOFTOP, refrigerant=None, metering_device=MeteringDevice.UNKNOWN, nominal_capacity=None)
    said = told(document(channel_missing(), bare), "unit")
    assert "Not known | refrigerant, metering device" in said


def test_the_sources_of_the_thresholds_used_are_shown() -> None:
    key, criterion = next((k, c) for k, c in CRITERIA.items() if c.kind == "temperature_difference")
    judgement = regulating()
    check = Check("push too small", True, "so far", 20 * F, criterion.value, criterion.kind, key)
    made = document(replace(judgement, assessment=replace(judgement.assessment, checks=(check, check))))
    rows = table(made, "sources").rows
    assert [(row.header, row.cells[1]) for row in rows] == [(criterion.text, criterion.source)]
    assert "sources" not in [part.key for part in document(regulating()).sections]


def test_the_record_lets_anyone_judge_again() -> None:
    said = told(document(regulating()), "record")
    for word in (
        PROVENANCE.sha256,
        PROVENANCE.system_sha256 or "",
        PROVENANCE.method_version,
        "2025-05-09 08:00 (UTC−07:00)",
    ):
        assert word in said
    assert "no system file" in told(
        document(regulating(), provenance=replace(PROVENANCE, system_sha256=None)), "record"
    )


def test_the_place_leaves_out_what_is_not_known() -> None:
    assert document(regulating()).place == (
        "Alder Street clinic · Roof west, unit 5",
        "Log roof_west_unit_5.csv",
        "2025-05-08, 15:19 to 15:50 (UTC−07:00)",
    )
    nameless = document(regulating(), provenance=replace(PROVENANCE, site="", unit=""))
    assert nameless.place[0] == "Log roof_west_unit_5.csv"
    second = regulating()
    second = replace(second, assessment=replace(second.assessment, circuit="2"))
    assert document(second).place[0].endswith("unit 5 · circuit 2")


def test_a_time_without_offset_is_refused() -> None:
    with pytest.raises(ValueError, match="offset"):
        replace(PROVENANCE, as_of=datetime(2025, 5, 9, 8, 0))


def test_a_document_cannot_be_changed_and_comes_out_the_same_again() -> None:
    made = document(regulating())
    with pytest.raises(FrozenInstanceError):
        made.headline = "else"  # type: ignore[misc]
    assert made == document(regulating())


def test_a_table_whose_rows_do_not_fit_is_refused() -> None:
    with pytest.raises(ValueError, match="2 columns"):
        Table("t", (Column("a"), Column("b")), (Row("x", ("1", "2")),))


def test_reports_never_ask_the_clock() -> None:
    for file in Path(steadfeed.reports.__file__).parent.glob("*.py"):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Attribute):
                assert node.attr not in ("now", "today", "utcnow", "time_ns", "monotonic", "localtime"), file.name
            if isinstance(node, (ast.Import, ast.ImportFrom)):
                names = {alias.name for alias in node.names} | {getattr(node, "module", "") or ""}
                assert not names & {"time", "os", "socket", "urllib", "random"}, file.name


@pytest.mark.parametrize("rows", [0, 1, 5])
def test_the_shortest_recordings_make_a_document(rows: int) -> None:
    full = recording()
    short = Recording(full.time[:rows], {k: replace(c, values=c.values[:rows]) for k, c in full.channels.items()})
    judgement = channel_missing()
    made = document(replace(judgement, recording=short))
    assert made.headline.startswith("No verdict")
    assert (made.chart is None) is (rows == 0)


def test_the_real_judge_fits_the_document() -> None:
    """Own synthetic readings through the judge itself: nothing of its answer breaks the report."""
    known = curves(R410A)
    for made in (recording(), seven_rows().recording, channel_missing().recording, not_valid().recording):
        judgement = judge(made, ROOFTOP, known)
        assert isinstance(judgement, Judgement)
        paper = document(judgement)
        assert paper.headline.endswith(".")
        rows = [row for block in section(paper, "validity").blocks if isinstance(block, Table) for row in block.rows]
        assert len(rows) == len(judgement.assessment.checks)


def test_readings_that_are_not_numbers_are_said_to_be_unknown() -> None:
    judgement = regulating()
    odd = {**judgement.assessment.push, "superheat": Measured(float("nan"), float("inf"))}
    made = document(replace(judgement, assessment=replace(judgement.assessment, push=odd, phases=Phases())))
    row = next(r for r in table(made, "readings").rows if r.header == "Superheat, °F")
    assert row.cells[1] == "not known"
    assert row.cells[3] == "–"


def test_provenance_is_what_the_caller_says() -> None:
    assert Provenance("a", "b", None, "c", PROVENANCE.as_of).site == ""
