"""The sentences that stand alone: the headline, whether it is good news, and what the customer is told."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal

from steadfeed.circuit.equipment import MeteringDevice, System
from steadfeed.circuit.verdict import UNDECIDED, Assessment, Measured
from steadfeed.reports.numbers import Numbers, Units, feed_held, odds
from steadfeed.reports.wording import DEVICE_NAMES, REASON_WORDING, SUBJECTS, Reason

Tone = Literal["good", "bad", "mixed", "strange", "open"]

#: Reasons named in a headline; the rest are counted.
_REASONS_IN_HEADLINE: Final = 3
#: Feed held from which "the feed followed" would contradict the number beside it [-]; for the wording only.
_HALF: Final = 0.5
#: Change of superheat that is not worth a word [K difference]; for the wording only.
_HARDLY: Final = 0.6


@dataclass(frozen=True, slots=True)
class News:
    """Whether the verdict is good news for a unit that should have this metering device, and the sentence that says so."""

    tone: Tone
    text: str


def headline(assessment: Assessment, system: System, units: Units) -> str:
    """Say the verdict in one or two sentences, with the push that it rests on.

    Never claims more than the assessment: `undecided` is said with its reasons, an early call as such.
    """
    numbers = Numbers(units)
    if assessment.verdict == UNDECIDED:
        return _undecided(assessment)
    sentence = _verdict_sentence(assessment, system, numbers)
    if assessment.early:
        return f"{sentence} Called early, after a short hold."
    if assessment.feed_held is not None and assessment.verdict not in ("starving", "flooding"):
        return f"{sentence} Feed held {feed_held(assessment.feed_held)}."
    return sentence


def _verdict_sentence(assessment: Assessment, system: System, numbers: Numbers) -> str:
    device = system.metering_device
    who = SUBJECTS[device]
    rise = _rise(assessment, numbers)
    orifice = device is MeteringDevice.FIXED_ORIFICE
    superheat = assessment.baseline.get("superheat")
    stood = "" if superheat is None else f" at {numbers.value(superheat.value, 'temperature_difference')}"
    sentences = {
        "regulating": f"{rise} and {_level(assessment)}: {who} {'holds the feed' if orifice else 'regulates'}.",
        "fixed": f"{rise} and {_followed(assessment, numbers)}: {who} {'is fixed' if orifice else 'acts fixed'}.",
        "weak": f"{rise} and {_in_part(assessment, numbers)}: {who} is weak.",
        "at its stop": f"{who} stood at its stop until the push gave it authority, then it held the feed.",
        "sticking": f"{rise} and the feed followed in steps: {who} is sticking.",
        "hunting": f"Superheat swings in a steady cycle: {who} is hunting.",
        "starving": f"Superheat stood{stood} before the push: the evaporator is starving.",
        "flooding": f"Superheat stood{stood} before the push: the evaporator is flooding.",
    }
    if superheat is None:
        sentences["starving"] = "The evaporator is starving: far too little refrigerant reaches it."
        sentences["flooding"] = "The evaporator is flooding: liquid leaves it."
    text = sentences[assessment.verdict]
    return text[0].upper() + text[1:]


def _level(assessment: Assessment) -> str:
    """Say what stayed level: the feed, or the superheat where the feed held alone would not say so."""
    held = assessment.feed_held
    return "superheat stayed level" if held is not None and held.value < _HALF else "the feed stayed level"


def _followed(assessment: Assessment, numbers: Numbers) -> str:
    """Say what gave way: the feed, or the superheat where the feed held alone would not say so."""
    held = assessment.feed_held
    moved = _superheat_moved(assessment, numbers)
    return moved if moved and held is not None and held.value >= _HALF else "the feed followed"


def _in_part(assessment: Assessment, numbers: Numbers) -> str:
    moved = _superheat_moved(assessment, numbers)
    return f"{moved} with it" if moved else "the feed was held only in part"


def _superheat_moved(assessment: Assessment, numbers: Numbers) -> str:
    """Say "superheat fell 5 °F"; "" when it is not known or hardly moved."""
    moved = change(assessment.baseline, assessment.push, "superheat")
    if moved is None or abs(moved) < _HARDLY:
        return ""
    return f"superheat {'fell' if moved < 0 else 'rose'} {numbers.value(abs(moved), 'temperature_difference')}"


def _rise(assessment: Assessment, numbers: Numbers) -> str:
    """Say how far the head was pushed: "Head rose 96 psi"."""
    rise = change(assessment.baseline, assessment.push, "head_pressure")
    if rise is not None:
        return f"Head rose {numbers.value(rise, 'pressure_difference')}"
    rise = change(assessment.baseline, assessment.push, "condensing_temperature")
    if rise is not None:
        return f"Condensing temperature rose {numbers.value(rise, 'temperature_difference')}"
    return "The head was pushed"


def change(before: Mapping[str, Measured], after: Mapping[str, Measured], quantity: str) -> float | None:
    """Return how far a quantity moved between two stretches [SI of its kind], None when either is missing."""
    if quantity not in before or quantity not in after:
        return None
    moved = after[quantity].value - before[quantity].value
    return moved if math.isfinite(moved) else None


def _undecided(assessment: Assessment) -> str:
    if assessment.reasons:
        clauses = [REASON_WORDING[reason].clause for reason in assessment.reasons]
        more = len(clauses) - _REASONS_IN_HEADLINE
        if more > 0:
            clauses = [
                *clauses[:_REASONS_IN_HEADLINE],
                f"{more} more {'reason stands' if more == 1 else 'reasons stand'}",
            ]
        return f"No verdict: {in_a_row(clauses)}."
    likely = most_likely(assessment.probability)
    if len(likely) > 1 and assessment.probability is not None:
        told = [f"{state} {odds(assessment.probability[state])}" for state in likely[:2]]
        return f"No verdict: the test was valid, but the readings fit more than one state ({', '.join(told)})."
    return "No verdict: the test was valid, but the readings do not single out one state."


def most_likely(probability: Mapping[str, float] | None, least: float = 0.05) -> list[str]:
    """Return the states at or above `least`, most likely first."""
    if probability is None:
        return []
    return [s for s, p in sorted(probability.items(), key=lambda item: -item[1]) if p >= least]


def in_a_row(parts: list[str]) -> str:
    """Join parts with commas and "and"."""
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"


def reason_wording(reason: str, system: System, units: Units) -> Reason:
    """Return a reason's wording with the amounts in the reader's units."""
    us = units == "us"
    amounts = {
        "push": "18 to 25 °F" if us else "10 to 14 K",
        "subcooling": "10 °F" if us else "5.6 K",
        "cover": "the condenser coil" if system.mode == "cooling" else "the indoor coil’s air inlet",
    }
    wording = REASON_WORDING[reason]
    return Reason(wording.clause, wording.meaning.format(**amounts), wording.remedy.format(**amounts))


# -- good news ---------------------------------------------------------------------------------------------------------
_VALVE_NEWS: Final[dict[str, tuple[Tone, str]]] = {
    "regulating": ("good", "Good news: this unit should have {device}, and it regulates."),
    "fixed": ("bad", "Bad news: this unit should have {device}, and it behaves like a fixed opening."),
    "weak": ("bad", "Bad news: this unit should have {device}, and it makes up for too little of a push."),
    "at its stop": (
        "mixed",
        "Mixed news: the device itself works, but in the baseline it stood at its stop. Find what took its authority.",
    ),
    "sticking": ("bad", "Bad news: this unit should have {device} that moves freely, and this one sticks."),
    "hunting": ("mixed", "Mixed news: {device} should be there and it does move, but it does not come to rest."),
    "starving": (
        "bad",
        "Bad news, though not yet about the device: look at charge, screen, bulb and subcooling at the valve first.",
    ),
    "flooding": (
        "bad",
        "Bad news, though not yet about the device: look at bulb, strap, insulation and airflow first.",
    ),
}
_ORIFICE_NEWS: Final[dict[str, tuple[Tone, str]]] = {
    "fixed": ("good", "Good news: this unit should have a fixed orifice, and it is fixed, as it should be."),
    "regulating": (
        "strange",
        (
            "Strange: this unit should have a fixed orifice, which cannot hold the feed. "
            "Look which device is fitted, and doubt the gauges."
        ),
    ),
    "at its stop": (
        "strange",
        "Strange: this unit should have a fixed orifice, yet something in it regulates. Look which device is fitted.",
    ),
    "weak": (
        "strange",
        (
            "Strange: this unit should have a fixed orifice, which cannot hold even a part of the push. "
            "Look which device is fitted, and doubt the gauges."
        ),
    ),
    "sticking": (
        "strange",
        "Strange: this unit should have a fixed orifice, which has nothing that could stick. Look which device is fitted.",
    ),
    "hunting": (
        "strange",
        "Strange: this unit should have a fixed orifice, which cannot hunt. Look which device is fitted.",
    ),
    "starving": (
        "bad",
        "Bad news: the orifice feeds too little. Look at its size, the screen before it, and the charge.",
    ),
    "flooding": (
        "bad",
        "Bad news: the orifice feeds too much. Look at its size and seat, the charge, and the indoor airflow.",
    ),
}
_UNKNOWN_NEWS: Final[dict[str, tuple[Tone, str]]] = {
    "regulating": (
        "open",
        "Good news if a valve should be there; the system file does not say which device should be.",
    ),
    "fixed": (
        "open",
        (
            "Good or bad depends on the device that should be there, and the system file does not say: "
            "a fixed orifice is meant to be fixed, a valve is not."
        ),
    ),
    "weak": ("bad", "Not good news: a valve should hold more than this, and a fixed orifice nothing at all."),
    "sticking": ("bad", "Not good news: something that should move freely sticks."),
    "hunting": ("mixed", "Mixed news: a device that can move is there, but it does not come to rest."),
}


def good_news(assessment: Assessment, system: System) -> News:
    """Say whether the verdict is good news. It depends on the device that should be there: a piston is meant to be fixed."""
    verdict = assessment.verdict
    device = system.metering_device
    if verdict == UNDECIDED:
        if assessment.valid:
            return News("open", "Neither good nor bad news: nothing is shown for or against the device.")
        return News(
            "open",
            "Neither good nor bad news: the test could not tell, and nothing is shown for or against the device.",
        )
    if device is MeteringDevice.FIXED_ORIFICE:
        tone, text = _ORIFICE_NEWS[verdict]
    elif device is MeteringDevice.UNKNOWN and verdict in _UNKNOWN_NEWS:
        tone, text = _UNKNOWN_NEWS[verdict]
    else:
        tone, text = _VALVE_NEWS[verdict]
    text = text.format(device=DEVICE_NAMES[device])
    return News(tone, text[0].upper() + text[1:])


# -- for the customer --------------------------------------------------------------------------------------------------
_CUSTOMER_PUSH: Final = "We made your system work harder for a few minutes, as a very hot day would"
_CUSTOMER_PUSH_HEATING: Final = "We made your system work harder for a few minutes, on purpose"
_CUSTOMER_NAMES: Final[dict[MeteringDevice, str]] = {
    MeteringDevice.TXV: "the valve that meters the refrigerant",
    MeteringDevice.EEV: "the electronic valve that meters the refrigerant",
    MeteringDevice.FIXED_ORIFICE: "the fixed opening that meters the refrigerant",
    MeteringDevice.UNKNOWN: "the part that meters the refrigerant",
}
_CUSTOMER_VALVE: Final[dict[str, str]] = {
    "regulating": "{Part} kept the flow steady, as it should. It needs no work.",
    "fixed": "{Part} did not answer. The system still runs, but it cannot adapt when the weather changes. "
    "Before any part is replaced, we check what steers the valve.",
    "weak": "{Part} answered, but much less than it should. Before any part is replaced, we check what steers it.",
    "at its stop": "{Part} works, but conditions left it no room to work at first. The cause lies elsewhere "
    "and is what we look for next.",
    "sticking": "{Part} moved only in jerks and did not come back cleanly. Before any part is replaced, "
    "we check what steers it.",
    "hunting": "{Part} works, but it keeps opening and closing and does not settle. Often an adjustment or a "
    "sensor is the cause.",
}
_CUSTOMER_ANY: Final[dict[str, str]] = {
    "starving": "Too little refrigerant reaches the indoor coil, so the system cools less than it could. "
    "There are several possible causes; we look for the cause before replacing anything.",
    "flooding": "More refrigerant reaches the indoor coil than it can use, which is hard on the compressor. "
    "There are several possible causes; we look for the cause before replacing anything.",
}


def customer_sentence(assessment: Assessment, system: System) -> str:
    """Say the result in plain words, without a trade term or a number to misread."""
    device = system.metering_device
    verdict = assessment.verdict
    name = _CUSTOMER_NAMES[device]
    part = name[0].upper() + name[1:]
    pushed = _CUSTOMER_PUSH if system.mode == "cooling" else _CUSTOMER_PUSH_HEATING
    if verdict == UNDECIDED:
        if "no push found" in assessment.reasons or "channel missing" in assessment.reasons:
            return (
                f"The readings do not show yet whether {name} works as it should. That says nothing "
                "against your system; the test has to be made, or made again."
            )
        return (
            f"{pushed}. The readings do not show clearly whether {name} works as it should. "
            "That says nothing against your system; we would rather repeat the test than guess."
        )
    if verdict in _CUSTOMER_ANY:
        text = _CUSTOMER_ANY[verdict]
        return (
            text.replace("cools", "heats").replace("indoor coil", "outdoor coil") if system.mode == "heating" else text
        )
    if device is MeteringDevice.FIXED_ORIFICE:
        if verdict == "fixed":
            return (
                f"{pushed}. Your system meters its refrigerant through a fixed opening, and it behaved as one "
                "should. This is how the system is built; nothing is wrong with it."
            )
        return (
            f"{pushed}. By its papers your system has a fixed opening to meter the refrigerant, but it did not behave "
            "like one. We look at what is really built in before drawing a conclusion."
        )
    if device is MeteringDevice.UNKNOWN and verdict == "fixed":
        return (
            f"{pushed}. {part} did not change its opening. Some systems are built that way and some are not; "
            "we look at which one yours is before drawing a conclusion."
        )
    return f"{pushed}. {_CUSTOMER_VALVE[verdict].format(Part=part)}"
