"""The score of a practice: five lines in words. Pure: what was done and what was true go in, sentences come out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from steadfeed.circuit.verdict import EARLY_STATES, UNDECIDED

#: Answer of somebody who would not push this unit.
DO_NOT_TEST: Final = "do not test"
#: Time above the ceiling that still counts as an overshoot, not as unsafe [s].
OVERSHOOT: Final = 15.0
#: Brier score of one answer up to which the confidence fitted well, and fairly.
FITTED: Final = 0.0625
FAIR: Final = 0.25
#: More than this share over the good time counts as slow.
SLOW: Final = 1.25
#: Rise of the head, as condensing temperature [°F], from which one has tested.
TESTED: Final = 6.0


@dataclass(frozen=True, slots=True)
class Answer:
    """What a learner says. verdict: a state, "undecided" or "do not test"; cause: of the list; confidence 0…1."""

    verdict: str
    cause: str
    confidence: float

    def __post_init__(self) -> None:
        if not 0.0 <= self.confidence <= 1.0:
            raise ValueError(f"a confidence is a share from 0 to 1, got {self.confidence}")


@dataclass(frozen=True, slots=True)
class Facts:
    """What happened and what was true.

    answers, causes: right ones; why_not: why the unit must not be tested, "" when it may. acceptable: what the played
    log lets a fair judge say; valid, reasons: of the played log; pushed: condensing rise [°F]. trips; past_ceiling [s].
    minutes used and minutes that are good; not_back: what was not put back.
    """

    answers: tuple[str, ...]
    causes: tuple[str, ...]
    why_not: str
    acceptable: tuple[str, ...]
    valid: bool
    reasons: tuple[str, ...]
    pushed: float
    trips: int
    past_ceiling: float
    minutes: float
    good_minutes: float
    not_back: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ScoreLine:
    """One line. what: "safety", "validity", "cause", "confidence", "time and put-back"; good: whether it was."""

    what: str
    good: bool
    text: str


def accepted_verdicts(facts: Facts) -> frozenset[str]:
    """Verdicts that are right for what was played."""
    right = set(facts.answers)
    if facts.why_not:
        return frozenset(right)
    if facts.valid:
        right |= set(facts.acceptable)
    else:
        right |= {UNDECIDED} | (set(facts.acceptable) & set(EARLY_STATES) & set(facts.answers))
    return frozenset(right)


def _may_be_early(verdict: str, facts: Facts) -> bool:
    """Whether the verdict may be given although the test is not valid.

    `fixed` only when nothing but the length of the hold is wanting: a push too small or flash gas at the valve can look
    like it. Starving and flooding show without a push.
    """
    return verdict in EARLY_STATES and (verdict != "fixed" or set(facts.reasons) <= {"hold too short"})


def is_right(answer: Answer, facts: Facts) -> bool:
    """Whether verdict and cause are right."""
    return answer.verdict in accepted_verdicts(facts) and _cause_right(answer, facts)


def _cause_right(answer: Answer, facts: Facts) -> bool:
    if answer.cause in facts.causes:
        return True
    return answer.verdict == UNDECIDED and not facts.valid and answer.cause == "test cut short" and facts.pushed > 0.0


def score(answer: Answer, facts: Facts) -> tuple[ScoreLine, ...]:
    """Score an answer in five lines."""
    return (
        _safety(facts), _validity(answer, facts), _cause(answer, facts), _confidence(answer, facts), _economy(facts),
    )  # fmt: skip


def brier(answer: Answer, facts: Facts) -> float:
    """Squared distance of the confidence from what was true: 0 best, 1 worst (Brier 1950)."""
    return (answer.confidence - (1.0 if is_right(answer, facts) else 0.0)) ** 2


def _safety(f: Facts) -> ScoreLine:
    if f.trips:
        times = "once" if f.trips == 1 else f"{f.trips} times"
        return ScoreLine("safety", False, f"Failed: the high-pressure switch tripped {times}.")
    if f.past_ceiling > OVERSHOOT:
        return ScoreLine("safety", False, f"Failed: {f.past_ceiling:.0f} s above the ceiling.")
    if f.why_not and f.pushed > TESTED:
        return ScoreLine("safety", False, f"Not so: this unit was not to be pushed. {f.why_not}")
    return ScoreLine("safety", True, "Safe: the head stayed under the ceiling.")


def _validity(answer: Answer, f: Facts) -> ScoreLine:
    reasons = ", ".join(f.reasons)
    if answer.verdict == DO_NOT_TEST:
        if f.why_not:
            return ScoreLine("validity", True, f"Right to leave it. {f.why_not}")
        return ScoreLine("validity", False, "This unit may be tested; nothing stood against it.")
    if answer.verdict == UNDECIDED:
        if f.why_not or not f.valid or UNDECIDED in f.answers:
            because = f" ({reasons})" if reasons else ""
            return ScoreLine("validity", True, f"Right to leave it open{because}.")
        return ScoreLine("validity", False, "The test was valid: it could have told.")
    if f.valid:
        return ScoreLine("validity", True, "A valid test before the verdict.")
    if _may_be_early(answer.verdict, f) and answer.verdict in accepted_verdicts(f):
        return ScoreLine("validity", True, f"Not a full test ({reasons}), yet enough for {answer.verdict}.")
    return ScoreLine("validity", False, f"A verdict without a valid test: {reasons or 'no test'}.")


def _cause(answer: Answer, f: Facts) -> ScoreLine:
    verdict_right, cause_right = answer.verdict in accepted_verdicts(f), _cause_right(answer, f)
    if verdict_right and cause_right:
        return ScoreLine("cause", True, f"Right: {answer.verdict}, {answer.cause}.")
    if verdict_right:
        return ScoreLine("cause", False, f"The verdict is right, the cause is not: {f.causes[0]}.")
    best = _best(f)
    if cause_right:
        return ScoreLine("cause", False, f"The cause is right, the verdict is not: {best}.")
    return ScoreLine("cause", False, f"It was: {best}, {f.causes[0]}.")


def _best(f: Facts) -> str:
    if f.why_not or not f.valid:
        return f.answers[0]
    return next((a for a in f.answers if a in f.acceptable), f.acceptable[0] if f.acceptable else f.answers[0])


def _confidence(answer: Answer, f: Facts) -> ScoreLine:
    value = brier(answer, f)
    number = f"{answer.confidence * 100:.0f} % sure, Brier {value:.2f}"
    if value <= FITTED:
        return ScoreLine("confidence", True, f"Confidence fitted ({number}).")
    if value <= FAIR:
        return ScoreLine("confidence", True, f"Confidence fair ({number}).")
    why = "Too shy" if is_right(answer, f) else "Too sure"
    return ScoreLine("confidence", False, f"{why} ({number}).")


def _economy(f: Facts) -> ScoreLine:
    used = f"{f.minutes:.0f} min, {f.good_minutes:.0f} are good"
    if f.not_back:
        return ScoreLine("time and put-back", False, f"Not put back: {join_words(f.not_back)} ({used}).")
    if f.minutes > SLOW * f.good_minutes:
        return ScoreLine("time and put-back", False, f"All put back, but slow ({used}).")
    return ScoreLine("time and put-back", True, f"All put back, in good time ({used}).")


def join_words(words: Sequence[str]) -> str:
    """ "a", "a and b", "a, b and c"."""
    if len(words) < 2:
        return "".join(words)
    return ", ".join(words[:-1]) + f" and {words[-1]}"
