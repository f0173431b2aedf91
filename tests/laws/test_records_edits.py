"""Laws of the rule for two devices editing one field, and of weights."""

from __future__ import annotations

from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from steadfeed.records.entries import Entry, standing
from steadfeed.records.weight import grams, parse_weight, say_weight


@st.composite
def edits(draw: st.DrawFn) -> list[Entry]:
    """Edits of one field by up to three devices, each knowing any of the earlier ones, with clocks that may be wrong."""
    made: list[Entry] = []
    for n in range(draw(st.integers(1, 8))):
        seen = draw(st.lists(st.sampled_from([e.id for e in made]), unique=True)) if made else []
        made.append(
            Entry(
                id=f"e{n}",
                field="serial",
                value=draw(st.integers(0, 5)),
                made_at=float(draw(st.integers(0, 3))),
                device=draw(st.sampled_from(["a", "b", "c"])),
                supersedes=tuple(seen),
            )
        )
    return made


@given(edits(), st.randoms(use_true_random=False))
def test_the_outcome_does_not_depend_on_the_order_of_arrival(made: list[Entry], chance: object) -> None:
    shuffled = list(made)
    chance.shuffle(shuffled)  # type: ignore[attr-defined]
    assert standing(shuffled) == standing(made)


@given(edits(), st.data())
def test_an_edit_that_arrives_twice_changes_nothing(made: list[Entry], data: st.DataObject) -> None:
    again = data.draw(st.lists(st.sampled_from(made)))
    assert standing([*made, *again]) == standing(made)


@given(edits())
def test_an_edit_that_somebody_saw_and_replaced_never_counts(made: list[Entry]) -> None:
    replaced = {old for e in made for old in e.supersedes}
    found = standing(made)
    assert found.winner is not None
    assert found.winner.id not in replaced
    assert {e.id for e in (found.winner, *found.rivals)} == {e.id for e in made} - replaced


@given(edits())
def test_whoever_sees_all_that_counts_and_edits_has_the_last_word_whatever_the_clock(made: list[Entry]) -> None:
    before = standing(made)
    assert before.winner is not None
    heads = tuple(e.id for e in (before.winner, *before.rivals))
    last = Entry("last", "serial", 99, made_at=-1e9, device="", supersedes=heads)
    after = standing([*made, last])
    assert after.winner == last
    assert after.rivals == ()


@given(edits())
def test_among_edits_that_did_not_see_each_other_the_later_clock_counts(made: list[Entry]) -> None:
    found = standing(made)
    assert found.winner is not None
    assert all(
        (found.winner.made_at, found.winner.device, found.winner.id) > (r.made_at, r.device, r.id) for r in found.rivals
    )


@given(st.integers(1, 15_999), st.integers(0, 99))
def test_ounces_with_two_decimals_come_back_as_typed(ounces: int, hundredths: int) -> None:
    assert parse_weight(f"{ounces}.{hundredths:02d} oz") == ounces * 100 + hundredths


@given(st.integers(0, 400_000))
def test_whole_grams_come_back_as_typed(g: int) -> None:
    """The reason for hundredths of an ounce: both systems come back exactly."""
    assert grams(parse_weight(f"{g} g")) == g


@given(st.integers(0, 900), st.integers(0, 1599))
def test_what_is_said_in_pounds_is_read_back_the_same(pounds: int, hundredths: int) -> None:
    total = pounds * 1600 + hundredths
    assert parse_weight(say_weight(total)) == total


@given(st.lists(st.integers(0, 100_000), max_size=200))
def test_sums_of_a_ledger_do_not_drift(weights: list[int]) -> None:
    exact = sum((Decimal(w) / 100 for w in weights), Decimal(0))
    assert Decimal(sum(weights)) / 100 == exact
