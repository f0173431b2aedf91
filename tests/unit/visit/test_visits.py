"""The visit from opening to closing, on both engines, with the real judge on the shipped examples."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from company import NOW, Small, small_company
from steadfeed.errors import FixInput, NotAllowed
from steadfeed.records import readings, rows
from steadfeed.records.check import check
from steadfeed.records.readings import RawReading
from steadfeed.records.store import Store
from steadfeed.visit import judge_visit, unit_form, units, visit_logs, visits
from steadfeed.visit.session import Session, find_unit, find_visit, person_named
from steadfeed.visit.streamed_log import streamed_log

EXAMPLES = Path(__file__).parents[3] / "examples"
DAY = 86_400.0


@pytest.fixture
def company(store: Store) -> Small:
    with store.writing() as t:
        return small_company(t)


@pytest.fixture
def work(store: Store, company: Small) -> Session:
    return Session(store, NOW + 100, "phone 1", company.person, -18_000.0)


def example(name: str) -> tuple[bytes, bytes]:
    return (EXAMPLES / f"{name}.csv").read_bytes(), (EXAMPLES / f"{name}.toml").read_bytes()


def add(work: Session, company: Small, name: str) -> str:
    log, system = example(name)
    return visit_logs.add_log(work, company.visit, log, f"{name}.csv", system=system, system_name="a.toml").challenges[
        0
    ]


def test_a_log_is_kept_as_it_is_and_judged(work: Session, company: Small) -> None:
    log, system = example("orchard-house")
    added = visit_logs.add_log(work, company.visit, log, "orchard-house.csv", system=system, system_name="a.toml")
    again = visit_logs.add_log(work, company.visit, log, "again.csv", system=system)
    assert again.known
    assert again.challenges == added.challenges
    verdict = judge_visit.judge_challenge(work, added.challenges[0])
    assert verdict["verdict"] == "regulating"
    assert verdict["judgement"]["sha256"] == added.sha256
    with work.store.reading() as t:
        link = rows.find(t, "challenge_log", challenge_id=added.challenges[0])[0]
        assert readings.file_bytes(t, link["log_sha256"]) == log
        assert readings.file_bytes(t, link["system_sha256"]) == system
    assert check(work.store).sound


def test_judging_again_adds_a_verdict_and_says_what_changed(
    work: Session, company: Small, monkeypatch: pytest.MonkeyPatch
) -> None:
    challenge = add(work, company, "mill-store")
    first = judge_visit.judge_challenge(work, challenge)
    assert first["changed"] == []
    second = judge_visit.judge_challenge(work.at(NOW + 200), challenge)
    assert second["changed"] == ["Nothing changed"]
    assert second["supersedes"] == first["id"]
    real = judge_visit.judgement_form

    def another_method(judged: object) -> dict[str, object]:
        form = real(judged)  # type: ignore[arg-type]
        return form | {
            "verdict": "undecided",
            "valid": False,
            "reasons": ["load drifted"],
            "method_version": "9+new",
            "early": False,
        }

    monkeypatch.setattr(judge_visit, "judgement_form", another_method)
    third = judge_visit.judge_challenge(work.at(NOW + 300), challenge)
    assert third["changed"][0] == "Verdict: fixed → undecided"
    assert "Now not valid: load drifted" in third["changed"]
    assert third["changed"][-1].startswith("Method ")
    with work.store.reading() as t:
        kept = rows.find(t, "verdict", challenge_id=challenge, order="made_at")
    assert [v["verdict"] for v in kept] == ["fixed", "fixed", "undecided"]
    assert json.loads(kept[0]["judgement"])["verdict"] == "fixed"
    page = units.unit_page(work, "W-05")
    assert [c["verdict"]["verdict"] for v in page["visits"] for c in v["challenges"] if c["verdict"]] == ["undecided"]


def test_rows_that_a_judgement_holds_against_are_kept(work: Session, company: Small) -> None:
    challenge = add(work, company, "boat-house")
    verdict = judge_visit.judge_challenge(work, challenge)
    assert "suction gauge not alive" in verdict["reasons"]
    with work.store.reading() as t:
        (mask,) = rows.find(t, "quality_mask", verdict_id=verdict["id"])
    assert (mask["channel"], mask["flag"]) == ("suction_pressure", "frozen")
    assert (mask["first_row"], mask["last_row"]) == (0, 1201)


def test_findings_of_a_judgement_that_was_judged_again_no_longer_show(
    work: Session, company: Small, monkeypatch: pytest.MonkeyPatch
) -> None:
    challenge = add(work, company, "mill-store")
    real = judge_visit.judgement_form
    said = [{"code": "parked", "text": "The valve stands still.", "likelihood": 0.9}]
    monkeypatch.setattr(judge_visit, "judgement_form", lambda judged: real(judged) | {"findings": said})
    for n in range(3):
        judge_visit.judge_challenge(work.at(NOW + 200 + n), challenge)
    shown = visits.visit_page(work, company.visit)["findings"]
    assert [f["code"] for f in shown] == ["parked"]
    assert [f["code"] for v in units.unit_page(work, "W-05")["visits"] for f in v["findings"]] == ["parked"]
    with work.store.reading() as t:
        assert len(rows.find(t, "finding")) == 3


def test_without_a_system_file_the_records_are_used(work: Session, company: Small) -> None:
    log, _ = example("orchard-house")
    with work.store.writing() as t:
        rows.add(t, "nameplate", {"unit_id": company.unit, "subcooling": 5.5, "charge_hundredth_oz": 14800}, work.by)
        rows.add(t, "line_set", {"circuit_id": company.circuit, "length": 7.5, "lift": -2.0}, work.by)
    added = visit_logs.add_log(work, company.visit, log, "a.csv")
    assert "records" in added.remarks[0]
    with work.store.reading() as t:
        link = rows.find(t, "challenge_log", challenge_id=added.challenges[0])[0]
        text = readings.file_bytes(t, link["system_sha256"]).decode()
    for line in (
        'refrigerant = "R-410A"',
        'metering_device = "txv"',
        "altitude_m = 120.0",
        "subcooling_K = 5.5",
        "lift_m = -2.0",
    ):
        assert line in text
    assert judge_visit.judge_challenge(work, added.challenges[0])["system_sha256"] == link["system_sha256"]


def test_a_system_file_that_contradicts_the_records_is_said(work: Session, company: Small) -> None:
    log, system = example("orchard-house")
    other = system.replace(b'"R-410A"', b'"R-22"') if b'"R-410A"' in system else b'refrigerant = "R-22"\n' + system
    added = visit_logs.add_log(work, company.visit, log, "a.csv", system=other, system_name="a.toml")
    assert any("R-22" in remark and "R-410A" in remark for remark in added.remarks)


def test_a_log_that_cannot_be_read_leaves_nothing(work: Session, company: Small) -> None:
    with pytest.raises(FixInput):
        visit_logs.add_log(work, company.visit, b"\x00\x01\x02" * 50, "noise.csv")
    with work.store.reading() as t:
        assert rows.find(t, "challenge_log") == []
        assert len(rows.find(t, "challenge", visit_id=company.visit)) == 1


def test_streamed_readings_are_judged_like_the_log_that_they_make(work: Session, company: Small) -> None:
    """The example's cells sent one by one: the same verdict, the same numbers."""
    import csv

    log, system = example("orchard-house")
    whole = visit_logs.add_log(work, company.visit, log, "a.csv", system=system, system_name="a.toml").challenges[0]
    lines = [line for line in log.decode().splitlines() if line and not line.startswith("#")]
    table = list(csv.DictReader(lines))
    names = [h for h in table[0] if h not in ("time", "elapsed_s")]
    from steadfeed.capture.clock import parse_stamp

    sent, n = [], 0
    for row in table:
        moment, offset = parse_stamp(row["time"])
        for name in names:
            channel, _, unit = name.rpartition("_")
            sent.append(RawReading("box", "b1", n, channel, row[name], unit, moment, offset, name))
            n += 1
    with work.store.writing() as t:
        readings.append(t, company.challenge, sent, NOW)
    with work.store.reading() as t:
        made, _ = streamed_log(t, company.challenge)
    assert set(made.decode().splitlines()[0].split(",")) == {"time", *names}
    one = judge_visit.judge_challenge(work, whole)
    other = judge_visit.judge_challenge(work, company.challenge)
    assert one["verdict"] == other["verdict"] == "regulating"
    assert one["feed_held"] == pytest.approx(other["feed_held"], abs=0.02)


def test_spot_readings_are_kept_as_typed_and_derived(work: Session, company: Small) -> None:
    """R-410A at 118.0 psig and 340 psig, sea level: dew 39.9 °F, bubble 104.6 °F by the coefficient file's own range."""
    typed = {"suction_pressure": "118", "suction_line_temperature": "52,5 °F", "liquid_pressure": "340 psig",
             "liquid_line_temperature": "95", "outdoor_air_temperature": ""}  # fmt: skip
    made = visits.spot(work, company.visit, company.circuit, typed, purpose="as found")
    spot = visits.visit_page(work, company.visit)["spots"][0]
    assert spot["id"] == made
    assert {v["channel"]: (v["value"], v["unit"]) for v in spot["values"]}["suction_line_temperature"] == (
        "52,5",
        "degF",
    )
    assert {v["channel"]: v["value"] for v in spot["values"]}["outdoor_air_temperature"] == ""
    assert spot["result"]["superheat_degF"] == pytest.approx(52.5 - spot["result"]["evaporating_degF"], abs=0.02)
    assert spot["result"]["subcooling_degF"] == pytest.approx(spot["result"]["condensing_degF"] - 95.0, abs=0.02)


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"suction_presure": "118"}, "did you mean suction_pressure"),
        ({"suction_pressure": "lots"}, "no reading of suction_pressure"),
        ({"suction_pressure": "118 degF"}, "no unit of pressure"),
        ({"suction_pressure": ""}, "at least one reading"),
    ],
)
def test_a_bad_spot_reading_gets_one_sentence(work: Session, company: Small, typed: dict[str, str], says: str) -> None:
    with pytest.raises(FixInput, match=says):
        visits.spot(work, company.visit, company.circuit, typed)


def test_an_open_override_must_be_answered_before_closing(work: Session, company: Small) -> None:
    heat = visits.set_aside(work, company.visit, "auxiliary heat", "breaker 7 off")
    cover = visits.set_aside(work, company.visit, "cover")
    with pytest.raises(NotAllowed, match=r"auxiliary heat .breaker 7 off., cover were set aside") as told:
        visits.close_visit(work, company.visit)
    assert "Is the cover off" in told.value.message
    visits.put_back(work, heat, text="heats")
    with pytest.raises(NotAllowed, match="answered already"):
        visits.put_back(work, heat)
    with pytest.raises(FixInput, match="Say why"):
        visits.put_back(work, cover, left_because=" ")
    visits.put_back(work, cover, left_because="customer takes it off on Monday")
    visits.close_visit(work, company.visit)
    with pytest.raises(NotAllowed, match="closed"):
        visits.act(work, company.visit, "more work")
    visits.reopen_visit(work, company.visit, "forgot the weight")
    visits.act(work, company.visit, "weighed in")


def test_a_withdrawn_override_no_longer_waits(work: Session, company: Small) -> None:
    mistaken = visits.set_aside(work, company.visit, "thermostat")
    visits.withdraw(work, "override", mistaken, "wrong visit")
    visits.close_visit(work, company.visit)
    with pytest.raises(FixInput, match="cannot be withdrawn"):
        visits.withdraw(work, "unit", company.unit, "no fact")


def test_refrigerant_is_kept_by_weight_and_as_typed(work: Session, company: Small) -> None:
    visits.move_refrigerant(work, company.visit, company.circuit, "in", "1 lb 2.25 oz")
    visits.move_refrigerant(work, company.visit, company.circuit, "out", "250 g", refrigerant="r22")
    kept = visits.visit_page(work, company.visit)["refrigerant_moves"]
    assert [(m["refrigerant"], m["direction"], m["weight_hundredth_oz"], m["as_typed"]) for m in kept] == [
        ("R-410A", "in", 1825, "1 lb 2.25 oz"),
        ("R-22", "out", 882, "250 g"),
    ]
    for wrong in ("six", "6", "-6 oz", "0 oz", "2000 lb"):
        with pytest.raises(FixInput):
            visits.move_refrigerant(work, company.visit, company.circuit, "in", wrong)


def test_readings_moved_to_another_unit_leave_a_trail(work: Session, company: Small) -> None:
    challenge = add(work, company, "orchard-house")
    judge_visit.judge_challenge(work, challenge)
    spot = visits.spot(work, company.visit, company.circuit, {"suction_pressure": "118"})
    with work.store.writing() as t:
        other = rows.add(t, "unit", {"site_id": company.site, "kind": "outdoor", "tag": "W-06"}, work.by)
        circuit = rows.add(t, "circuit", {"unit_id": other}, work.by)
    units.move_readings(work, challenge, circuit, "the two tags were swapped")
    units.move_readings(work, spot, circuit, "the two tags were swapped")
    with pytest.raises(FixInput, match="Say why"):
        units.move_readings(work, challenge, circuit, "")
    moved, left = units.unit_page(work, "W-06"), units.unit_page(work, "W-05")
    assert [c["id"] for v in moved["visits"] for c in v["challenges"]] == [challenge]
    assert len(moved["visits"][0]["spots"]) == 1
    assert challenge not in [c["id"] for v in left["visits"] for c in v["challenges"]]
    assert [s for v in left["visits"] for s in v["spots"]] == []
    trail = units.history_of(work, challenge)
    assert [(e["kind"], e["field"], e["value"], e["reason"]) for e in trail] == [
        ("move", "circuit_id", circuit, "the two tags were swapped")
    ]
    units.undo_edit(work, trail[0]["entry_id"])
    assert challenge in [c["id"] for v in units.unit_page(work, "W-05")["visits"] for c in v["challenges"]]


def test_a_replaced_part_and_its_successor_keep_their_histories(work: Session, company: Small) -> None:
    old = units.install_part(
        work, company.unit, "metering device", {"model": "TX-3"}, from_at=None, circuit_id=company.circuit
    )
    early = add(work, company, "mill-store")
    judge_visit.judge_challenge(work, early)
    with work.store.writing() as t:
        started = rows.get(t, "challenge", early)["started_at"]
    new = units.install_part(
        work,
        company.unit,
        "metering device",
        {"model": "TX-4"},
        from_at=started + DAY,
        circuit_id=company.circuit,
        reason="stuck",
    )
    with work.store.reading() as t:
        parts = {i["id"]: i["part_id"] for i in rows.find(t, "installation")}
    first, second = units.part_history(work, parts[old]), units.part_history(work, parts[new])
    assert [i["until_at"] for i in first["installations"]] == [started + DAY]
    assert early in [c["challenge_id"] for c in first["installations"][0]["challenges"]]
    assert early not in [c["challenge_id"] for c in second["installations"][0]["challenges"]]
    assert [c["verdict"] for c in first["installations"][0]["challenges"] if c["challenge_id"] == early] == ["fixed"]
    with pytest.raises(NotAllowed, match="in a unit already"):
        units.install_part(work, company.unit, "condenser", {"id": parts[new]}, from_at=NOW)
    with pytest.raises(FixInput, match="before the one that it replaces"):
        units.install_part(work, company.unit, "metering device", {}, from_at=started, circuit_id=company.circuit)


def test_as_found_and_as_left_are_bound(work: Session, company: Small) -> None:
    found = visits.spot(work, company.visit, company.circuit, {"suction_pressure": "90"}, purpose="as found")
    left = visits.spot(work, company.visit, company.circuit, {"suction_pressure": "118"}, purpose="as left")
    visits.pair(work, company.visit, found_spot=found, left_spot=left)
    bound = visits.visit_page(work, company.visit)["pairs"][0]
    assert (bound["found_spot_id"], bound["left_spot_id"]) == (found, left)
    with pytest.raises(FixInput, match="as found and as left"):
        visits.pair(work, company.visit, found_spot=found)


def test_conclusion_review_and_the_exit_for_other_trouble(work: Session, company: Small) -> None:
    visits.note(work, company.visit, draft="valve parked", not_refrigerant="blower wheel loose")
    lead = replace(work, person_id=person_named(work, "Orsolya Vance"), now=NOW + 900)
    visits.review(lead, company.visit, "agreed")
    visit = visits.visit_page(work, company.visit)["visit"]
    assert (visit["draft"], visit["not_refrigerant"], visit["review"]) == (
        "valve parked",
        "blower wheel loose",
        "agreed",
    )
    assert (visit["reviewed_by"], visit["reviewed_at"]) == (lead.person_id, NOW + 900)
    with pytest.raises(FixInput, match="reviewer"):
        visits.review(replace(work, person_id=None), company.visit, "agreed")


def test_units_and_visits_are_found_by_what_people_say(work: Session, company: Small) -> None:
    with work.store.reading() as t:
        for said in ("W-05", "QX-2241-8830", "8830", company.unit[:8], f"STEADFEED:UNIT:{company.unit.upper()}"):
            assert find_unit(t, said) == company.unit
        for said in ("W-05", company.visit[:6], company.visit):
            assert find_visit(t, said) == company.visit
        for nobody in ("W-99", "zz", "", "0000"):
            with pytest.raises(FixInput):
                find_unit(t, nobody)
    visits.close_visit(work, company.visit)
    with work.store.reading() as t, pytest.raises(NotAllowed, match="no open visit"):
        find_visit(t, "W-05")


def test_one_open_visit_a_unit_unless_asked(work: Session, company: Small) -> None:
    with pytest.raises(NotAllowed, match="has an open visit"):
        visits.open_visit(work, company.unit)
    visits.open_visit(work, company.unit, another=True)


def test_a_unit_from_words(work: Session) -> None:
    made = unit_form.unit_from_words(
        work, "K-1", customer="Ardenfield Mills", site="Yard", altitude="5000 ft", refrigerant="r454b", charge="9 lb 4 oz",
        subcooling="10 degF", interval=180, circuits=["a", "b"], installed="2019-05-14",
    )  # fmt: skip
    page = units.unit_page(work, "K-1")
    assert page["unit"]["id"] == made
    assert page["site"]["altitude"] == pytest.approx(1524.0)
    assert [(c["name"], c["refrigerant"]) for c in page["circuits"]] == [("a", "R-454B"), ("b", "R-454B")]
    assert page["nameplates"][0]["charge_hundredth_oz"] == 14_800
    assert page["nameplates"][0]["subcooling"] == pytest.approx(10 / 1.8)
    assert page["customer"]["phone"] == "555 0100"  # the same customer, not a second one
    unit_form.edit_unit_words(work, made, {"place": "North", "serial": "9", "service_interval_days": ""})
    assert units.unit_page(work, "K-1")["unit"]["service_interval_days"] is None
    with pytest.raises(FixInput, match="tags are given once"):
        unit_form.unit_from_words(work, "K-1")
    for wrong in ({"colour": "red"}, {"service_interval_days": "often"}, {"installed_on": "May"}, {"kind": "tall"}):
        with pytest.raises(FixInput):
            unit_form.edit_unit_words(work, made, wrong)
