"""What every verb on the records has in common: which store, who works, JSON or words. Only here the clock is asked."""

from __future__ import annotations

import functools
import json
import math
import os
import platform
import time
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from steadfeed.visit.session import Session

F = TypeVar("F", bound=Callable[..., Any])

_PERSON = "STEADFEED_PERSON"  # visit.session.PERSON_VARIABLE, without importing it for a --help
_STORE = click.option(
    "--store", "store", metavar="FILE|URL", help="The store; else STEADFEED_STORE, else your own data folder."
)
_JSON = click.option("--json", "as_json", is_flag=True, help="Print JSON.")


def with_store(function: F) -> F:
    """Add --store, --as and --json to a verb that writes; hand it an open session (`session`) and `as_json`."""

    @_STORE
    @click.option("--as", "person", metavar="NAME", help="Who works here; else STEADFEED_PERSON.")
    @_JSON
    @functools.wraps(function)
    def run(store: str | None, person: str | None, as_json: bool, **given: Any) -> Any:
        with session_here(store, person or os.environ.get(_PERSON) or None) as session:
            return function(session=session, as_json=as_json, **given)

    return run  # type: ignore[return-value]


def with_store_to_read(function: F) -> F:
    """The same for a verb that only reads: nobody is written down, and a store that is not there is not made."""
    return _with_nobody(function, create=False)


def with_store_to_fill(function: F) -> F:
    """The same for a verb that brings records of others along, such as an import: nobody is written down."""
    return _with_nobody(function, create=True)


def _with_nobody(function: F, create: bool) -> F:
    @_STORE
    @_JSON
    @functools.wraps(function)
    def run(store: str | None, as_json: bool, **given: Any) -> Any:
        with session_here(store, create=create) as session:
            return function(session=session, as_json=as_json, **given)

    return run  # type: ignore[return-value]


def session_here(
    store: str | None, person: str | None = None, *, create: bool = True, upgrade: bool | None = None
) -> Session:
    """Open a session on this device, now."""
    from steadfeed.visit.session import open_session, which_store

    return open_session(
        which_store(store),
        now=time.time(),
        device=device_name(),
        person=person,
        utc_offset=float(time.localtime().tm_gmtoff),
        create=create,
        upgrade=upgrade,
    )


def device_name() -> str:
    """Name this device."""
    return platform.node() or "this device"


def show_json(value: Any) -> None:
    """Print a value as JSON, without NaN."""
    click.echo(json.dumps(_plain(value), ensure_ascii=False, allow_nan=False, indent=1))


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {k: _plain(v) for k, v in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(v) for v in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def day(moment: float | None, offset: float = 0.0) -> str:
    """Write a moment [s since the epoch] as a day, in local time."""
    import datetime

    return "" if moment is None else f"{datetime.datetime.fromtimestamp(moment + offset, datetime.UTC):%Y-%m-%d}"


def hour(moment: float | None, offset: float = 0.0) -> str:
    """Write a moment [s since the epoch] as day and hour, in local time."""
    import datetime

    return "" if moment is None else f"{datetime.datetime.fromtimestamp(moment + offset, datetime.UTC):%Y-%m-%d %H:%M}"


def fields_of(given: tuple[str, ...]) -> dict[str, str]:
    """Read "name=value" arguments."""
    out = {}
    for one in given:
        name, equals, value = one.partition("=")
        if not equals or not name.strip():
            raise click.UsageError(
                f"“{one}” is no reading; write name=value, as in suction_pressure=118psig", click.get_current_context()
            )
        out[name.strip()] = value.strip()
    return out
