"""Practice on the bench: list and run scenarios, make many random challenges. With practice_visit the gate to `bench`.

Files are written here and nowhere in the bench.
"""

from __future__ import annotations

import csv
import json
import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from steadfeed.errors import FixInput, TryAgain

if TYPE_CHECKING:
    from steadfeed.bench.acts import Act
    from steadfeed.bench.performed import Performed
    from steadfeed.bench.played import Played
    from steadfeed.bench.scenario import Briefing as Briefing
    from steadfeed.bench.scenario import Scenario as Scenario
    from steadfeed.bench.truth import Truth

#: The setting that names a folder with a person's own scenarios.
SCENARIOS_VARIABLE: Final = "STEADFEED_SCENARIOS"

#: Columns of labels.csv; those after `true_opening_ratio` are the bench's own.
LABELS: Final = (
    "log", "state", "acceptable", "fault_shows", "valid", "reasons", "borderline", "wrong_unit", "device", "other_faults",
    "push", "restore", "standstill", "true_push_condensing_degF", "true_hold_s", "true_baseline_superheat_degF",
    "true_superheat_change_degF", "true_baseline_subcooling_degF", "true_valve_subcooling_in_push_degF",
    "true_flow_ratio", "true_opening_ratio", "true_superheat_slope", "true_evaporating_slope", "true_feed_held",
    "true_hold_superheat_degF", "true_cycles_degF", "true_baseline_opening", "true_hold_opening", "circuit", "mode",
    "refrigerant", "compressor", "sampling", "rows", "way", "happenings", "instrument_faults",
)  # fmt: skip


#: Words of the table of truth that no reader of logs takes for the header of a channel.
_HAPPENED: Final = {"return air": "warmer or cooler house", "outdoor air": "weather", "phone call": "phone"}
_SHORT: Final = {
    "suction_pressure": "suction gauge", "liquid_pressure": "head gauge", "suction_line_temperature": "suction clamp",
    "liquid_line_temperature": "liquid clamp",
}  # fmt: skip


def own_scenarios(option: Path | None = None, settings: Mapping[str, str] = os.environ) -> Path | None:
    """Folder of a person's own scenarios: the option, else STEADFEED_SCENARIOS, else one in the person's data folder."""
    if option is not None:
        if not option.is_dir():
            raise FixInput(f"There is no folder {option}; name one with scenario files (NAME.toml)", where=str(option))
        return option
    named = settings.get(SCENARIOS_VARIABLE, "").strip()
    if named:
        return own_scenarios(Path(named))
    folder = data_folder(settings)
    return folder / "scenarios" if folder is not None and (folder / "scenarios").is_dir() else None


def data_folder(settings: Mapping[str, str] = os.environ) -> Path | None:
    """Person's data folder, None where the part that knows it is not installed."""
    named = settings.get("STEADFEED_DATA", "").strip()
    if named:
        return Path(named)
    try:
        import platformdirs
    except ModuleNotFoundError:
        return None
    return Path(platformdirs.user_data_dir("steadfeed", appauthor=False))


def find_scenario(name: str, folder: Path | None = None) -> Scenario:
    """One scenario by name; a person's own goes before one of the catalog. Raises FixInput naming the nearest."""
    from steadfeed.bench.scenario import read_scenario, scenario

    own = folder is not None and Path(name).name == name  # a name, no way to another folder
    if folder is not None and own and (folder / f"{name}.toml").is_file():
        return read_scenario(_text_of(folder / f"{name}.toml"), name)
    return scenario(name)


def all_scenarios(folder: Path | None = None) -> tuple[Scenario, ...]:
    """Every scenario, by level and name; a person's own go before those of the catalog with the same name."""
    from steadfeed.bench.scenario import LEVELS, catalog, read_scenario

    found = {s.name: s for s in catalog()}
    if folder is not None:
        for path in sorted(folder.glob("*.toml")):
            found[path.stem] = read_scenario(_text_of(path), path.stem)
    return tuple(sorted(found.values(), key=lambda s: (LEVELS.index(s.level), s.name)))


def briefings(folder: Path | None = None) -> tuple[Briefing, ...]:
    """What may be told of every scenario. Nothing of its truth."""
    return tuple(s.briefing for s in all_scenarios(folder))


def briefing_form(briefing: Briefing) -> dict[str, Any]:
    """A briefing as an object of JSON."""
    return {
        "name": briefing.name,
        "title": briefing.title,
        "place": briefing.place,
        "complaint": briefing.complaint,
        "level": briefing.level,
        "mode": briefing.mode,
        "refrigerant": briefing.refrigerant,
        "minutes": briefing.minutes,
    }


def _text_of(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise FixInput(
            f"The scenario {path} cannot be read; it must be a text file in UTF-8", where=str(path)
        ) from error


def run_scenario(
    name: str, seed: int, out: Path, *, truth: bool = False, folder: Path | None = None
) -> tuple[Path, ...]:
    """Run a scenario as its [conduct] says and write the log to `out`, its system file beside it.

    truth: also write out.truth.json. Returns the files written. The same name and seed give the same bytes.
    """
    from steadfeed.bench.performed import log_text, perform, system_text
    from steadfeed.bench.scenario import varied

    scenario = find_scenario(name, folder)
    done = perform(varied(scenario.settings, seed), seed)
    system = out.with_suffix(".toml")
    if system == out:
        raise FixInput(f"{out} would be both log and system file; name the log NAME.csv", where=str(out))
    texts = {
        out: log_text(done, scenario.start, scenario.offset),
        system: system_text(done, scenario.start, scenario.offset),
    }
    if truth:
        form = truth_form(scenario, seed, done)
        texts[out.with_suffix(".truth.json")] = json.dumps(form, ensure_ascii=False, indent=2) + "\n"
    try:
        for path, text in texts.items():
            path.write_text(text, encoding="utf-8", newline="")
    except OSError as error:
        raise FixInput(f"{out} cannot be written ({(error.strerror or str(error)).lower()})", where=str(out)) from error
    return tuple(texts)


def truth_form(scenario: Scenario, seed: int, done: Performed) -> dict[str, Any]:
    """Truth of a run as an object of JSON: what the scenario hides, and what was true in this run, circuit by circuit."""
    hidden = scenario.hidden
    rows = label_rows(done, scenario.name, scenario.start, scenario.offset)
    return {
        "scenario": scenario.name,
        "seed": seed,
        "answers": list(hidden.answers),
        "causes": list(hidden.causes),
        "text": hidden.text,
        "lesson": hidden.lesson,
        "why_not": hidden.why_not or None,
        "circuits": list(rows),
    }


# -- the gate for a played visit (practice_visit) -----------------------------------------------------------------------
def begin_played(scenario: Scenario, seed: int) -> Played:
    """Make the unit of a scenario for a person to play."""
    from steadfeed.bench.played import Played
    from steadfeed.bench.scenario import varied

    return Played(varied(scenario.settings, seed), seed)


def acts() -> Mapping[str, Act]:
    """What a person can look at, measure, mend or set aside."""
    from steadfeed.bench.acts import ACTS

    return ACTS


def causes() -> Mapping[str, str]:
    """Causes that a learner may name, with a line for each."""
    from steadfeed.bench.causes import CAUSES

    return CAUSES


def texts_of(done: Performed, scenario: Scenario) -> tuple[str, str]:
    """Log and system file of a run as text."""
    from steadfeed.bench.performed import log_text, system_text

    return log_text(done, scenario.start, scenario.offset), system_text(done, scenario.start, scenario.offset)


def truth_of_run(done: Performed, circuit: int = 0) -> Truth:
    """What was true in a run."""
    from steadfeed.bench.truth import truth_of

    return truth_of(done, circuit)


@dataclass(frozen=True, slots=True)
class Made:
    """One challenge that was made. problem: "" or why not."""

    name: str
    rows: tuple[dict[str, str], ...]
    problem: str = ""


def make_many(folder: Path, count: int, seed: int, processes: int | None = None) -> Iterator[Made]:
    """Make random challenges in parallel: NAME.csv and NAME.toml of each, and labels.csv when all are done.

    Yields each as it is made. Stopped in the middle, labels.csv has those that were yielded. Raises FixInput when the folder holds something else already, TryAgain when the disk will
    not take it.
    """
    if count < 1:
        raise FixInput(f"The number of challenges must be 1 or more, not {count}", where="count")
    _empty(folder)
    digits = max(4, len(str(count - 1)))
    jobs = [(str(folder), seed, index, f"bench_{index:0{digits}d}") for index in range(count)]
    made: list[Made] = []
    workers = processes or os.cpu_count() or 1
    try:
        try:
            for one in map(_make, jobs) if workers == 1 else _in_parallel(jobs, workers):
                made.append(one)
                yield one
        finally:
            write_labels(folder / "labels.csv", [row for one in made for row in one.rows])
    except OSError as error:
        raise TryAgain(
            f"{folder} cannot be written ({error.strerror or error}); make room or choose another folder"
        ) from error


def _in_parallel(jobs: list[tuple[str, int, int, str]], workers: int) -> Iterator[Made]:
    """Make them in several processes, in order. Stopped in the middle, what nobody began is not begun."""
    from concurrent.futures import ProcessPoolExecutor

    pool = ProcessPoolExecutor(max_workers=workers, initializer=_worker, initargs=(os.getpid(),))
    try:
        yield from pool.map(_make, jobs, chunksize=4)
    finally:
        pool.shutdown(cancel_futures=True)


def _worker(parent: int) -> None:
    """A process that leaves Ctrl-C to its parent, and does not live on without it."""
    import signal
    import threading
    import time

    signal.signal(signal.SIGINT, signal.SIG_IGN)

    def watch() -> None:
        while os.getppid() == parent:
            time.sleep(1.0)
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()


def write_labels(path: Path, rows: Sequence[dict[str, str]]) -> None:
    """Write the table of truth."""
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, LABELS)
        writer.writeheader()
        writer.writerows(rows)


def _empty(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if any(folder.iterdir()):
            raise FixInput(
                f"The folder {folder} is not empty; name a new one, so that no log is overwritten", where=str(folder)
            )
    except OSError as error:
        raise FixInput(f"The folder {folder} cannot be made ({error.strerror or error})", where=str(folder)) from error


def _make(job: tuple[str, int, int, str]) -> Made:
    folder, seed, index, name = job
    from steadfeed.bench.performed import log_text, perform, system_text
    from steadfeed.bench.population import random_settings

    settings, start, offset = random_settings(seed, index)
    try:
        done = perform(settings, seed * 1_000_003 + index)
    except (ArithmeticError, ValueError, TypeError) as error:
        return Made(name, (), f"{name} left the range of the refrigerant's curves ({error})")
    Path(folder, f"{name}.csv").write_text(log_text(done, start, offset), encoding="utf-8")
    Path(folder, f"{name}.toml").write_text(system_text(done, start, offset), encoding="utf-8")
    return Made(name, label_rows(done, name, start, offset))


def label_rows(done: Performed, name: str, start: float, offset: float) -> tuple[dict[str, str], ...]:
    """Rows of the table of truth. With two circuits the log's own row is of the last one, the first has NAME.c1."""
    from steadfeed.bench.truth import truth_of

    count = done.settings.unit.circuits
    out = []
    for circuit in range(count):
        own = name if circuit == count - 1 else f"{name}.c{circuit + 1}"
        out.append(_label(done, truth_of(done, circuit), own, circuit, start, offset))
    return tuple(reversed(out))


def _label(done: Performed, truth: Truth, name: str, circuit: int, start: float, offset: float) -> dict[str, str]:
    from steadfeed.bench.log_text import iso
    from steadfeed.bench.truth import device_words, other_words

    settings = done.settings
    row = {
        "log": name,
        "state": truth.state,
        "acceptable": "|".join(sorted(truth.acceptable)),
        "fault_shows": str(truth.fault_shows),
        "valid": str(truth.valid),
        "reasons": "|".join(truth.reasons),
        "borderline": "|".join(truth.borderline),
        "wrong_unit": str(bool(settings.kit.wrong_unit)),
        "device": device_words(done, circuit),
        "other_faults": "|".join(other_words(done, circuit)),
        "circuit": f"c{circuit + 1}" if settings.unit.circuits > 1 else "",
        "mode": settings.unit.mode,
        "refrigerant": settings.unit.refrigerant,
        "compressor": settings.unit.compressor,
        "sampling": settings.kit.sampling,
        "rows": str(done.readings.time.shape[0]),
        "way": settings.conduct.way,
        "happenings": "|".join(_HAPPENED.get(h.what, h.what) for h in settings.conduct.happenings),
        "instrument_faults": "|".join(f"{_SHORT.get(f.channel, f.channel)} {f.what}" for f in settings.kit.faults),
    }
    drift = settings.kit.clock_drift
    first = float(done.readings.time.min()) if done.readings.time.size else 0.0
    for key in ("push", "restore", "standstill"):
        moment = getattr(truth, key)
        seen = "head gauge not alive" not in truth.reasons and truth.numbers.get("true_push_condensing_degF", 0.0) > 5.0
        shown = moment is not None and moment >= first and (seen or key == "standstill")
        row[key] = iso(start + first + (moment - first) * (1.0 + drift), offset) if shown else ""
    for key, value in truth.numbers.items():
        if key in LABELS:
            row[key] = f"{value:.3f}"
    return row


@dataclass(frozen=True, slots=True)
class OrderedChallenge:
    """A challenge ordered for an invented unit. fault: "", "parked", "sticking", "hunting", "starving" or "weak".

    capacity [W]; line_length [m]; altitude [m]; outdoor [K]; start [s since the epoch]; utc_offset [s]; conduct: "" or
    what the person did wrong: "small push", "short hold", "stuck gauge".
    """

    refrigerant: str
    metering_device: str
    capacity: float
    start: float
    seed: int
    fault: str = ""
    conduct: str = ""
    compressor: str = "scroll"
    packaged: bool = False
    line_length: float = 7.62
    altitude: float = 0.0
    outdoor: float = 306.0
    utc_offset: float = 0.0


def ordered_challenge(order: OrderedChallenge) -> tuple[bytes, bytes]:
    """Run one ordered challenge on the bench and return its log and system file. The same order gives the same bytes."""
    from steadfeed.bench.faults import Faults
    from steadfeed.bench.metering import MeteringFaults
    from steadfeed.bench.performed import log_text, perform, system_text
    from steadfeed.bench.settings import (
        ConductSettings,
        F,
        InstrumentFault,
        KitSettings,
        ParkingSettings,
        Settings,
        UnitSettings,
        WeatherSettings,
    )

    metering = {
        "sticking": MeteringFaults(friction=8.0 * F, bulb_slow=2.0),
        "hunting": MeteringFaults(gain=8.0, bulb_slow=2.8),
        "starving": MeteringFaults(bulb_empty=0.35),
        "weak": MeteringFaults(strength=0.12),
    }.get(order.fault, MeteringFaults())
    stuck = (InstrumentFault("suction_pressure", "frozen", at=-1e6),)
    settings = Settings(
        unit=UnitSettings(
            refrigerant=order.refrigerant,
            metering_device=order.metering_device,
            capacity=order.capacity,
            compressor=order.compressor,
            packaged=order.packaged,
            line_length=order.line_length,
        ),
        weather=WeatherSettings(outdoor=order.outdoor, altitude=order.altitude),
        faults=Faults(charge=1.08, metering=metering),
        conduct=ConductSettings(
            running=480.0,
            lead=240.0,
            recovery=210.0,
            standstill=120.0,
            rise=(8.0 if order.conduct == "small push" else 18.0) * F,
            hold=45.0 if order.conduct == "short hold" else 270.0,
        ),
        kit=KitSettings(interval=2.0, faults=stuck if order.conduct == "stuck gauge" else ()),
        parking=ParkingSettings(after=240.0) if order.fault == "parked" else ParkingSettings(),
    )
    done = perform(settings, order.seed)
    return log_text(done, order.start, order.utc_offset).encode(), system_text(
        done, order.start, order.utc_offset
    ).encode()
