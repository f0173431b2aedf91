"""Fixed wording of reports: states, reasons with their remedy, conditions, quantities, channels, cautions."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from steadfeed.circuit.equipment import MeteringDevice

#: The metering device in running text, "this unit should have …".
DEVICE_NAMES: Final[dict[MeteringDevice, str]] = {
    MeteringDevice.TXV: "a TXV",
    MeteringDevice.EEV: "an EEV",
    MeteringDevice.FIXED_ORIFICE: "a fixed orifice",
    MeteringDevice.UNKNOWN: "a device that the system file does not name",
}

#: The metering device as the subject of a headline.
SUBJECTS: Final[dict[MeteringDevice, str]] = {
    MeteringDevice.TXV: "the valve",
    MeteringDevice.EEV: "the electronic valve",
    MeteringDevice.FIXED_ORIFICE: "the orifice",
    MeteringDevice.UNKNOWN: "the metering device",
}

STATE_MEANINGS: Final[dict[str, str]] = {
    "regulating": "holds the feed while the head moves",
    "fixed": "acts as a fixed opening",
    "weak": "follows the push, but with far too little gain",
    "at its stop": "a good valve without authority at first",
    "sticking": "moves late and in steps, and stays where it sticks",
    "hunting": "opens and closes in a cycle that does not die out",
    "starving": "feeds too little: superheat far too high",
    "flooding": "feeds too much: hardly any superheat",
}


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a test could not tell. clause: after "No verdict:"; meaning: why it matters; remedy: what to do about it.

    {push}, {least} and {subcooling} stand for amounts in the reader's units, {cover} for what is covered.
    """

    clause: str
    meaning: str
    remedy: str


REASON_WORDING: Final[dict[str, Reason]] = {
    "no push found": Reason(
        "the log shows no push",
        "The head never rose and stayed up the way it does when air is restricted on purpose, so the device was "
        "never asked.",
        "Log a whole challenge: baseline, push of {push} by covering {cover}, hold, restore, standstill.",
    ),
    "push too small": Reason(
        "the push was too small",
        "With so small a rise, a device that holds the feed and one that does not look alike to these instruments.",
        "Cover a little more of {cover}, in steps, to a rise of {push} of condensing temperature and below the ceiling.",
    ),
    "too little subcooling": Reason(
        "there was too little subcooling",
        "The liquid at the valve may have carried vapor, and then even a good valve loses its feed.",
        "Bring subcooling to {subcooling} or more before the push. If the nameplate asks for less, this unit cannot "
        "be challenged in this way; the readings still stand.",
    ),
    "hold too short": Reason(
        "the hold was too short",
        "The device had too little time to answer: a TXV needs 2 min near the top of the push, an EEV 3 min 30 s.",
        "Repeat from the hold and keep the head level for that long before restoring the airflow.",
    ),
    "interrupted": Reason(
        "the test was interrupted",
        "Something besides the cover moved: compressor, stage, fan, defrost or thermostat.",
        "Fix stage and fan for the length of the test, write the override down, repeat, then put it back.",
    ),
    "load drifted": Reason(
        "the load drifted",
        "Indoor air or airflow changed during the test, and that moves suction pressure and superheat as well.",
        "Close doors, leave filter, registers and thermostat alone, let the unit settle, and repeat.",
    ),
    "unsteady baseline": Reason(
        "the baseline was not steady",
        "There was no level stretch before the push to compare the push with.",
        "Let the unit run 10 to 15 min, until pressures and temperatures stop drifting, then push.",
    ),
    "suction gauge not alive": Reason(
        "the suction gauge was not shown to be alive",
        "A stuck suction gauge makes a parked valve look perfect, so without proof there is no verdict.",
        "Check that valve and hose are open, exchange the gauge or sensor, and log through the standstill.",
    ),
    "head gauge not alive": Reason(
        "the head gauge was not shown to be alive",
        "Without a living head gauge nobody knows how far the head was pushed, nor how near the ceiling it came.",
        "Check that valve and hose are open, exchange the gauge or sensor, and repeat; do not push without it.",
    ),
    "temperature clamp not alive": Reason(
        "a temperature clamp was not shown to be alive",
        "A clamp that does not answer hides superheat or subcooling that moves.",
        "Check contact and battery, move it to another probe input, and repeat with the standstill in the log.",
    ),
    "temperature clamp off the pipe": Reason(
        "a temperature clamp came off the pipe",
        "A clamp beside the pipe reads air, so superheat or subcooling is not what it seems.",
        "Clean the pipe, clamp it again, insulate it, and repeat.",
    ),
    "wrong refrigerant or unit": Reason(
        "refrigerant and readings contradict each other",
        "Pressures and temperatures as logged cannot all be true for this refrigerant in these units.",
        "Compare nameplate, system file and column headers with what is on the unit, correct them, and judge again.",
    ),
    "channel missing": Reason(
        "a reading that the test needs is missing",
        "Suction pressure, liquid or discharge pressure, suction line and liquid line temperature are all needed.",
        "Add the missing channel, or name it in the system file if it stands under another header.",
    ),
    "too few readings": Reason(
        "there were too few readings",
        "A stretch of the test has too few rows to be told from scatter.",
        "Take the seven rows: standing; baseline twice, 3 min apart; hold twice, at 2 and at 4 min; restored; standstill.",
    ),
}

#: Each reason's condition, said the right way round for the validity table.
CONDITIONS: Final[dict[str, str]] = {
    "no push found": "A push is in the log",
    "push too small": "Push large enough",
    "too little subcooling": "Enough subcooling",
    "hold too short": "Hold long enough",
    "interrupted": "Nothing else moved",
    "load drifted": "Load steady",
    "unsteady baseline": "Baseline steady",
    "suction gauge not alive": "Suction gauge alive",
    "head gauge not alive": "Head gauge alive",
    "temperature clamp not alive": "Temperature clamps alive",
    "temperature clamp off the pipe": "Clamps on the pipe",
    "wrong refrigerant or unit": "Readings fit the refrigerant",
    "channel missing": "The four readings are there",
    "too few readings": "Enough readings",
}

QUANTITY_NAMES: Final[dict[str, str]] = {
    "suction_pressure": "Suction pressure",
    "head_pressure": "Head pressure",
    "evaporating_temperature": "Evaporating (dew)",
    "condensing_temperature": "Condensing (bubble)",
    "superheat": "Superheat",
    "subcooling": "Subcooling",
    "valve_subcooling": "Subcooling at the valve",
    "suction_line_temperature": "Suction line",
    "liquid_line_temperature": "Liquid line",
    "discharge_line_temperature": "Discharge line",
    "outdoor_air_temperature": "Outdoor air",
    "return_air_dry_bulb": "Return air, dry bulb",
    "return_air_wet_bulb": "Return air, wet bulb",
    "supply_air_dry_bulb": "Supply air, dry bulb",
    "compressor_current": "Compressor current",
    "power": "Power",
}

CHANNEL_NAMES: Final[dict[str, str]] = {
    "suction_pressure": "Suction pressure",
    "liquid_pressure": "Liquid pressure",
    "discharge_pressure": "Discharge pressure",
    "suction_line_temperature": "Suction line temperature",
    "liquid_line_temperature": "Liquid line temperature",
    "evaporator_outlet_temperature": "Evaporator outlet temperature",
    "discharge_line_temperature": "Discharge line temperature",
    "outdoor_air_temperature": "Outdoor air temperature",
    "return_air_dry_bulb": "Return air, dry bulb",
    "return_air_wet_bulb": "Return air, wet bulb",
    "supply_air_dry_bulb": "Supply air, dry bulb",
    "supply_air_wet_bulb": "Supply air, wet bulb",
    "return_air_relative_humidity": "Return air humidity",
    "compressor_current": "Compressor current",
    "fan_current": "Fan current",
    "power": "Power",
    "valve_steps": "Valve steps",
}

PASSED: Final[dict[bool | None, str]] = {True: "passed", False: "not passed", None: "could not be checked"}
ALIVE: Final[dict[bool | None, str]] = {True: "alive", False: "not alive", None: "not shown"}

DISCLAIMER: Final = "steadfeed advises; it is not a safety device. Maker’s instructions and local codes govern."

CAUTIONS: Final[tuple[str, ...]] = (
    "For licensed, certified people only. The maker’s instructions and local codes govern.",
    "Lock out and prove dead before touching wiring. Let capacitors discharge.",
    (
        "Never pull a live fan lead: cover the coil. A fan is switched off only on units with several fans, wired off "
        "before the start; never the only fan."
    ),
    "If the head still climbs with the cover off, stop the compressor. Never bypass a pressure switch.",
    "Keep clear of moving blades; tape the cover so that it cannot be drawn in.",
    "Wear eye protection and gloves: the discharge line burns, escaping liquid freezes skin.",
    "Never leave a challenge unattended. Restore the airflow and verify that the head comes back.",
)
FLAMMABLE_CAUTION: Final = (
    "{name} is flammable ({safety_class}): ventilate, keep the detector live, allow no ignition source."
)
MAYBE_FLAMMABLE_CAUTION: Final = (
    "With a flammable refrigerant (A2L, A3): ventilate, keep the detector live, allow no ignition source."
)
