"""What the standstill says: both gauges must drift towards each other, which proves that neither was stuck."""

from __future__ import annotations

from steadfeed.analysis.criteria import limit
from steadfeed.analysis.phases import Course
from steadfeed.analysis.series import Rows, median
from steadfeed.analysis.windows import InstrumentErrors
from steadfeed.circuit.recording import Remark


def standstill_notes(rows: Rows, course: Course, errors: InstrumentErrors) -> list[Remark]:
    """Remarks on the standstill, none without one. Moving proves life, agreement an offset at one pressure only."""
    if course.standstill is None:
        return [
            Remark("no standstill", "The log ends before a standstill: shut off and watch both sides drift together.")
        ]
    t = rows.time
    part = rows.between(course.standstill, float(t[-1]))
    if part.stop - part.start < 2 or float(t[-1]) - course.standstill < 45.0:
        return [Remark("short standstill", "The standstill was too short to see the two sides drift together.")]
    ps, pl = rows.ps[part], rows.pl[part]
    apart_first = float(pl[0] - ps[0])
    apart_last = float(median(pl[-3:]) - median(ps[-3:]))
    if abs(apart_last) <= max(limit("equal_pressures"), 2.0 * errors.pressure_offset):
        return [
            Remark(
                "sides equalized",
                "At standstill both sides met: the gauges agree there, and the metering device does not shut tight. "
                "It does not say that it modulates.",
            )
        ]
    if apart_last < 0.75 * apart_first:
        return [
            Remark("sides approach", "At standstill both sides moved towards each other without meeting in this log.")
        ]
    return [
        Remark(
            "sides apart",
            "At standstill the sides stay apart: a valve with hard shut-off, a closed EEV, a liquid solenoid or a check "
            "valve does that; it is no fault by itself.",
        )
    ]
