"""Every threshold of the judgement with its value, unit and source. Nothing else decides by a number of its own."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class Criterion:
    """A threshold.

    value in SI units of `kind` (see units.py; "" = plain number). source: published, measured on stated logs, or
    common practice of the trade.
    """

    value: float
    kind: str
    text: str
    source: str


F = 5.0 / 9.0
_CFM_PER_TON = 0.3048**3 / 60.0 / 3516.8528420667  # m³/s per W
_PSI = 6894.757293168361
_PRACTICE = "common practice of the trade"
_SIM = "measured on simulated logs (half A of 1,500), no field data"
_BENCH = "kept on bench cases of the tuning range (docs/diagnosis.md), no field data"

CRITERIA: Final[dict[str, Criterion]] = {
    "frozen_gauge_seconds": Criterion(
        60.0, "time", "A digital gauge that repeats a value longer than this is suspect", _PRACTICE
    ),
    "frozen_clamp_seconds": Criterion(
        240.0, "time", "A clamp that repeats a value longer than this is suspect", _PRACTICE
    ),
    "frozen_readings": Criterion(15.0, "count", "… and for at least this many readings", _PRACTICE),
    "frozen_surprise": Criterion(25.0, "", "… and less likely by chance than exp(−this)", _SIM),
    "coarse_seconds": Criterion(
        20.0, "time", "A display is coarse when it repeats another value, too, for so long", _BENCH
    ),
    "coarse_share": Criterion(0.04, "", "… and for this share of its longest repeat", _BENCH),
    "coarse_patience": Criterion(150.0, "time", "So long a coarse display may stand after an event", _BENCH),
    "least_running_seconds": Criterion(300.0, "time", "Running before the push", _PRACTICE),
    "steady_condensing": Criterion(
        0.75 * F, "temperature_difference", "Steady: condensing temperature, per minute", _PRACTICE
    ),
    "steady_evaporating": Criterion(
        0.6 * F, "temperature_difference", "Steady: evaporating temperature, per minute", _PRACTICE
    ),
    "steady_superheat": Criterion(1.4 * F, "temperature_difference", "Steady: superheat, per minute", _PRACTICE),
    "least_push": Criterion(15.0 * F, "temperature_difference", "Condensing rise that a push needs", _SIM),
    "least_hold": Criterion(120.0, "time", "Time above 80 % of the rise", _SIM),
    "least_hold_eev": Criterion(210.0, "time", "Time above 80 % of the rise, EEV that still moves", _SIM),
    "settled_superheat": Criterion(
        1.5 * F, "temperature_difference", "Settled: superheat in the hold, per minute", _SIM
    ),
    "least_subcooling": Criterion(
        10.0 * F, "temperature_difference", "Subcooling at the unit before the push", _PRACTICE
    ),
    "least_valve_subcooling": Criterion(
        0.5 * F, "temperature_difference", "Subcooling left at the valve through the push", _PRACTICE
    ),
    "dip_share": Criterion(0.5, "", "Share of the rise by which the head falls and comes back when a fan cycles", _SIM),
    "fan_swing": Criterion(
        9.0 * F, "temperature_difference", "Swing of the condensing temperature of a cycling fan", _SIM
    ),
    "stage_evaporating": Criterion(
        1.6 * F, "temperature_difference", "Lasting shift of the evaporating temperature, stage change", _SIM
    ),
    "stage_condensing": Criterion(
        3.0 * F, "temperature_difference", "… with an opposite shift of the condensing temperature", _SIM
    ),
    "load_return_air": Criterion(
        2.0 * F, "temperature_difference", "Return air may change across the push by", _PRACTICE
    ),
    "load_wet_bulb": Criterion(
        1.8 * F, "temperature_difference", "Return wet bulb may change across the push by", _PRACTICE
    ),
    "load_aba": Criterion(
        1.2 * F, "temperature_difference", "Evaporating temperature, recovery against baseline", _SIM
    ),
    "load_aba_by_hand": Criterion(2.2 * F, "temperature_difference", "The same between readings by hand", _SIM),
    "load_uncertainty": Criterion(
        0.35 * F, "temperature_difference", "Load's share in the uncertainty of the evaporating temperature", _SIM
    ),
    "clamp_at_air": Criterion(
        2.6 * F, "temperature_difference", "Clamp counts as lying at the air's temperature within", _SIM
    ),
    "hanging_rise": Criterion(
        10.0 * F, "temperature_difference", "Condensing rise in which the liquid line must move", _SIM
    ),
    "hanging_move": Criterion(
        0.6 * F, "temperature_difference", "Movement against the air below which a clamp hangs in it", _SIM
    ),
    "discharge_follows": Criterion(200.0, "time", "Push that the discharge line can follow", _PRACTICE),
    "discharge_cooled": Criterion(
        2.0 * F,
        "temperature_difference",
        "Cooling of the discharge line in a push beyond which none is called regulating",
        "isentropic compression: a higher head from the same suction gas leaves it hotter",
    ),
    "discharge_above": Criterion(
        10.0 * F, "temperature_difference", "A discharge line is hotter than condensing by", _PRACTICE
    ),
    "subcooling_fall": Criterion(
        4.0 * F, "temperature_difference", "Fall of the subcooling in the push that cuts the flow noticeably", _SIM
    ),
    "floor_superheat": Criterion(
        3.0 * F, "temperature_difference", "Superheat below which gauges are blind", _PRACTICE
    ),
    "blind_superheat": Criterion(
        4.5 * F, "temperature_difference", "Measured superheat at the start below which none is called regulating", _SIM
    ),
    "starved_superheat": Criterion(
        40.0 * F, "temperature_difference", "Superheat at the start above which none is called regulating", _SIM
    ),
    "weak_start": Criterion(
        8.0 * F, "temperature_difference", "Superheat at the start below which a test says less", _PRACTICE
    ),
    "equal_pressures": Criterion(20e3, "pressure_difference", "Sides that count as equal at standstill", _PRACTICE),
    "switch_margin": Criterion(
        9.0 * F, "temperature_difference", "Margin below the high-pressure switch, condensing", _PRACTICE
    ),
    "dew_limit": Criterion((140.0 + 459.67) * F, "temperature", "Highest condensing dew temperature", _PRACTICE),
    "dew_limit_switch_unknown": Criterion(
        (130.0 + 459.67) * F, "temperature", "The same when the switch is not known", _PRACTICE
    ),
    "call_probability": Criterion(
        0.80, "", "Probability from which a state is called", "own choice, kept on half A of the simulated logs"
    ),
    "group_probability": Criterion(
        0.93,
        "",
        "Probability of states of one consequence from which the likeliest is called",
        "own choice, kept on half A of the simulated logs",
    ),
    "regulating_feed_held": Criterion(
        0.55, "", "Upper end of the feed held below which no valve is called regulating", _SIM
    ),
    "early_probability": Criterion(0.95, "", "Probability from which an early verdict is called", "product rule"),
    # spot readings and targets
    "least_table_superheat": Criterion(
        5.0 * F,
        "temperature_difference",
        "Least target superheat for which the table of fixed orifices holds",
        "Title 24 RA3.2.2.6.1",
    ),
    "superheat_tolerance": Criterion(
        5.0 * F, "temperature_difference", "Superheat may differ from its target by", "Title 24 RA3.2.2.6.1"
    ),
    "valve_superheat_low": Criterion(
        4.0 * F, "temperature_difference", "Least superheat of a valve without a stated one", "Title 24 RA3.2.2.6.2"
    ),
    "valve_superheat_high": Criterion(
        25.0 * F, "temperature_difference", "Highest superheat of a valve without a stated one", "Title 24 RA3.2.2.6.2"
    ),
    "usual_valve_superheat": Criterion(
        10.0 * F, "temperature_difference", "Usual superheat of a valve at the suction port", _PRACTICE
    ),
    "subcooling_tolerance": Criterion(
        3.0 * F, "temperature_difference", "Subcooling may differ from its target by", "Title 24 RA3.2.2.6.2"
    ),
    "usual_subcooling": Criterion(10.0 * F, "temperature_difference", "Usual subcooling, none being stated", _PRACTICE),
    "usual_subcooling_width": Criterion(4.0 * F, "temperature_difference", "… which units differ from by", _PRACTICE),
    "split_tolerance": Criterion(
        3.0 * F, "temperature_difference", "Temperature split may differ from its target by", "Title 24 RA3.2.2.7"
    ),
    "usual_over_ambient": Criterion(22.0 * F, "temperature_difference", "Usual condensing over ambient", _PRACTICE),
    "over_ambient_width": Criterion(
        5.0 * F, "temperature_difference", "… and how units of one efficiency class differ", _PRACTICE
    ),
    "over_ambient_width_unknown": Criterion(
        10.0 * F, "temperature_difference", "… and when the class is not known", _PRACTICE
    ),
    "usual_over_evaporating": Criterion(
        35.0 * F, "temperature_difference", "Return air over evaporating at about 400 cfm per ton", _PRACTICE
    ),
    "over_evaporating_width": Criterion(5.0 * F, "temperature_difference", "… and how far it may be off", _PRACTICE),
    "usual_airflow": Criterion(
        400.0 * _CFM_PER_TON, "", "Indoor airflow per capacity [m³/s per W]: 400 cfm per ton", _PRACTICE
    ),
    "airflow_width": Criterion(
        50.0 * _CFM_PER_TON, "", "… and how far it may be off [m³/s per W]: 50 cfm per ton", _PRACTICE
    ),
    # accuracy of ordinary instruments, as limits (half-width); stated ones go before
    "digital_gauge": Criterion(1.0 * _PSI, "pressure_difference", "Accuracy of a digital gauge", _PRACTICE),
    "digital_gauge_share": Criterion(0.005, "fraction", "… and of its reading", _PRACTICE),
    "needle_suction": Criterion(
        3.5 * _PSI, "pressure_difference", "Accuracy of a needle gauge, suction", "limit of Title 24 RA3.2.2.2 (2013)"
    ),
    "needle_head": Criterion(
        7.0 * _PSI, "pressure_difference", "Accuracy of a needle gauge, head", "limit of Title 24 RA3.2.2.2 (2013)"
    ),
    "thermometer": Criterion(
        1.3 * F, "temperature_difference", "Accuracy of a thermometer or clamp", "limit of Title 24 RA3.2.2.2.1"
    ),
    "moving_air": Criterion(1.5 * F, "temperature_difference", "… of a stream of air read in one place", _PRACTICE),
    "discharge_clamp": Criterion(5.0 * F, "temperature_difference", "… of a clamp on the hot-gas line", _PRACTICE),
    "hygrometer": Criterion(0.03, "fraction", "Accuracy of a hygrometer", _PRACTICE),
    "airflow_share": Criterion(0.10, "fraction", "Accuracy of an indoor airflow", _PRACTICE),
    "clamp_meter_share": Criterion(0.02, "fraction", "Accuracy of a clamp meter or power meter", _PRACTICE),
    "usual_suction_loss": Criterion(
        2.0 * _PSI, "pressure_difference", "Usual loss between the bulb and the suction port", _PRACTICE
    ),
    "usual_coil_loss": Criterion(0.02, "fraction", "Usual loss of the condenser coil, of head pressure", _PRACTICE),
    # line set
    "nameplate_line": Criterion(
        25.0 * 0.3048, "length", "Length of line that a nameplate usually assumes (some 15 ft)", _PRACTICE
    ),
    "fittings_share": Criterion(1.3, "", "Equivalent over actual length, fittings not counted one by one", _PRACTICE),
    "drier_and_valves": Criterion(
        1.5 * _PSI, "pressure_difference", "Usual loss of filter drier and service valves", _PRACTICE
    ),
    "subcooling_fall_in_push": Criterion(
        6.0 * F, "temperature_difference", "Fall of the subcooling that a fixed opening may bring in a push", _SIM
    ),
    # plan of a challenge
    "recommended_push": Criterion(
        18.0 * F, "temperature_difference", "Condensing rise that is aimed at (18 to 25 °F is best)", _SIM
    ),
    "most_subcooling": Criterion(
        18.0 * F, "temperature_difference", "Subcooling above which its reason is looked for first", _PRACTICE
    ),
    "discharge_limit": Criterion(
        (225.0 + 459.67) * F, "temperature", "Discharge-line temperature, no maker's limit being known", _PRACTICE
    ),
    "usual_efficiency": Criterion(
        0.65, "", "Isentropic efficiency for a forecast of the discharge temperature", _PRACTICE
    ),
    "superheat_slope_gap": Criterion(
        0.40, "", "Fall of superheat per condensing rise, fixed opening less regulating valve", _SIM
    ),
    "needle_graduation": Criterion(5.0 * _PSI, "pressure_difference", "Graduation of a needle gauge, head", _PRACTICE),
    "freezing_suction": Criterion(
        (32.0 + 459.67) * F, "temperature", "Evaporating temperature at which a coil may ice", "freezing point of water"
    ),
    "scroll_unloading": Criterion(
        20.0 * _PSI, "pressure_difference", "Suction, gauge, below which a scroll may unload", "one maker of scrolls"
    ),
    "first_cover": Criterion(0.25, "fraction", "Share of the face of the first cover", _PRACTICE),
    "cover_power_margin": Criterion(
        1.15, "", "How much more than the last step the next may bring per share of the face", _SIM
    ),
    "climb_without_air": Criterion(
        1.2 * F, "", "Condensing climb without any heat rejection, 3 tons [K/s]", "energy balance of a 3-ton unit"
    ),
    "mild_baseline": Criterion(
        (90.0 + 459.67) * F, "temperature", "Condensing below which the baseline is partly covered", _PRACTICE
    ),
    "guided_settle": Criterion(750.0, "time", "Running that people are guided to before the baseline", _PRACTICE),
    # diagnosis
    "likelihood_temper": Criterion(
        1.25, "", "Log-likelihoods of the diagnosis are divided by this, for calibration", _BENCH
    ),
    "prior_healthy": Criterion(0.35, "", "Prior of a unit in which nothing is found", _BENCH),
    "prior_in_instruments": Criterion(
        0.4, "", "Prior of a fault in an instrument against one in the circuit", _PRACTICE
    ),
    "prior_instrument_beside": Criterion(
        0.25, "", "Prior of an instrument's fault beside another cause, over that of it alone", _BENCH
    ),
    "prior_pair": Criterion(3.0, "", "Prior of two causes at once over the product of theirs", _BENCH),
    "class_unknown_spread": Criterion(
        5.0 * F,
        "temperature_difference",
        "Condensing over ambient spreads by this where the class is not known",
        _PRACTICE,
    ),
    "least_reported": Criterion(0.08, "", "Likelihood from which a finding is reported", "own choice"),
    "suspected": Criterion(0.25, "", "Likelihood from which a cause counts as suspected", "own choice"),
    "tells_feature": Criterion(0.7, "", "Log-likelihood ratio from which one reading counts as evidence", "own choice"),
    "charge_method": Criterion(
        0.05, "fraction", "Standard uncertainty of the virtual charge sensor itself", "authors: errors within 10 %"
    ),
    "charge_far": Criterion(0.25, "fraction", "Overcharge beyond which no charge level is given", _BENCH),
    "no_subcooling": Criterion(1.5 * F, "temperature_difference", "Subcooling that counts as none", _PRACTICE),
    "charge_without_subcooling": Criterion(
        0.06, "fraction", "Taken off the charge level where no subcooling is left", _BENCH
    ),
    "coldest_charge_check": Criterion(
        (55.0 + 459.67) * F, "temperature", "Outdoor air below which no charge is checked", "Title 24 RA3.2.1"
    ),
    "least_bits": Criterion(0.05, "", "Information from which a next test is proposed [bit]", "own choice"),
    "least_open": Criterion(0.02, "", "Likelihood from which a cause still counts for the next test", "own choice"),
    "sides_meet_seconds": Criterion(60.0, "time", "Standing before both sides may have met", _PRACTICE),
    "standing_seconds": Criterion(
        1800.0, "time", "Standing before pressure shows the temperature of the coils", _PRACTICE
    ),
    "standing_spread": Criterion(
        6.0 * F, "temperature_difference", "… and how far both coils may be apart then", _PRACTICE
    ),
}


def limit(key: str) -> float:
    """Value of a criterion in SI units."""
    return CRITERIA[key].value


def fingerprint() -> str:
    """Short hash over every criterion: two judgements with the same fingerprint used the same thresholds."""
    digest = hashlib.sha256()
    for key in sorted(CRITERIA):
        digest.update(f"{key}={CRITERIA[key].value!r};".encode())
    return digest.hexdigest()[:8]
