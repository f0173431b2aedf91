"""The session that docs/practice.md tells, so that a test can play it again."""

from __future__ import annotations

from steadfeed.bench.scenario import scenario
from steadfeed.visit.practice_score import Answer
from steadfeed.visit.practice_visit import Practice

VITAL = ("suction_pressure", "liquid_pressure", "suction_line_temperature", "liquid_line_temperature")


def played() -> list[str]:
    """Play it and return its lines."""
    p = Practice(scenario("boat-house"), 7)
    lines: list[str] = []
    told = 0

    def tell() -> None:
        nonlocal told
        for moment, text in p.notes[told:]:
            lines.append(f"{int(moment) // 60:2d}:{int(moment) % 60:02d}  {text}")
        told = len(p.notes)

    def read() -> None:
        tell()
        spot = p.spot()
        assert spot.superheat is not None
        assert spot.subcooling is not None
        lines.append(
            f"{int(p.seconds) // 60:2d}:{int(p.seconds) % 60:02d}     suction {p.shown('suction_pressure')}, head "
            f"{p.shown('liquid_pressure')}, superheat {spot.superheat:.1f} °F, subcooling {spot.subcooling:.1f} °F"
        )

    for channel in VITAL:
        p.place(channel)
    p.start()
    p.wait(240)
    read()
    p.act("bulb")
    p.act("thermostat")
    p.wait(240)
    read()
    p.cover_to(0.375)
    p.wait(40)
    read()
    p.cover_to(0.5)
    p.wait(60)
    read()
    p.restore()
    p.act("suction gauge")
    p.wait(120)
    p.new_log()
    p.wait(200)
    read()
    p.cover_to(0.375)
    p.wait(30)
    p.cover_to(0.5)
    p.wait(40)
    read()
    p.cover_to(0.56)
    p.wait(200)
    read()
    p.restore()
    p.wait(200)
    read()
    p.stop()
    p.wait(120)
    p.put_back()
    tell()
    outcome = p.answer(Answer("fixed", "suction gauge stuck", 0.8))
    lines.append("")
    lines.append("You said: fixed, suction gauge stuck, 80 % sure.")
    lines.append(f"The truth: {outcome.truth['text']}")
    lines.append(f"Steadfeed on the same log: {outcome.said()[0]}")
    lines.append("")
    lines += [f"{'■' if line.good else '□'} {line.what:<18} {line.text}" for line in outcome.lines]
    lines.append(f"To take home: {outcome.truth['lesson']}")
    return lines


if __name__ == "__main__":
    print("\n".join(played()))
