"""Targets: what a reading should be, with tolerance and source.

Published tables where there are any (superheat of fixed orifices, temperature split), the nameplate where it speaks, and
the ranges of the trade, marked as common practice, for the rest. Everything SI; differences in K.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from steadfeed.analysis.criteria import CRITERIA, limit
from steadfeed.analysis.target_tables import SPLIT_F, SPLIT_WET_BULBS_F, SUPERHEAT_F, SUPERHEAT_WET_BULBS_F
from steadfeed.circuit.equipment import MeteringDevice, System

F = 5.0 / 9.0
_ZERO_F = 459.67


@dataclass(frozen=True, slots=True)
class Target:
    """What a quantity should be.

    name: of the quantity; value, low, high: SI, value None where only a range is known; source: where it comes from;
    note: one sentence on how it came about, "" when there is nothing to add.
    """

    name: str
    value: float | None
    low: float
    high: float
    source: str
    note: str = ""

    def holds(self, value: float) -> bool:
        """Whether a value lies inside the tolerance."""
        return self.low <= value <= self.high


def fixed_orifice_superheat(outdoor_dry_bulb: float, return_wet_bulb: float) -> Target | None:
    """Target superheat of a fixed orifice at the suction service port, or None where the table has a dash or ends.

    outdoor_dry_bulb, return_wet_bulb [K]. Bilinear between the printed cells; below 5 °F the table does not hold.
    """
    value = _table(
        SUPERHEAT_F, SUPERHEAT_WET_BULBS_F, outdoor_dry_bulb * 1.8 - _ZERO_F, return_wet_bulb * 1.8 - _ZERO_F
    )
    if value is None or value * F < limit("least_table_superheat") - 1e-9:
        return None
    tolerance = limit("superheat_tolerance")
    return Target(
        "superheat",
        value * F,
        value * F - tolerance,
        value * F + tolerance,
        "Title 24 RA3.2.2.6.1; table of equipment manual 14ACX, p. 26, interpolated",
    )


def superheat_rule_of_thumb(outdoor_dry_bulb: float, return_wet_bulb: float) -> float:
    """(3·WB − 80 − DB)/2 in °F, as K difference: a cross-check only, since it misses the table by up to 7.5 °F."""
    wet, dry = return_wet_bulb * 1.8 - _ZERO_F, outdoor_dry_bulb * 1.8 - _ZERO_F
    return 0.5 * (3.0 * wet - 80.0 - dry) * F


def superheat_target(system: System, outdoor_dry_bulb: float | None, return_wet_bulb: float | None) -> Target | None:
    """Target superheat at the suction port for the metering device in use, or None where nothing states one."""
    device = system.metering_device
    stated = system.nameplate.superheat
    if device is MeteringDevice.FIXED_ORIFICE:
        if system.mode == "heating" or outdoor_dry_bulb is None or return_wet_bulb is None:
            return None
        return fixed_orifice_superheat(outdoor_dry_bulb, return_wet_bulb)
    if device is MeteringDevice.UNKNOWN:
        return None
    if stated is not None:
        tolerance = limit("superheat_tolerance")
        return Target(
            "superheat", stated, max(stated - tolerance, limit("floor_superheat")), stated + tolerance, "nameplate"
        )
    return Target(
        "superheat",
        limit("usual_valve_superheat"),
        limit("valve_superheat_low"),
        limit("valve_superheat_high"),
        CRITERIA["valve_superheat_low"].source,
        "No superheat is stated for this valve: the common range.",
    )


def subcooling_target(system: System, line_allowance: float = 0.0) -> Target:
    """Target subcooling at the unit. line_allowance: added for the line set [K], see `line_set`."""
    stated = system.nameplate.subcooling
    tolerance = limit("subcooling_tolerance")
    extra = max(line_allowance, 0.0)
    note = ""
    if extra > 0.05:
        note = f"{extra / F:.1f} °F are added for the line set; `steadfeed lineset` shows how they come about."
    if stated is None:
        usual, wide = limit("usual_subcooling"), limit("usual_subcooling_width")
        return Target(
            "subcooling", usual + extra, usual + extra - wide, usual + extra + wide, CRITERIA["usual_subcooling"].source,
            ("No subcooling is stated on the nameplate: the usual range. " + note).strip(),
        )  # fmt: skip
    return Target(
        "subcooling", stated + extra, stated + extra - tolerance, stated + extra + tolerance,
        "nameplate; tolerance of Title 24 RA3.2.2.6.2", note,
    )  # fmt: skip


def temperature_split_target(return_dry_bulb: float, return_wet_bulb: float) -> Target | None:
    """Target of return less supply dry bulb in cooling, or None outside the table. Temperatures [K]."""
    value = _table(SPLIT_F, SPLIT_WET_BULBS_F, return_dry_bulb * 1.8 - _ZERO_F, return_wet_bulb * 1.8 - _ZERO_F)
    if value is None:
        return None
    tolerance = limit("split_tolerance")
    return Target(
        "temperature split", value * F, value * F - tolerance, value * F + tolerance,
        "Title 24 table RA3.2-3 (from memory), ±3 °F of RA3.2.2.7",
    )  # fmt: skip


#: Lowest seasonal efficiency (SEER) of a class -> condensing over ambient at the rating point [°F].
_OVER_AMBIENT_F: Sequence[tuple[float, float]] = ((16.0, 15.0), (13.0, 20.0), (10.0, 25.0), (0.0, 30.0))


def condensing_over_ambient_target(seer: float | None) -> Target:
    """Condensing temperature over outdoor air at the rating point, by efficiency class. Common practice."""
    if seer is None:
        value, wide = limit("usual_over_ambient"), limit("over_ambient_width_unknown")
        note = "The efficiency class is not known: a wide range."
    else:
        value = next(over for least, over in _OVER_AMBIENT_F if seer >= least) * F
        wide, note = limit("over_ambient_width"), f"A unit of SEER {seer:g}."
    return Target(
        "condensing over ambient", value, value - wide, value + wide, CRITERIA["usual_over_ambient"].source, note
    )


def airflow_target(nominal_capacity: float) -> Target:
    """Indoor airflow [m3/s] for a nominal capacity [W]."""
    per = limit("usual_airflow")
    wide = limit("airflow_width")
    return Target(
        "indoor airflow", per * nominal_capacity, (per - wide) * nominal_capacity, (per + wide) * nominal_capacity,
        CRITERIA["usual_airflow"].source, "Below 300 cfm per ton the public check fails (Title 24 RA3.2.2.7).",
    )  # fmt: skip


def return_over_evaporating_target() -> Target:
    """Return air over evaporating temperature in cooling at about 400 cfm per ton. Common practice."""
    value, wide = limit("usual_over_evaporating"), limit("over_evaporating_width")
    return Target(
        "return air over evaporating", value, value - wide, value + wide, CRITERIA["usual_over_evaporating"].source
    )


def _table(
    table: Mapping[int, Sequence[float | None]], columns: Sequence[int], row_at: float, column_at: float
) -> float | None:
    """Bilinear value of a printed table; None beyond its edges or beside a dash that would carry weight."""
    keys = sorted(table)
    tiny = 1e-6
    if not (keys[0] - tiny <= row_at <= keys[-1] + tiny and columns[0] - tiny <= column_at <= columns[-1] + tiny):
        return None
    i = max(k for k in range(len(keys)) if keys[k] <= row_at + tiny)
    j = max(k for k in range(len(columns)) if columns[k] <= column_at + tiny)
    i, j = min(i, len(keys) - 2), min(j, len(columns) - 2)
    down = (row_at - keys[i]) / (keys[i + 1] - keys[i])
    across = (column_at - columns[j]) / (columns[j + 1] - columns[j])
    total = 0.0
    for a, share_a in ((0, 1.0 - down), (1, down)):
        for b, share_b in ((0, 1.0 - across), (1, across)):
            weight = share_a * share_b
            if weight <= tiny:
                continue
            cell = table[keys[i + a]][j + b]
            if cell is None:
                return None
            total += weight * cell
    return total
