"""What each series of the sources is taken for, as choices in the terminal, and the channel maps that follow from them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final

from steadfeed.visit.live_words import channel_words

if TYPE_CHECKING:
    from steadfeed.visit.live_challenge import LiveChallenge
    from steadfeed.visit.sentences import Speech
    from steadfeed.visit.station import Station

#: Choice that confirms every proposal.
ALL: Final = "all"
NOT_USED: Final = "not used"


def series_of(station: Station, live: LiveChallenge, person: str | None) -> list[dict[str, Any]]:
    """Return the series that the sources of a challenge send, as `SourceRoom.all` has them."""
    home = station.home_of(live.challenge_id)
    sources = home.sources.all(home.session("terminal", person))
    fed = {row.source for row in live.recorder.channel_map.rows}
    return [one for source in sources for one in source["channels"] if one["source"] in fed]


def lines(series: Sequence[dict[str, Any]], speech: Speech) -> list[tuple[str, str]]:
    """Return one choice a series: its name, what it shows, what it is; first the one that confirms all."""
    out = [(ALL, "All of it is right")]
    for k, one in enumerate(series):
        shown = f"{one['value'] if one['value'] is not None else '–'} {one['unit'] or ''}".strip()
        what = one["mapped"] or one["proposed"]
        words = channel_words(what, speech) if what else NOT_USED
        sign = "" if one["mapped"] and one["confirmed"] else " ?"
        why = f"   ({one['why']})" if one["why"] and not one["confirmed"] else ""
        out.append((str(k), f"{one['header'][:28]:<28} {shown:>12}   {words}{sign}{why}"))
    return out


def choices(one: dict[str, Any], live: LiveChallenge, speech: Speech) -> list[tuple[str, str]]:
    """Return what a series can be: the channels of its unit's kind, on each circuit of the challenge."""
    from steadfeed.visit.channel_choices import channels_for

    out = [(NOT_USED, NOT_USED)]
    for watch in live.watches:
        place = f"   ({watch.name})" if len(live.watches) > 1 and watch.name else ""
        out += [
            (f"{watch.circuit_id} {channel}", f"{channel_words(channel, speech)}{place}")
            for channel in channels_for(one["unit"])
        ]
    return out


def as_proposed(live: LiveChallenge, series: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return the map with every proposal confirmed. What is mapped already stays; a second series of a channel is not used."""
    proposed = {(one["source"], one["header"]): one["proposed"] for one in series}
    rows: list[dict[str, Any]] = live.channel_map()["rows"]
    taken = {(row["circuit_id"], row["channel"]) for row in rows if row["channel"]}
    for row in rows:
        wanted = row["channel"] or proposed.get((row["source"], row["header"]))
        if row["channel"] is None and wanted is not None and (row["circuit_id"], wanted) not in taken:
            row["channel"] = wanted
            taken.add((row["circuit_id"], wanted))
        row["confirmed"] = True
    return rows


def with_one(live: LiveChallenge, one: dict[str, Any], choice: str) -> list[dict[str, Any]]:
    """Return the map with one series set to a choice; whatever was that before is not used any more."""
    circuit_id, _, channel = choice.partition(" ") if choice != NOT_USED else (None, "", None)
    rows: list[dict[str, Any]] = live.channel_map()["rows"]
    for row in rows:
        if (row["source"], row["header"]) == (one["source"], one["header"]):
            row.update(channel=channel, circuit_id=circuit_id, confirmed=True)
        elif channel is not None and (row["circuit_id"], row["channel"]) == (circuit_id, channel):
            row.update(channel=None, circuit_id=None)
    return rows
