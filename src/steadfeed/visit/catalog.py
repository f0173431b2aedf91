"""What a device asks for once: thresholds with sources, refrigerants, the coefficient file, golden vectors, sentences."""

from __future__ import annotations

import importlib.resources
import importlib.util
from functools import cache
from typing import Any, Final

from steadfeed.visit.sentences import LANGUAGES, LONGEST, catalog_of, catalog_version
from steadfeed.visit.session import Session

__all__ = [
    "ADVICE",
    "LANGUAGES",
    "about",
    "coefficients",
    "criteria",
    "golden_vectors",
    "people",
    "refrigerants",
    "sentences",
]

ADVICE: Final = (
    "steadfeed advises; it is not a safety device. Only licensed, certified people work on a refrigerant circuit, and "
    "the maker's instructions and the local codes govern."
)
_PARTS: Final = {
    "store": "sqlalchemy",
    "postgres": "psycopg",
    "web": "fastapi",
    "instruments": "aiomqtt",
    "terminal": "textual",
    "archive": "pyarrow",
    "dask": "distributed",
}


def about() -> dict[str, Any]:
    """Return versions and which parts are installed."""
    from steadfeed import __version__
    from steadfeed.physics.coefficients import coefficient_file_version
    from steadfeed.visit.judge_log import method_version

    parts = []
    for name, module in _PARTS.items():
        there = importlib.util.find_spec(module) is not None
        missing = None if there else f"install steadfeed[{name}]"
        parts.append({"name": name, "installed": there, "missing": missing})
    return {
        "version": __version__,
        "method_version": method_version(),
        "coefficient_file_version": coefficient_file_version(),
        "parts": parts,
    }


@cache
def criteria() -> tuple[str, list[dict[str, Any]]]:
    """Return the fingerprint of the criteria, and each of them and of the guard's thresholds with its source."""
    from steadfeed.analysis.criteria import CRITERIA, fingerprint
    from steadfeed.analysis.guard import GUARD

    rows = [
        {"key": key, "value": c.value, "kind": c.kind, "text": c.text, "source": c.source}
        for key, c in {**CRITERIA, **GUARD}.items()
    ]
    return fingerprint(), rows


@cache
def refrigerants() -> tuple[list[dict[str, Any]], dict[str, str]]:
    """Return the refrigerants with their range and uncertainty (SI), and those that are refused with the reason."""
    from steadfeed.physics.coefficients import refrigerant_names, refused
    from steadfeed.physics.properties import curves

    rows = []
    for name in refrigerant_names():
        known = curves(name)
        noun = known.refrigerant
        rows.append(
            {
                "name": noun.name,
                "kind": noun.kind,
                "safety_class": noun.safety_class,
                "flammable": noun.flammable,
                "composition": noun.composition,
                "gwp": noun.gwp,
                "minimum_pressure": known.minimum_pressure,
                "maximum_pressure": known.maximum_pressure,
                "uncertainty": known.uncertainty,
            }
        )
    return rows, refused()


def coefficients() -> tuple[bytes, str]:
    """Return the coefficient file byte for byte, and its version."""
    from steadfeed.physics.coefficients import coefficient_file_version

    file = importlib.resources.files("steadfeed.physics") / "data" / "coefficients.json"
    return file.read_bytes(), coefficient_file_version()


#: How far a client may be from the golden vectors: temperatures and differences [K], fractions [-].
TOLERANCE: Final = {"temperature": 1e-4, "temperature_difference": 2e-4}


@cache
def golden_vectors() -> dict[str, Any]:
    """Return inputs and results that a client must reproduce within the tolerance: saturation, superheat, subcooling."""
    import numpy as np

    from steadfeed.physics.coefficients import coefficient_file_version, refrigerant_names
    from steadfeed.physics.properties import curves

    rows = []
    for name in refrigerant_names():
        known = curves(name)
        low, high = np.log(known.minimum_pressure), np.log(known.maximum_pressure)
        for share in (0.02, 0.2, 0.4, 0.6, 0.8, 0.98):
            pressure = float(np.exp(low + share * (high - low)))
            dew, bubble = float(known.dew_temperature(pressure)), float(known.bubble_temperature(pressure))
            line = round(dew + 5.0, 3)
            rows.append(
                {
                    "refrigerant": name,
                    "pressure": pressure,
                    "dew_temperature": dew,
                    "bubble_temperature": bubble,
                    "line_temperature": line,
                    "superheat": line - dew,
                    "subcooling": bubble - line,
                }
            )
    return {"version": coefficient_file_version(), "tolerance": dict(TOLERANCE), "rows": rows}


def sentences(language: str) -> dict[str, Any]:
    """Return the catalog of sentences in one language."""
    return {
        "language": language,
        "version": catalog_version(),
        "longest": LONGEST,
        "sentences": catalog_of(language),
    }


def people(session: Session) -> list[str]:
    """Return the names of the people who work with a store, in order."""
    from steadfeed.records import rows

    with session.store.reading() as t:
        return sorted({str(p["name"]) for p in rows.find(t, "person") if p["name"]})
