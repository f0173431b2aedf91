"""Findings between condenser and evaporator: liquid line and metering device."""

from __future__ import annotations

from steadfeed.analysis.criteria import limit
from steadfeed.analysis.diagnosis.evidence import Evidence, parked
from steadfeed.analysis.diagnosis.weigh import weigh
from steadfeed.circuit.equipment import MeteringDevice
from steadfeed.circuit.finding import Finding

_CHART = "signs of Rossi and Braun, after Braun and Li, table 1-1"
_TRADE = "common practice"
#: What must be ruled out before a valve is condemned.
BEFORE_A_VALVE = (
    "Before the valve is condemned: bulb strap and insulation, equalizer, screen and drier, subcooling at the valve."
)


def liquid_line_restriction(evidence: Evidence) -> Finding | None:
    """Drier, screen, kink or valve half shut in the liquid line: starved coil, subcooling up, the line cools behind it."""
    return weigh(
        evidence, "liquid line restriction", needs=(("superheat", "subcooling"), ("line_drop", "subcooling")),
        text="A restriction in the liquid line before the metering device (drier, screen, kink, valve half shut).",
        next_step="Feel and measure along the line: the place where it turns colder is the place.",
        source=f"{_CHART}; Li and Braun: pressure drop of the liquid line",
    )  # fmt: skip


def flash_gas(evidence: Evidence) -> Finding | None:
    """Vapor before the metering device because lift, length or size of the line take more than the subcooling."""
    return weigh(
        evidence, "flash gas", needs=(("line_drop", "superheat"), ("line_set_loss", "superheat")),
        text="Flash gas before the metering device: the line set takes more subcooling than there is.",
        next_step="Work the line set out (steadfeed lineset); compare subcooling at the unit and before the device.",
        source="unit manual K90-KPCS-IM-2, p. 7: subcooling lost in risers",
    )  # fmt: skip


def underfeeding(evidence: Evidence) -> Finding | None:
    """The metering device passes too little: starved coil, liquid backs up, the liquid line stays warm up to it."""
    fixed = evidence.device is MeteringDevice.FIXED_ORIFICE
    what = "orifice too small or dirty" if fixed else "stuck narrow, too small, or its screen is plugged"
    return weigh(
        evidence, "metering device underfeeding", needs=(("superheat", "subcooling"),),
        text=f"The metering device passes too little ({what}).",
        next_step="Read the piston’s number and clean it." if fixed else BEFORE_A_VALVE,
        source=f"{_TRADE}; {_CHART} for a restriction",
    )  # fmt: skip


def overfeeding(evidence: Evidence) -> Finding | None:
    """The metering device passes too much: flooded coil, little superheat, subcooling drawn down."""
    fixed = evidence.device is MeteringDevice.FIXED_ORIFICE
    what = "orifice too large, or its seat leaks" if fixed else "stuck wide, or eroded"
    return weigh(
        evidence, "metering device overfeeding", needs=(("superheat", "subcooling"), ("superheat",)),
        text=f"The metering device passes too much ({what}).",
        next_step="Read the piston’s number and look at its seat." if fixed else BEFORE_A_VALVE,
        source=_TRADE,
    )  # fmt: skip


def bulb_loose(evidence: Evidence) -> Finding | None:
    """A bulb that feels the air beside the pipe drives the valve by it: flooded in cooling, starved in heating."""
    if evidence.device is not MeteringDevice.TXV:
        return None
    return weigh(
        evidence, "bulb loose", needs=(("superheat", "subcooling"), ("superheat",)),
        text="The bulb is loose, badly placed or not insulated.",
        next_step="Look at the strap, the place (10 or 2 o’clock, clean pipe) and the insulation; it costs two minutes.",
        source=_TRADE,
    )  # fmt: skip


def bulb_charge_lost(evidence: Evidence) -> Finding | None:
    """A bulb that lost its charge lets the valve close: starved coil, liquid backs up, the head hardly moves."""
    if evidence.device is not MeteringDevice.TXV:
        return None
    return weigh(
        evidence, "bulb charge lost", needs=(("superheat", "subcooling"),),
        text="The bulb has lost its charge: the valve closes.",
        next_step="Warm the bulb in the hand: suction must rise within a minute. " + BEFORE_A_VALVE,
        source=_TRADE,
    )  # fmt: skip


def equalizer_plugged(evidence: Evidence) -> Finding | None:
    """A plugged external equalizer holds an old pressure under the diaphragm: the valve follows the bulb alone."""
    if evidence.device is not MeteringDevice.TXV:
        return None
    return weigh(
        evidence, "equalizer plugged", needs=(("superheat", "subcooling"),),
        text="The external equalizer is plugged or kinked.",
        next_step="Look along the equalizer line; loosen it only with the circuit pumped down.",
        source=_TRADE,
    )  # fmt: skip


def check_valve_leaking(evidence: Evidence) -> Finding | None:
    """In heat pumps: a check valve beside the device that leaks adds a fixed opening; the device closes, then floods."""
    return weigh(
        evidence, "check valve leaking", needs=(("superheat", "subcooling"), ("superheat",)),
        text="The check valve beside the metering device leaks.",
        next_step="Compare with the other mode; ice water on the bulb closes the valve, not the leak.",
        source=_TRADE,
    )  # fmt: skip


def device_parked(evidence: Evidence) -> Finding | None:
    """A valve that no longer moves, by the challenge alone: a snapshot cannot show it."""
    assessment = evidence.assessment
    if assessment is None or assessment.probability is None or not parked(assessment, evidence.system):
        return None
    held = assessment.probability.get("fixed", 0.0) + assessment.probability.get("sticking", 0.0)
    if held < limit("least_reported"):
        return None
    for_it = ["In the challenge the feed followed the head, as that of a fixed opening does."]
    if assessment.verdict == "sticking":
        for_it = ["In the challenge the feed moved in steps and came back late."]
    against = [] if assessment.valid else ["The test as a whole was not valid; this verdict was called early."]
    return Finding(
        code="metering device parked",
        text="The metering device no longer regulates: it stands where it is.",
        likelihood=held,
        evidence_for=tuple(for_it),
        evidence_against=tuple(against),
        next_step=BEFORE_A_VALVE,
        source="the challenge (docs/method.md)",
    )
