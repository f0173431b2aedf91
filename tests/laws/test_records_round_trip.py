"""Laws of the exchange: whatever texts and numbers a store holds, they come back the same in every form."""

from __future__ import annotations

import csv
import tempfile
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from steadfeed.records.exchange.forms import FORMS
from steadfeed.records.exchange.logical import Column, Logical, cells_of

TABLE = Logical(
    "t",
    (
        Column("a", "text", "a text"),
        Column("b", "number", "a number"),
        Column("c", "integer", "an integer"),
        Column("d", "yes or no", "a choice"),
    ),
    lambda t: iter(()),
)
texts = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\x00"), max_size=30)
tricky = st.sampled_from(
    [
        "",
        "\\",
        "\\empty",
        "\\\\",
        "=1+1",
        "-",
        "-1e5",
        "+3",
        "@x",
        "\t",
        "\r",
        "\n",
        '"',
        ",",
        " x ",
        "NULL",
        "None",
        "é°",
    ]
)
rows = st.lists(
    st.fixed_dictionaries(
        {
            "a": st.none() | texts | tricky,
            "b": st.none() | st.floats(allow_nan=False, allow_infinity=False),
            "c": st.none() | st.integers(-(2**63), 2**63 - 1),
            "d": st.none() | st.booleans(),
        }
    ),
    max_size=12,
)


@pytest.mark.parametrize("form", sorted(FORMS))
@given(given_rows=rows)
def test_rows_come_back_equal_and_in_order(form: str, given_rows: list[dict[str, object]]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"t{FORMS[form].ending}"
        assert FORMS[form].write(path, TABLE, given_rows) == len(given_rows)
        back = list(FORMS[form].read(path, TABLE))
    assert back == given_rows
    assert [str(r["b"]) for r in back] == [str(r["b"] if r["b"] is None else float(r["b"])) for r in given_rows]  # type: ignore[arg-type]


@given(rows)
def test_no_cell_of_a_csv_export_begins_like_a_formula(given_rows: list[dict[str, object]]) -> None:
    """A spreadsheet that opens the file runs nothing that somebody typed."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "t.csv"
        FORMS["csv"].write(path, TABLE, given_rows)
        with path.open(encoding="utf-8", newline="") as file:
            cells = [cell for row in list(csv.reader(file))[1:] for cell in row if cell]
    for cell in cells:
        if cell[0] in "=+-@\t\r":
            float(cell)


@given(
    st.lists(
        st.lists(st.sampled_from(["118.2", "", "OL", "---", "-3"]), min_size=3, max_size=3), min_size=1, max_size=8
    )
)
def test_cells_of_a_log_keep_rows_order_and_missing_cells(body: list[list[str]]) -> None:
    log = "time,a_psig,b_degF\n" + "".join(",".join(["2026-07-25T10:00:00Z"] + row[1:]) + "\n" for row in body)
    cells = list(cells_of(log.encode()))
    assert [c[3] for c in cells if c[2] == "a_psig"] == [row[1] for row in body]
    assert [c[0] for c in cells if c[2] == "b_degF"] == list(range(len(body)))
