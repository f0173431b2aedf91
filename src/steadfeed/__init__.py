"""steadfeed: runs, guards and judges the challenge that shows whether a metering device really works.

The names below are the public interface for notebooks and programs; docs/reference/python.md describes them. Each is
imported when it is first used, so that `import steadfeed` costs next to nothing; their types stand in __init__.pyi.
"""

from __future__ import annotations

from typing import Any, Final

__version__ = "0.1.0"

_HOMES: Final = {
    "CRITERIA": "steadfeed.analysis.criteria",
    "Assessment": "steadfeed.circuit.verdict",
    "Circumstances": "steadfeed.analysis.plan_conduct",
    "Curves": "steadfeed.physics.properties",
    "FixInput": "steadfeed.errors",
    "InstallPart": "steadfeed.errors",
    "JudgedLog": "steadfeed.visit.judge_log",
    "Judgement": "steadfeed.analysis.challenge",
    "NotAllowed": "steadfeed.errors",
    "OutOfRange": "steadfeed.errors",
    "Recording": "steadfeed.circuit.recording",
    "SpotResult": "steadfeed.visit.spot",
    "SteadfeedError": "steadfeed.errors",
    "System": "steadfeed.circuit.equipment",
    "TryAgain": "steadfeed.errors",
    "curves": "steadfeed.physics.properties",
    "default_system": "steadfeed.capture.system_file",
    "findings_for": "steadfeed.analysis.diagnosis.of_challenge",
    "judge": "steadfeed.analysis.challenge",
    "judge_log": "steadfeed.visit.judge_log",
    "judgement_form": "steadfeed.visit.json_form",
    "line_set": "steadfeed.analysis.line_set",
    "make_plan": "steadfeed.visit.plan",
    "method_version": "steadfeed.visit.judge_log",
    "read_log": "steadfeed.capture.logs",
    "read_system": "steadfeed.capture.system_file",
    "refrigerant_names": "steadfeed.physics.properties",
    "take_spot": "steadfeed.visit.spot",
    "write_reports": "steadfeed.visit.papers",
}

__all__ = list(_HOMES)


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'steadfeed' has no attribute {name!r}")
    import importlib

    found = getattr(importlib.import_module(_HOMES[name]), name)
    globals()[name] = found
    return found


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
