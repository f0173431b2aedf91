"""The hand pad: rows as typed become readings; values that look wrong are kept and asked about."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from steadfeed.capture.channel_map import ChannelMap, MapRow
from steadfeed.capture.live_rows import conversion, gauge_zero
from steadfeed.capture.manual import decode_row, split_typed
from steadfeed.capture.source import Reading
from steadfeed.circuit.channel import CHANNEL_KINDS
from steadfeed.units import PSI, to_si
from steadfeed.visit.guide import Guide
from steadfeed.visit.guide_steps import Facts, hand_row
from steadfeed.visit.sentences import Said, Speech, form, said
from steadfeed.visit.session import Session

if TYPE_CHECKING:
    from steadfeed.visit.circuit_watch import CircuitWatch

#: Sources that are hand pads begin with this word.
HAND: Final = "hand "
#: A value this far from the last row is asked about: pressures [Pa], temperatures [K] (own choice).
FAR: Final = {"pressure": 120.0 * PSI, "temperature": 40.0 / 1.8}
#: What gauges and clamps of the trade can show: pressures [Pa absolute], temperatures [K] (own choice).
RANGE: Final = {"pressure": (0.0, 900.0 * PSI), "temperature": (220.0, 420.0)}
#: Suction above head by more than this is asked about [Pa].
ABOVE: Final = 2.0 * PSI


def readings_of(
    row_id: str,
    session: Session,
    values: Mapping[str, str],
    watch: CircuitWatch,
    *,
    same: Sequence[str] = (),
    not_read: Sequence[str] = (),
    read_by: str = "person",
) -> tuple[Reading, ...]:
    """Return the readings of a row; the row is their boot id, so that sent twice it is there once.

    Raises FixInput for a value that is no number with a unit of its kind, or for “same” without a reading before.
    """
    zero = gauge_zero(watch.system)[1]
    before = {
        channel: (f"{conversion(channel, n.unit, zero).back(n.value):.10g}", n.unit)
        for channel, n in watch.recording.newest.items()
    }
    found = decode_row(
        f"{HAND}{session.device}",
        row_id,
        session.now,
        values,
        same=same,
        not_read=not_read,
        before=before,
        utc_offset=session.utc_offset,
        read_by=read_by,
    )
    if watch.label is None:
        return found
    return tuple(replace(reading, header=f"{watch.label}_{reading.header}") for reading in found)


def with_hand(known: ChannelMap, readings: Sequence[Reading], label: str | None) -> ChannelMap:
    """Return the map with the series of these readings in it; another series of the same channel steps aside."""
    rows = list(known.rows)
    have = {(row.source, row.header) for row in rows}
    for reading in readings:
        if (reading.source, reading.header) in have:
            continue
        channel = reading.header.removeprefix(f"{label}_") if label else reading.header
        rows = [replace(row, channel=None) if (row.channel, row.circuit) == (channel, label) else row for row in rows]
        rows.append(MapRow(reading.source, reading.header, channel, "", label, True))
    return ChannelMap(tuple(rows))


def row_number(g: Guide, f: Facts) -> int | None:
    """Return the number of the protocol's row that is due, None when none is."""
    found = hand_row(g, f)
    return None if found is None else found[0]


def questions(values: Mapping[str, str], watch: CircuitWatch, speech: Speech) -> list[dict[str, Any]]:
    """Ask about values that look swapped, far off or out of range; they are kept as typed whatever the answer."""
    zero = gauge_zero(watch.system)[1]
    si: dict[str, float] = {}
    for channel, text in values.items():
        if channel in CHANNEL_KINDS and text.strip():
            number, unit = split_typed(channel, text)
            kind = CHANNEL_KINDS[channel]
            si[channel] = to_si(float(number), unit, kind, zero if kind == "pressure" else None)
    out: list[dict[str, Any]] = []

    def ask(code: str, channel: str, words: Said, *offers: str) -> None:
        out.append({"code": code, "channel": channel, "text": form(words, speech), "offers": list(offers)})

    head = si.get("liquid_pressure", si.get("discharge_pressure"))
    suction = si.get("suction_pressure")
    if head is not None and suction is not None and suction > head + ABOVE:
        ask("swapped", "suction_pressure", said("question.swapped"), "swap", "keep")
    for channel, value in si.items():
        kind = CHANNEL_KINDS[channel]
        if kind not in RANGE:
            continue
        low, high = RANGE[kind]
        newest = watch.recording.newest.get(channel)
        if not low <= value <= high:
            ask("out of range", channel, said("question.range", channel=f"channel.{channel}"), "type again", "keep")
        elif newest is not None and abs(value - newest.value) > FAR[kind]:
            ask("far from the last", channel, said("question.far", channel=f"channel.{channel}"), "type again", "keep")
    return out
