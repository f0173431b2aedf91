"""The kinds of sources as a person chooses among them; what each wants to know stands with its source (capture/kinds.py)."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from steadfeed.capture.source import Source

#: Needle gauges need no connection; they are listed so that every way of reading is.
_MANUAL: Final[dict[str, Any]] = {
    "kind": "manual",
    "text": "Needle gauges, typed on the hand pad",
    "fields": [],
    "part": None,
    "missing": None,
}


def forms() -> list[dict[str, Any]]:
    """Return the kinds with their fields and whether their part is installed."""
    from steadfeed.capture.kinds import SOURCE_KINDS

    return [
        _MANUAL,
        *(
            {
                "kind": kind.kind,
                "text": kind.text,
                "fields": [
                    {"name": field.name, "text": field.text, "needed": field.needed, "example": field.example}
                    for field in kind.fields
                ],
                "part": "instruments" if kind.needs else None,
                "missing": kind.missing,
            }
            for kind in SOURCE_KINDS
        ),
    ]


def make(kind: str, name: str, settings: Mapping[str, Any], clock: Callable[[], float]) -> Source:
    """Make a source. Raises FixInput for settings it cannot use, InstallPart when its part is not installed."""
    from steadfeed.capture.kinds import make_source

    return make_source(kind, name, settings, clock=clock)
