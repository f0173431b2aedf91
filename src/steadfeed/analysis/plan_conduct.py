"""What a challenge asks of the person: answers before it, stages, what is set aside and put back, when to break off."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from steadfeed.analysis.criteria import limit
from steadfeed.circuit.equipment import MeteringDevice, System
from steadfeed.physics.properties import Curves


@dataclass(frozen=True, slots=True)
class Circumstances:
    """What the person at the unit answers. None = not asked yet; it then stands among the questions.

    minutes_running: of the compressor, in its present state. other_circuit: a second circuit on the same coil or fan.
    minutes_since_defrost: in heating; defrost_interval: between defrosts [min].
    """

    coil_iced: bool | None = None
    switch_bypassed: bool | None = None
    switch_tripped: bool | None = None
    gas_alarm: bool | None = None
    ventilated: bool | None = None
    bad_weather: bool | None = None
    somebody_restores: bool | None = None
    fixed_speed_mode: bool | None = None
    other_circuit: Literal["none", "standing", "watched", "not watched"] | None = None
    outdoor_fans: int | None = None
    economizer: bool | None = None
    auxiliary_heat: bool | None = None
    strips_off: bool | None = None
    minutes_running: float | None = None
    minutes_since_defrost: float | None = None
    defrost_interval: float = 60.0


@dataclass(frozen=True, slots=True)
class SetAside:
    """An override for the test. what: to set aside; how; back: how it is put back."""

    what: str
    how: str
    back: str


@dataclass(frozen=True, slots=True)
class Stage:
    """A stage of the visit in its order. seconds: how long; text: what to do; meanwhile: work that does not disturb."""

    name: str
    seconds: float
    text: str
    meanwhile: tuple[str, ...] = ()


def stages(system: System, c: Circumstances) -> tuple[Stage, ...]:
    """Stages of the visit in their order, with work that does not disturb them."""
    ran = (c.minutes_running or 0.0) * 60.0
    guided = limit("guided_settle")
    eev = system.metering_device is MeteringDevice.EEV
    hold = limit("least_hold_eev" if eev else "least_hold") + 60.0
    face = "coil" if system.mode == "cooling" else "return grille"
    return (
        Stage(
            "settle", max(guided - ran, 120.0), "Let it run until nothing drifts.",
            ("Filter, belt and blower wheel", "Airflow or static pressure", "Drain and pan", "Currents and voltage",
             "Bulb: strap, place, insulation"),
        ),
        Stage("baseline", 180.0, "Read the four values twice, three minutes apart.", ("Air temperatures, both sides",)),
        Stage("push", 150.0, f"Cover the {face} step by step, a minute each."),
        Stage("hold", hold, "Hold the head; read at two and at four minutes." if eev else "Hold the head; read twice."),
        Stage("restore", 30.0, "Take the cover off and see the head fall back."),
        Stage("recovery", 300.0, "Let it run back to its baseline.", ("Write down what was set aside",)),
        Stage("standstill", 180.0, "Stop it and watch both sides drift together.", ("Put back what was set aside",)),
    )  # fmt: skip


def set_aside(system: System, c: Circumstances) -> tuple[SetAside, ...]:
    """What to set aside for the test and how each is put back."""
    out = [
        SetAside("thermostat", "Call for full capacity by the thermostat’s own hold.", "Give back its schedule and set point."),
    ]  # fmt: skip
    if system.fan_control in ("pressure-cycled", "variable", "unknown") and system.mode == "cooling":
        doubt = "If the fan cycles or slows with pressure: " if system.fan_control == "unknown" else ""
        out.append(
            SetAside(
                "fan control", f"{doubt}set the outdoor fan to full speed by its service mode.", "Give it back its control.",
            )
        )  # fmt: skip
    if c.economizer is not False and system.mode == "cooling":
        out.append(SetAside("economizer", "Close the outdoor damper at its controller.", "Give it back to automatic."))
    if c.auxiliary_heat is not False and system.mode == "heating":
        out.append(
            SetAside("auxiliary heat", "Switch the strips off and prove it by their current.", "Switch them on again.")
        )
    if system.mode == "heating":
        interval = c.defrost_interval
        since = c.minutes_since_defrost
        if since is None:
            how = f"Begin ten minutes after a defrost ended; the next is due about {interval:.0f} min after it."
        else:
            left = interval - since
            how = f"{left:.0f} min are left to the next defrost"
            how += ": enough." if left > 25 else ": wait for it, then begin ten minutes after its end."
        out.append(SetAside("defrost", how, "Nothing is changed on the board."))
    if system.compressor_control in ("two-stage", "tandem", "variable-speed"):
        out.append(SetAside("capacity", "Hold one stage or the fixed-speed mode.", "Give it back its control."))
    out.append(SetAside("cover", "Tape it so that it cannot be drawn in.", "Take it off; see the head fall: verified."))
    return tuple(out)


def abort(system: System) -> tuple[str, ...]:
    """The rule by which the test is broken off, in its steps."""
    what = "cover" if system.mode == "cooling" else "restriction"
    return (
        f"Head at the stop mark or climbing towards it: {what} off.",
        f"If the head still climbs with the {what} off, stop the compressor.",
        "Any noise, smell or alarm: stop the compressor.",
    )


def cautions(system: System, curves: Curves) -> tuple[str, ...]:
    """Cautions that go with every plan."""
    out = [
        "Cover the coil; never pull a live fan lead.",
        "A fan is switched off only on units with several, wired off before the start; never the only one.",
        "Never bypass a pressure switch.",
        "Eyes and hands protected: the hot-gas line burns, liquid freezes.",
        "Never leave a challenge unattended.",
    ]
    if curves.refrigerant.flammable:
        out.insert(0, f"{curves.name} can burn: ventilate, detector live, no ignition source.")
    return tuple(out)
