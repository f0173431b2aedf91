"""Causes by the names that a practice uses: what a learner may name and what a scenario hides."""

from __future__ import annotations

from typing import Final

#: Word -> one line for people. Order as in the list on the screen.
CAUSES: Final[dict[str, str]] = {
    "nothing wrong": "The unit does what it was built for.",
    "valve parked": "The stem stands and no longer follows the bulb.",
    "valve weak": "The valve follows with far too little gain.",
    "valve sticks": "The stem moves in jumps, late or not back.",
    "valve hunts": "Bulb and stem chase one another.",
    "valve too small": "The valve is wide open and has no more to give.",
    "bulb lost its charge": "Nothing presses the valve open.",
    "bulb loose": "The bulb feels the air and not the pipe.",
    "equalizer plugged": "The valve no longer feels the evaporator's pressure.",
    "screen plugged": "The inlet screen of the metering device is blocked.",
    "check valve leaks": "Liquid passes beside the metering device.",
    "too little refrigerant": "The circuit is undercharged.",
    "too much refrigerant": "The circuit is overcharged.",
    "air in the circuit": "Non-condensable gas adds its pressure.",
    "dirty condenser": "The outdoor coil gets too little air.",
    "too little indoor air": "Filter, blower or coil starves the evaporator of air.",
    "liquid line restricted": "Drier, kink or valve in the liquid line.",
    "compressor leaks": "The compressor's valves or scrolls blow back.",
    "reversing valve leaks": "Hot gas slips to the suction side.",
    "scroll unloads": "The scrolls part at very low suction pressure.",
    "fan control moves": "Head-pressure control fights the push.",
    "suction gauge stuck": "The suction gauge does not follow.",
    "head gauge stuck": "The head gauge does not follow.",
    "clamp off the pipe": "A clamp does not measure the pipe.",
    "clamp warmed": "Warm air or sun heats a clamp.",
    "hoses on the wrong ports": "A gauge measures another pressure than it should.",
    "wrong refrigerant": "Another refrigerant is inside than the plate says.",
    "wrong unit": "The readings are in another unit than believed.",
    "manifold leaks": "The manifold joins the gauges at standstill.",
    "load moved": "The house or the weather changed during the test.",
    "test cut short": "Push or hold were too small or too short.",
    "auxiliary heat": "Electric heat does the work.",
    "frosted coil": "Ice blocks the coil.",
    "second circuit": "Another circuit on the same air spoils or endangers the test.",
    "runs at part load": "A stage or speed changed, or must be fixed first.",
}

#: What a learner may answer beside the states of a metering device.
UNDECIDED: Final = "undecided"
DO_NOT_TEST: Final = "do not test"
