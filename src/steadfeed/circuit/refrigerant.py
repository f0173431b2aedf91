"""Refrigerants as nouns: what a bottle says. Their curves live in physics."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Refrigerant:
    """A refrigerant by its designation.

    name: designation as in "R-410A". kind: "pure" | "azeotrope" | "HFC blend" | "HFO blend" | "HCFC blend".
    safety_class: ASHRAE 34 class ("A1", "A2L", "A3"), "" when not known. composition: mass fractions as text.
    gwp: global warming potential over 100 years (AR4) [-], None when not known.
    """

    name: str
    kind: str
    safety_class: str = ""
    composition: str = ""
    gwp: float | None = None

    @property
    def flammable(self) -> bool:
        """Whether the safety class calls for ventilation and no ignition source."""
        return self.safety_class[1:2] in ("2", "3")
