"""Growing files, typed rows and handed-in messages."""

from __future__ import annotations

from source_rigs.base import Rig
from steadfeed.capture.csv_tail import CsvTail
from steadfeed.capture.http_ingest import PushSource, message_of
from steadfeed.capture.manual import ManualSource
from steadfeed.capture.source import Retry, Source
from steadfeed.errors import FixInput

HEADER = "time,suction_pressure_psig,liquid_pressure_psig"


class CsvRig(Rig):
    """A data logger that writes a file, renames it away and begins another."""

    numbers_itself = True

    async def start(self) -> None:
        self.path = self.folder / "logger.csv"
        self.path.write_text(HEADER + "\n")

    def source(self) -> Source:
        return CsvTail("logger", self.path, silent_after=0.6, every=0.02, retry=Retry(0.02, 0.1))

    async def speak(self) -> None:
        self.spoken += 1
        with self.path.open("a") as file:
            file.write(f"2026-07-25T17:{self.spoken // 60:02d}:{self.spoken % 60:02d}Z,{118 + self.spoken},352\n")

    async def speak_nonsense(self) -> None:
        with self.path.open("a") as file:
            file.write("time,suction_pressure_psig,liquid_pressure_furlong\n")

    async def cut(self) -> None:
        self.path.rename(self.folder / f"logger-{self.spoken}.csv")

    async def mend(self) -> None:
        self.path.write_text(HEADER + "\n")


class IngestRig(Rig):
    """The web layer, handing in what a gateway sent. There is no link of its own to break."""

    numbers_itself = True
    has_link = False

    async def start(self) -> None:
        self.made: list[PushSource] = []

    def source(self) -> Source:
        self.made.append(PushSource("gateway", silent_after=0.6))
        return self.made[-1]

    async def speak(self) -> None:
        self.spoken += 1
        self._send("psig")

    async def speak_nonsense(self) -> None:
        self._send("furlong")

    def _send(self, unit: str) -> None:
        reading = {"sequence": self.spoken, "header": "low", "value": 118 + self.spoken, "unit": unit}
        message = message_of({"source": "gateway", "boot_id": "1", "readings": [reading]})
        self.made[-1].deliver(message.readings, [refused for _, refused in message.refused])

    async def cut(self) -> None: ...

    async def mend(self) -> None: ...


class ManualRig(Rig):
    """A person who types rows; an unknown unit is refused to the person's face."""

    has_link = False

    async def start(self) -> None:
        self.made: list[ManualSource] = []
        self.refusals: list[str] = []

    def source(self) -> Source:
        self.made.append(ManualSource(silent_after=0.6))
        return self.made[-1]

    async def speak(self) -> None:
        self.spoken += 1
        at = 1_785_000_000.0 + self.spoken
        self.made[-1].enter(f"row-{self.spoken}", at, {"suction_pressure": f"{118 + self.spoken} psi"})

    async def speak_nonsense(self) -> None:
        try:
            self.made[-1].enter("row-x", 1_785_000_000.0, {"suction_pressure": "118 furlong"})
        except FixInput as error:
            self.refusals.append(error.message)

    async def cut(self) -> None: ...

    async def mend(self) -> None: ...
