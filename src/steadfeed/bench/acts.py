"""What a person at a unit can look at, measure, mend or set aside, each with the minutes that it costs.

Each act is one function of the played run that returns what the person finds: a sentence, or a number with its kind.
They tell what eyes, hands and instruments would tell, never the name of the fault.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import isnan
from typing import Final

from steadfeed.bench.played import Played


@dataclass(frozen=True, slots=True)
class Found:
    """What an act brought to light. values: (what, SI value, kind as in units.py)."""

    text: str = ""
    values: tuple[tuple[str, float, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Act:
    """label: for people; minutes: what it costs; kind: "measure", "look", "mend" or "set aside"; does: the act."""

    label: str
    minutes: float
    kind: str
    does: Callable[[Played], Found]


def _circuit(p: Played, k: int = 0):  # type: ignore[no-untyped-def]
    return p.state.circuits[k]


def _return_air(p: Played) -> Found:
    s = p.state
    return Found(
        values=(
            ("return air", s.return_air_dry_bulb, "temperature"),
            ("wet bulb", s.return_air_wet_bulb, "temperature"),
        )
    )


def _split(p: Played) -> Found:
    s = p.state
    return Found(
        values=(
            ("supply air", s.supply_air_dry_bulb, "temperature"),
            ("return air", s.return_air_dry_bulb, "temperature"),
        )
    )


def _amps(p: Played) -> Found:
    return Found(values=(("compressor", _circuit(p).compressor_current, "current"),))


def _discharge(p: Played) -> Found:
    return Found(values=(("discharge line", _circuit(p).discharge_line_temperature, "temperature"),))


def _at_valve(p: Played) -> Found:
    c = _circuit(p)
    if c.valve_quality > 0.002 or c.valve_subcooling < 0.3:
        return Found("It hisses and gurgles before the metering device: bubbles in the liquid.")
    return Found(
        "Clear liquid before the metering device.",
        (("subcooling there", c.valve_subcooling, "temperature_difference"),),
    )


def _at_bulb(p: Played) -> Found:
    return Found(values=(("superheat at the evaporator", _circuit(p).evaporator_superheat, "temperature_difference"),))


def _second(p: Played) -> Found:
    if len(p.state.circuits) < 2:
        return Found("There is only one circuit.")
    c = _circuit(p, 1)
    return Found(
        "The other circuit, on the same air:",
        (("head", c.liquid_pressure, "pressure"), ("suction", c.suction_pressure, "pressure"),
         ("subcooling", c.subcooling, "temperature_difference")),
    )  # fmt: skip


def _standing(p: Played) -> Found:
    if p.running:
        return Found("The unit runs: stop it and give it some minutes.")
    c = _circuit(p)
    return Found(
        "Standing, both sides as they are, and the air outdoors:",
        (("suction side", c.suction_pressure, "pressure"), ("high side", c.liquid_pressure, "pressure"),
         ("outdoor air", p.state.outdoor_air_temperature, "temperature")),
    )  # fmt: skip


def _bulb(p: Played) -> Found:
    unit, faults = p.settings.unit, p.settings.faults.metering
    if unit.metering_device != "txv":
        return Found("This metering device has no bulb.")
    if faults.bulb_contact is not None:
        return Found("The strap is slack, the insulation lies on the floor, the bulb touches the pipe with one edge.")
    return Found("The bulb sits tight on clean pipe and is insulated.")


def _bulb_in_hand(p: Played) -> Found:
    unit, faults = p.settings.unit, p.settings.faults.metering
    if unit.metering_device != "txv":
        return Found("This metering device has no bulb.")
    if not p.running:
        return Found("The unit stands: nothing to be seen.")
    stands = faults.parked is not None or (p.settings.parking.after > 0.0 and p._parked)
    if stands or faults.bulb_empty > 0.4 or faults.strength < 0.1:
        return Found("With the bulb in the warm hand for a minute the suction does not answer.")
    if faults.friction > 0.0:
        return Found("For a while nothing; then the suction jumps.")
    return Found("With the bulb in the warm hand the suction rises, and falls again on the pipe.")


def _equalizer(p: Played) -> Found:
    if p.settings.unit.metering_device != "txv":
        return Found("This metering device has no equalizer line.")
    if p.settings.faults.metering.equalizer_plugged:
        return Found(
            "The equalizer line blows nothing when it is cracked at its nut. (Done at standstill, line shut off.)"
        )
    return Found("The equalizer line is free.")


def _air(p: Played) -> Found:
    f, c = p.settings.faults, _circuit(p)
    said = []
    if f.condenser_fouling > 0.05 or f.condenser_film > 0.05:
        said.append("Fluff and dust sit in the fins of the outdoor coil.")
    if f.indoor_airflow > 0.05:
        said.append("The filter is grey and bends inwards.")
    if c.frost > 0.02:
        said.append("There is ice on the coil.")
    return Found(" ".join(said) or "Coils clean, filter new, no ice.")


def _liquid_line(p: Played) -> Found:
    f, c = p.settings.faults, _circuit(p)
    if not p.running:
        return Found("The unit stands: the line has the temperature of the air.")
    drop = c.liquid_line_temperature - c.valve_inlet_temperature
    if f.liquid_restriction > 0.3:
        return Found(
            "Behind the wall the liquid line turns cold and wet.",
            (("drop along the line", drop, "temperature_difference"),),
        )
    return Found("Hand-warm all along.", (("drop along the line", drop, "temperature_difference"),))


def _screen(p: Played) -> Found:
    if p.settings.faults.metering.screen > 0.5 and p.running:
        return Found("There is frost on the body of the metering device, at its inlet.")
    return Found("Nothing to be seen at the inlet of the metering device.")


def _lines_behind(p: Played) -> Found:
    f, unit = p.settings.faults, p.settings.unit
    said = []
    if f.reversing_leak > 0.03 and p.running:
        said.append("Behind the reversing valve the suction tube is several degrees warmer than before it.")
    if f.metering.bypass > 0.1 and unit.mode == "heating" and p.running:
        said.append("The tube of the check valve beside the metering device is as cold as the outlet.")
    return Found(" ".join(said) or "The tubes have the temperatures they should have.")


def _hoses(p: Played) -> Found:
    said = []
    if p.drop_faults("suction_pressure", "wrong port"):
        said.append(
            "The low-side hose sat on the large service valve, hot in heating: moved to the common suction port."
        )
    if p.drop_faults("suction_pressure", "hose valve shut") | p.drop_faults("liquid_pressure", "hose valve shut"):
        said.append("A hose valve was shut: opened.")
    return Found(" ".join(said) or "Hoses on the right ports, their valves open.")


def _manifold(p: Played) -> Found:
    if p.kit.settings.manifold_leak > 0.0:
        from dataclasses import replace

        p.kit.settings = replace(p.kit.settings, manifold_leak=0.0)
        return Found("The manifold’s own valves let through: another manifold taken.")
    return Found("The manifold’s valves are shut tight.")


def _clamps(p: Played) -> Found:
    said = []
    for channel in ("suction_line_temperature", "liquid_line_temperature"):
        line = channel.split("_", 1)[0]
        if p.drop_faults(channel, "off the pipe"):
            said.append(f"The {line} clamp hung in the air: back on the pipe.")
        if p.drop_faults(channel, "warm exhaust", "in the sun", "poor contact"):
            said.append(f"Warm air reached the {line} clamp: insulated.")
    return Found(" ".join(said) or "Clamps tight, insulated, out of the sun.")


def _suction_gauge(p: Played) -> Found:
    return _swap(p, "suction_pressure", "suction")


def _head_gauge(p: Played) -> Found:
    return _swap(p, "liquid_pressure", "head")


def _swap(p: Played, channel: str, name: str) -> Found:
    before = p.reading(channel)
    mended = p.drop_faults(channel, "frozen", "hose valve shut", "offset", "gain")
    p.advance(2)
    after = p.reading(channel)
    if isnan(before) or isnan(after):
        return Found(f"There is no {name} gauge in place yet.")
    if mended:
        return Found(f"The other {name} gauge shows {after:.0f} where the first showed {before:.0f}: changed.")
    return Found(f"The other {name} gauge shows the same.")


def _units(p: Played) -> Found:
    wrong = p.kit.settings.wrong_unit
    if wrong == "temperature":
        return Found("A thermometer beside the logger: what it writes as °F are °C.")
    if wrong == "pressure":
        return Found("A gauge beside the logger: what it writes as psi are kilopascals.")
    return Found("The logger’s numbers and their units agree with a second instrument.")


def _controls(p: Played) -> Found:
    unit, weather = p.settings.unit, p.settings.weather
    said = []
    if unit.fan_control != "on-off":
        said.append(f"The condenser fan is {unit.fan_control} by head pressure.")
    if unit.compressor_control != "single-speed":
        said.append(f"The compressor is {unit.compressor_control}; the thermostat chooses.")
    if weather.auxiliary_heat > 0.0 and "auxiliary heat" not in p.set_aside:
        said.append("Electric heat is on, all elements.")
    if unit.packaged and any(h.what == "economizer" for h in p.happenings):
        said.append("There is an economizer, in automatic.")
    if unit.circuits > 1:
        said.append("Two circuits share the coil face and the fans.")
    return Found(" ".join(said) or "Plain: one thermostat, one contactor, fan on with the compressor.")


def _thermostat(p: Played) -> Found:
    p.set_aside.add("thermostat")
    p.forget_happenings("thermostat")
    return Found("The thermostat is set so low (heating: so high) that it calls to the end. Noted.")


def _stage(p: Played) -> Found:
    unit = p.settings.unit
    if unit.compressor_control == "variable-speed":
        return Found("This inverter has no mode that fixes its speed.")
    p.set_aside.add("stage")
    p.forget_happenings("stage")
    return Found(
        "The stage is held. Noted." if unit.compressor_control != "single-speed" else "There is only one stage."
    )


def _fan_control(p: Played) -> Found:
    if p.settings.unit.fan_control == "on-off":
        return Found("The fan runs with the compressor: nothing to set aside.")
    p.set_aside.add("fan control")
    p.fix_fans()
    return Found("By the maker’s means the fan now runs steadily. Noted.")


def _economizer(p: Played) -> Found:
    p.set_aside.add("economizer")
    p.forget_happenings("economizer")
    return Found("The outdoor-air damper is shut for the test. Noted.")


def _doors(p: Played) -> Found:
    p.set_aside.add("doors")
    p.forget_happenings("return air", "airflow", "humidity")
    return Found("Agreed with the people inside: doors and grilles stay as they are during the test.")


def _tape(p: Played) -> Found:
    p.forget_happenings("wind")
    return Found("The cover is taped so that neither wind nor fan can take it.")


def _auxiliary(p: Played) -> Found:
    if p.settings.weather.auxiliary_heat <= 0.0:
        return Found("There is no auxiliary heat on.")
    p.set_aside.add("auxiliary heat")
    return Found("Auxiliary heat is set aside at its switch. Noted.")


ACTS: Final[dict[str, Act]] = {
    "return air": Act("Return air, dry and wet bulb", 2.0, "measure", _return_air),
    "split": Act("Supply against return air", 2.0, "measure", _split),
    "amps": Act("Compressor current", 1.0, "measure", _amps),
    "discharge": Act("Discharge line temperature", 1.0, "measure", _discharge),
    "at the valve": Act("Subcooling before the metering device", 4.0, "measure", _at_valve),
    "at the bulb": Act("Superheat at the evaporator", 3.0, "measure", _at_bulb),
    "second circuit": Act("Gauges on the other circuit", 3.0, "measure", _second),
    "standing": Act("Standing pressures against outdoor air", 1.0, "measure", _standing),
    "bulb": Act("Look at the bulb", 3.0, "look", _bulb),
    "bulb in hand": Act("Bulb in the warm hand", 3.0, "look", _bulb_in_hand),
    "equalizer": Act("Crack the equalizer line", 6.0, "look", _equalizer),
    "air": Act("Look at coils and filter", 3.0, "look", _air),
    "liquid line": Act("Feel along the liquid line", 2.0, "look", _liquid_line),
    "inlet": Act("Look at the metering device’s inlet", 2.0, "look", _screen),
    "tubes": Act("Feel reversing and check valve tubes", 2.0, "look", _lines_behind),
    "controls": Act("Look at the controls", 2.0, "look", _controls),
    "hoses": Act("Check hoses and ports", 1.0, "mend", _hoses),
    "manifold": Act("Check the manifold’s valves", 1.0, "mend", _manifold),
    "clamps": Act("Check and insulate the clamps", 1.0, "mend", _clamps),
    "suction gauge": Act("Try another suction gauge", 4.0, "mend", _suction_gauge),
    "head gauge": Act("Try another head gauge", 4.0, "mend", _head_gauge),
    "units": Act("Compare units with a second instrument", 2.0, "mend", _units),
    "thermostat": Act("Make the thermostat call to the end", 1.0, "set aside", _thermostat),
    "stage": Act("Hold the stage or speed", 2.0, "set aside", _stage),
    "fan control": Act("Set the fan control aside", 3.0, "set aside", _fan_control),
    "economizer": Act("Shut the outdoor-air damper", 1.0, "set aside", _economizer),
    "auxiliary heat": Act("Set auxiliary heat aside", 1.0, "set aside", _auxiliary),
    "doors": Act("Agree on doors and grilles", 1.0, "set aside", _doors),
    "tape": Act("Tape the cover", 1.0, "set aside", _tape),
}  # fmt: skip
