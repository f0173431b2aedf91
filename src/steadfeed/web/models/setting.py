"""Settings, what the program is, thresholds, refrigerants, sentences, sessions."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import Field

from steadfeed.web.models.common import Language, Model, Moment, Request, UnitSystem, Word


class Settings(Request):
    """How a person likes it. altitude [m]; 0 when the place is at sea level, null when nobody said."""

    units: UnitSystem = "us"
    language: Language = "en"
    altitude: float | None = Field(default=None, ge=-500.0, le=6000.0)
    left_handed: bool = False
    scheme: Literal["paper", "dark", "as the device"] = "paper"
    voice: bool = True
    sound: bool = True
    reduced_motion: bool = False
    battery_saver: bool = False
    page: Literal["letter", "a4"] = "letter"
    first_run_done: bool = False


class Part(Model):
    """An optional part of the installation. missing: one sentence, null when it is there."""

    name: str
    installed: bool
    missing: str | None = None


class About(Model):
    """What answers here. app_built: whether the phone's app is part of this installation."""

    name: Literal["steadfeed"] = "steadfeed"
    version: str
    method_version: str
    coefficient_file_version: str
    now: Moment
    store: str
    app_built: bool
    parts: list[Part]
    languages: list[Language]
    advice: str


class Session(Model):
    """Who asks. device: identity that the cookie carries; role: technician, lead or read-only."""

    device: str
    person_id: str | None
    person: str | None
    role: Literal["technician", "lead", "read-only"]
    expires_at: Moment


class Token(Request):
    """A one-time token from the opened URL, and how this device calls itself."""

    token: Word
    device: Word = "this device"


class Person(Request):
    """Who works on this device."""

    name: Word


class CriterionOut(Model):
    """A threshold with the place it comes from. value in SI of `kind`."""

    key: str
    value: float
    kind: str
    text: str
    source: str


class Criteria(Model):
    """Every threshold of the method. fingerprint: short hash over them."""

    fingerprint: str
    criteria: list[CriterionOut]


class RefrigerantOut(Model):
    """A refrigerant whose curves are known. temperatures [K], pressures absolute [Pa], uncertainty [K difference]."""

    name: str
    kind: str
    safety_class: str
    flammable: bool
    composition: str
    gwp: float | None
    minimum_pressure: float
    maximum_pressure: float
    uncertainty: float


class Refrigerants(Model):
    """All that are known, and those that are refused with the reason."""

    refrigerants: list[RefrigerantOut]
    refused: dict[str, str]


class Catalog(Model):
    """The sentences of one language: code -> template with {arguments}. longest: characters allowed in a screen sentence."""

    language: Language
    version: str
    longest: int
    sentences: dict[str, str]


class GoldenVectors(Model):
    """Inputs and results with which a client proves that it computes as this method does."""

    version: str
    tolerance: dict[str, float]
    rows: list[dict[str, Any]]
