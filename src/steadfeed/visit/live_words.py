"""Words and numbers of a live state for a screen of characters: numbers in the person's units, the scale, the plan."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Final

from steadfeed.visit.sentences import Amount, Speech, said, shown, text_of

if TYPE_CHECKING:
    from rich.text import Text

#: The scale of the feed held shows from and to [-].
SCALE: Final = (-0.2, 1.2)


def number_text(number: Mapping[str, Any], speech: Speech) -> str:
    """Return a large number with its unit; a dash when it is not known."""
    if number["value"] is None:
        return "–"
    return shown(Amount(number["kind"], number["value"]), speech)


def channel_words(channel: str, speech: Speech) -> str:
    """Return a channel's name in the person's language."""
    return text_of(said(f"channel.{channel}"), speech)


def evidence_line(state: Mapping[str, Any], speech: Speech, width: int) -> Text:
    """Return two lines: the words, and the scale from “acts fixed” to “holds the feed” with the mark and its interval."""
    from rich.text import Text

    evidence = state["evidence"]
    held = evidence["feed_held"]
    text = Text()
    if held is None:
        text.append(evidence["sentence"]["text"], "#b9bec8")
        text.append("\n" + _scale(width, None, speech), "#7d838e")
        return text
    words = f"{evidence['sentence']['text']} {_per_cent(held['value'])} ({_per_cent(held['low'])}–{_per_cent(held['high'])})"
    text.append(words, "bold")
    text.append("\n" + _scale(width, held, speech))
    return text


def _per_cent(value: float) -> str:
    return f"{round(100 * value)} %".replace("-", "−")


def _scale(width: int, held: Mapping[str, float] | None, speech: Speech) -> str:
    left, right = ("actúa fijo", "mantiene") if speech.language == "es" else ("acts fixed", "holds the feed")
    room = max(20, width - len(left) - len(right) - 6)
    cells = ["·"] * room

    def place(value: float) -> int:
        share = (value - SCALE[0]) / (SCALE[1] - SCALE[0])
        return min(max(round(share * (room - 1)), 0), room - 1)

    for end in (0.0, 1.0):
        cells[place(end)] = "┆"
    if held is not None:
        for k in range(place(held["low"]), place(held["high"]) + 1):
            cells[k] = "━"
        cells[place(held["value"])] = "┃"
    return f"{left} {''.join(cells)} {right}"


def limit_lines(state: Mapping[str, Any], speech: Speech) -> list[str]:
    """Return each limit with its number and source; the one that binds is marked."""
    out = []
    for circuit in state["circuits"]:
        ceiling = circuit["ceiling"]
        if ceiling is None:
            continue
        for one in ceiling["limits"]:
            amount = shown(Amount(one["kind"], one["value"]), speech)
            mark = "▶ " if one["binds"] else "  "
            out.append(f"{mark}{amount}  {one['text']}  ({one['source']})")
    return out


def plan_lines(state: Mapping[str, Any], speech: Speech) -> Text:
    """Return the plan as lines: go to, stop at, about, the rail of the head, and what is not proven yet."""
    from rich.text import Text

    text = Text()
    plan = state["plan"]
    if plan is not None:
        rows = (
            ("go to", f"{_head(plan['go_to_low'], speech)} to {_head(plan['go_to_high'], speech)}"),
            ("stop at", _head(plan["stop_at"], speech)),
            ("about", f"{plan['seconds'] / 60:.0f} min"),
        )
        for word, number in rows:
            text.append(f" {word:<8}", "#b9bec8")
            text.append(f"{number}\n", "bold")
        text.append("\n" + _rail(plan, speech) + "\n\n")
    for row in state["ready"]:
        sign = {"proven": "■", "failed": "✕", "missing": "✕", "skipped": "–"}.get(row["state"], "○")
        text.append(f" {sign} {row['text']['text']:<24} {row['state']}\n")
    for refusal in plan["refusals"] if plan is not None else ():
        style = "#7d838e" if refusal["overridden"] else "#ffa8a0"
        text.append(f"\n ✕ {refusal['text']['text']}", style)
        text.append(f"\n   {refusal['source']}", "#7d838e")
    for note in plan["notes"] if plan is not None else ():
        text.append(f"\n · {note}", "#b9bec8")
    return text


def _head(value: float, speech: Speech) -> str:
    return shown(Amount("pressure", value), speech)


def _rail(plan: Mapping[str, Any], speech: Speech) -> str:
    """Return the rail of the head: now, the least push, where to go, the ceiling."""
    low, high, width = plan["baseline_head"], plan["stop_at"], 48
    if high <= low:
        return ""

    def place(value: float) -> int:
        share = (value - low) / (high - low)
        return int(min(max(round(share * (width - 1)), 0), width - 1))

    cells = ["─"] * width
    cells[place(plan["least_head"])] = "["
    for k in range(place(plan["go_to_low"]), place(plan["go_to_high"]) + 1):
        cells[k] = "█"
    cells[0], cells[-1] = "●", "║"
    return f" {_head(low, speech)} {''.join(cells)} {_head(high, speech)}"
