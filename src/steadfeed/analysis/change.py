"""What would change a verdict: for every reason and state the one thing to do or to have seen. Numbers stay out."""

from __future__ import annotations

from typing import Final

from steadfeed.circuit.verdict import UNDECIDED

_MEND: Final[dict[str, str]] = {
    "no push found": "Raise the head by covering the condenser coil, hold, restore, and record all of it.",
    "push too small": "Repeat with more of the coil covered, below the ceiling.",
    "too little subcooling": "Find out why the liquid is not subcooled enough (charge, restriction, lift) and test again.",
    "hold too short": "Repeat and hold the head up longer before restoring the airflow.",
    "interrupted": "Keep the compressor, its stage and the fans as they are through the test and repeat.",
    "load drifted": "Keep indoor air and its flow steady and repeat, recovery included.",
    "unsteady baseline": "Let the unit run until nothing drifts, then begin the push.",
    "suction gauge not alive": "Prove the suction gauge: open its valve and hose, shut off the unit and see it rise.",
    "head gauge not alive": "Prove the head gauge: open its valve and hose, and see it move at a start or a stop.",
    "temperature clamp not alive": "Warm the clamp in the hand and see it move; replace it if it does not.",
    "temperature clamp off the pipe": "Strap the clamp on clean pipe, insulate it, and repeat.",
    "wrong refrigerant or unit": "Read the nameplate and the units of the instruments, and correct the system file.",
    "channel missing": "Log suction and head pressure, suction line and liquid line temperature together.",
    "too few readings": "Take two rows before the push, at least three minutes apart, and two in the hold.",
}
_STATE: Final[dict[str, str]] = {
    "regulating": "It would read otherwise had superheat fallen and suction risen with the head.",
    "hunting": "It would read otherwise had the cycles ceased, or their mean followed the head.",
    "fixed": "It would read otherwise had superheat stayed, or come back to its setting, while the head was up.",
    "weak": "It would read regulating had superheat kept its level, fixed had it followed the head all the way.",
    "at its stop": "It would read fixed had superheat gone on falling while the head rose further.",
    "sticking": "It would read regulating had superheat moved smoothly and come back after the restore.",
    "starving": "It would read otherwise were superheat ordinary before the push: look for what keeps the feed back.",
    "flooding": "It would read otherwise had superheat been clear of zero before the push.",
}


def what_would_change(verdict: str, reasons: tuple[str, ...]) -> tuple[str, ...]:
    """Sentences: first what would mend each reason, then what would have spoken against the verdict."""
    out = [_MEND[word] for word in reasons]
    if verdict in _STATE:
        out.append(_STATE[verdict])
    elif verdict == UNDECIDED and not reasons:
        out.append("Two states fit these readings: a larger push, a longer hold or steadier readings would part them.")
    return tuple(out)
