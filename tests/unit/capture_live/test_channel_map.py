"""The channel map: what is refused, what is proposed in each mode, and what is remembered."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from steadfeed.capture.channel_map import ChannelMap, MapRow, OwnSet
from steadfeed.capture.propose import Proposal, Series, propose
from steadfeed.capture.source import Reading
from steadfeed.errors import FixInput
from steadfeed.physics.properties import curves

R410A = curves("R-410A")


def reading(header: str, value: str = "118", unit: str = "psig", source: str = "g") -> Reading:
    return Reading(source, "b", 0, header, value, unit)


# -- the map --------------------------------------------------------------------------------------------------------------
def test_a_reading_finds_its_place() -> None:
    rows = (
        MapRow("g", "low", "suction_pressure"),
        MapRow("g", "raw", "liquid_pressure", unit="barg"),
        MapRow("g", "spare", None),
        MapRow("g", "low 2", "suction_pressure", circuit="c2"),
    )
    found = ChannelMap(rows)
    assert found.place(reading("low")).channel == "suction_pressure"
    assert found.place(reading("raw", unit="")).unit == "barg"
    assert found.place(reading("raw", unit="psig")).unit == "barg"
    assert found.place(reading("spare")).channel == ""
    assert found.place(reading("unheard of")).channel == ""
    assert found.place(reading("low", source="other")).channel == ""
    assert found.place(reading("low 2")).channel == "c2_suction_pressure"
    assert found.place(reading("low", unit="degF")).channel == ""  # the source sends something else under that name


def test_what_is_missing() -> None:
    found = ChannelMap((MapRow("g", "a", "suction_pressure"), MapRow("g", "b", "discharge_pressure")))
    assert found.missing() == ("suction_line_temperature", "liquid_line_temperature")
    assert len(found.missing("c2")) == 4


@pytest.mark.parametrize(
    ("rows", "word"),
    [
        ([{"source": "g", "header": "low", "channel": "suction_presure"}], "did you mean suction_pressure"),
        ([{"source": "g", "header": "low", "channel": "suction_pressure", "unit": "degF"}], "no unit of pressure"),
        ([{"source": "g", "header": "low", "channel": "suction_pressure", "unit": "psi"}], "psig or psia"),
        ([{"source": "g", "header": "low", "channel": "suction_pressure", "circuit": "roof"}], "c2, c3"),
        ([{"source": "", "header": "low", "channel": None}], "a source and a header"),
        ([{"source": "g", "header": "low", "channel": 7}], "texts"),
        (
            [
                {"source": "g", "header": "low", "channel": "suction_pressure"},
                {"source": "g", "header": "blue", "channel": "suction_pressure"},
            ],
            "“low” and “blue”",
        ),
        ([{"source": "g", "header": "low", "channel": None}] * 2, "twice"),
        ([{"source": "g", "header": f"h{k}", "channel": None} for k in range(201)], "at most 200"),
        ("none", "list of rows"),
        (["none"], "an object"),
    ],
)
def test_maps_that_cannot_be_are_refused_in_a_sentence(rows: Any, word: str) -> None:
    with pytest.raises(FixInput, match=word):
        ChannelMap.from_value(rows)


@given(
    st.lists(
        st.builds(
            MapRow,
            source=st.sampled_from(["g", "clamp"]),
            header=st.text(st.characters(codec="utf-8", exclude_characters="\0"), min_size=1, max_size=10),
            channel=st.none(),
            unit=st.just(""),
        ),
        max_size=8,
        unique_by=lambda row: (row.source, row.header),
    )
)
def test_a_map_survives_json(rows: list[MapRow]) -> None:
    found = ChannelMap((*rows, MapRow("x", "low", "suction_pressure", "barg", "c2", False)))
    assert ChannelMap.from_value(json.loads(json.dumps(found.to_value()))) == found


# -- the person's own set -------------------------------------------------------------------------------------------------
def test_the_own_set_is_remembered_for_each_mode() -> None:
    own = OwnSet().remember(ChannelMap((MapRow("g", "A", "suction_pressure", circuit="c2"),)), "cooling")
    own = own.remember(ChannelMap((MapRow("g", "A", "discharge_pressure"), MapRow("g", "B", None))), "heating")
    own = OwnSet.from_value(json.loads(json.dumps(own.to_value())))
    series = [Series("g", "A", "psig", 120.0)]
    (cooling,) = propose(series, "cooling", own).all
    (heating,) = propose(series, "heating", own).all
    assert (cooling.row.channel, cooling.row.circuit, cooling.row.confirmed) == ("suction_pressure", None, True)
    assert heating.row.channel == "discharge_pressure"
    assert "before" in cooling.why
    # what is confirmed anew replaces, what was not seen today stays
    own = own.remember(ChannelMap((MapRow("g", "B", "liquid_pressure"),)), "heating")
    assert own.recall("g", "A", "heating") is not None
    b = own.recall("g", "B", "heating")
    assert b is not None
    assert b.channel == "liquid_pressure"
    # unconfirmed rows are not remembered
    assert OwnSet().remember(ChannelMap((MapRow("g", "A", None, confirmed=False),)), "cooling").rows["cooling"] == ()


@given(st.recursive(st.none() | st.text(max_size=5) | st.integers(), lambda x: st.lists(x) | st.dictionaries(st.text(max_size=8), x)))  # fmt: skip
def test_a_damaged_own_set_is_forgotten_not_fatal(value: object) -> None:
    assert isinstance(OwnSet.from_value(value), OwnSet)
    assert isinstance(OwnSet.from_value({"cooling": value, "heating": [value]}), OwnSet)


def test_a_series_that_changed_its_unit_is_asked_about_again() -> None:
    own = OwnSet().remember(ChannelMap((MapRow("g", "A", "suction_pressure"),)), "cooling")
    (found,) = propose([Series("g", "A", "degF", 53.0)], "cooling", own).all
    assert found.row.channel is None
    assert not found.row.confirmed


# -- proposals --------------------------------------------------------------------------------------------------------------
def channels(series: list[Series], mode: Any = "cooling", **more: Any) -> dict[str, str | None]:
    return {p.row.header: p.row.channel for p in propose(series, mode, **more).all}


@pytest.mark.parametrize(
    ("header", "unit", "cooling", "heating"),
    [
        ("suction_pressure_psig", "psig", "suction_pressure", "suction_pressure"),
        ("large service valve", "psig", "suction_pressure", "discharge_pressure"),
        ("vapor line", "psig", "suction_pressure", "discharge_pressure"),
        ("vapour line clamp", "degF", "suction_line_temperature", "discharge_line_temperature"),
        ("common suction port", "psig", "suction_pressure", "suction_pressure"),
        ("small service valve", "psig", "liquid_pressure", "liquid_pressure"),
        ("Low side", "psig", "suction_pressure", "suction_pressure"),
        ("high side", "psig", "liquid_pressure", "liquid_pressure"),
        ("discharge", "degF", "discharge_line_temperature", "discharge_line_temperature"),
        ("outside air", "degF", "outdoor_air_temperature", "outdoor_air_temperature"),
        ("return wet bulb", "degF", "return_air_wet_bulb", "return_air_wet_bulb"),
        ("return", "degF", "return_air_dry_bulb", "return_air_dry_bulb"),
        ("return", "pct", "return_air_relative_humidity", "return_air_relative_humidity"),
        ("fan amps", "A", "fan_current", "fan_current"),
        ("compressor", "A", "compressor_current", "compressor_current"),
        ("ch 7", "psig", None, None),
        ("suction", "", None, None),
    ],
)
def test_names_in_both_modes(header: str, unit: str, cooling: str | None, heating: str | None) -> None:
    series = [Series("g", header, unit)]
    assert channels(series, "cooling") == {header: cooling}
    assert channels(series, "heating") == {header: heating}


def test_the_name_of_the_source_counts_where_the_header_says_nothing() -> None:
    series = [Series("suction gauge", "pressure", "psig"), Series("liquid clamp", "temperature", "degC")]
    found = [p.row.channel for p in propose(series, "cooling").all]
    assert found == ["suction_pressure", "liquid_line_temperature"]


def test_physics_tells_two_gauges_apart_once_the_unit_runs() -> None:
    """Saturation of R-410A: 118 psig is 40 °F, 365 psig about 110 °F (makers' charts)."""
    running = [
        Series("g", "ch1", "psig", 365.0),
        Series("g", "ch2", "psig", 118.0),
        Series("t", "ch1", "degF", 98.0),
        Series("t", "ch2", "degF", 52.0),
        Series("t", "ch3", "degF", 175.0),
        Series("t", "ch4", "degF", 78.0),
    ]
    found = propose(running, "cooling", curves=R410A)
    assert [p.row.channel for p in found.all] == [
        "liquid_pressure",
        "suction_pressure",
        "liquid_line_temperature",
        "suction_line_temperature",
        "discharge_line_temperature",
        None,
    ]
    assert found.all[0].doubt  # liquid line or discharge: a person must say
    assert found.missing == ()
    assert all(not p.row.confirmed for p in found.all)
    standing = [Series("g", "ch1", "psig", 215.0), Series("g", "ch2", "psig", 214.0)]
    both = propose(standing, "cooling", curves=R410A).all
    assert [p.row.channel for p in both] == [None, None]
    assert all("alike" in p.doubt for p in both)


def test_one_known_gauge_tells_the_other() -> None:
    series = [Series("g", "suction", "psig", 118.0), Series("g", "ch2", "psig", 365.0)]
    assert channels(series)["ch2"] == "liquid_pressure"
    series = [Series("g", "head", "psig", 365.0), Series("g", "ch2", "barg", 8.1)]
    assert channels(series)["ch2"] == "suction_pressure"
    series = [Series("g", "suction", "psig", 118.0), Series("g", "ch2", "psig", 119.0)]
    assert channels(series)["ch2"] is None


def test_ambiguous_temperatures_are_left_to_the_person() -> None:
    series = [
        Series("g", "suction", "psig", 118.0),
        Series("g", "liquid", "psig", 365.0),
        Series("t", "ch1", "degF", 98.0),
        Series("t", "ch2", "degF", 99.0),
    ]
    found = channels(series, curves=R410A)
    assert found["ch1"] is None
    assert found["ch2"] is None


def doubt(found: tuple[Proposal, ...], header: str) -> str:
    return next(p.doubt for p in found if p.row.header == header)


def test_physics_speaks_against_names() -> None:
    swapped = [Series("g", "low", "psig", 365.0), Series("g", "liquid", "psig", 118.0)]
    assert "swapped" in doubt(propose(swapped, "cooling").all, "low")
    assert "hot gas" in doubt(propose(swapped, "heating").all, "low")
    fine = [Series("g", "low", "psig", 118.0), Series("g", "liquid", "psig", 365.0)]
    assert doubt(propose(fine, "cooling").all, "low") == ""
    assert "common suction" in doubt(propose(fine, "heating").all, "low")
    clamps = [
        *fine,
        Series("t", "suction line", "degF", 98.0),
        Series("t", "liquid line", "degF", 53.0),
    ]
    assert "clamps swapped" in doubt(propose(clamps, "cooling").all, "suction line")


def test_two_series_of_one_name_are_never_proposed_alike() -> None:
    series = [Series("a", "suction", "psig", 118.0), Series("b", "suction", "psig", 119.0)]
    found = propose(series, "cooling")
    assert [p.row.channel for p in found.all] == ["suction_pressure", None]
    assert "suction" in found.all[1].doubt
    assert found.map.missing() == found.missing
    # the remembered one keeps it, whatever the order
    own = OwnSet().remember(ChannelMap((MapRow("b", "suction", "suction_pressure"),)), "cooling")
    assert [p.row.channel for p in propose(series, "cooling", own).all] == [None, "suction_pressure"]


WORDS = ["suction", "liquid", "low", "high", "ch1", "outdoor", "return", "wet", "large", "vapor", "power", "fan", "7"]


@settings(max_examples=300)
@given(
    st.lists(
        st.builds(
            Series,
            source=st.sampled_from(["a", "b", "suction clamp"]),
            header=st.lists(st.sampled_from(WORDS), min_size=1, max_size=3).map(" ".join) | st.text(min_size=1, max_size=8).filter(lambda t: "\0" not in t),
            unit=st.sampled_from(["psig", "barg", "degF", "degC", "A", "pct", "", "W", "steps", "inHg"]),
            value=st.none() | st.floats(-50, 600) | st.just(float("nan")),
        ),
        max_size=8,
        unique_by=lambda s: (s.source, s.header),
    ),
    st.sampled_from(["cooling", "heating"]),
)  # fmt: skip
def test_whatever_comes_the_proposals_make_a_map(series: list[Series], mode: Any) -> None:
    found = propose(series, mode, curves=R410A)
    assert [(p.row.source, p.row.header) for p in found.all] == [(s.source, s.header) for s in series]
    assert isinstance(found.map, ChannelMap)
    for proposal in found.all:
        assert proposal.why
        assert len(proposal.why) <= 60
        if proposal.row.channel and proposal.row.unit == "":
            placed = found.map.place(
                reading(
                    proposal.row.header,
                    unit=next(
                        s.unit for s in series if (s.source, s.header) == (proposal.row.source, proposal.row.header)
                    ),
                    source=proposal.row.source,
                )
            )
            assert placed.channel.endswith(proposal.row.channel)
