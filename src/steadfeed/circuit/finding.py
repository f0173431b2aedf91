"""Findings: causes found in the whole circuit."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Finding:
    """One cause with its likelihood and evidence.

    code: stable word of the cause; text: one sentence; likelihood: 0…1 or None when not quantified;
    evidence_for, evidence_against: sentences; next_step: one sentence; source: where the rule comes from.
    """

    code: str
    text: str
    likelihood: float | None = None
    evidence_for: tuple[str, ...] = ()
    evidence_against: tuple[str, ...] = ()
    next_step: str = ""
    source: str = ""
