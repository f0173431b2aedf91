"""Simulated challenges with known truth, for tests (tests/data/README.md). They are not field measurements."""

from __future__ import annotations

import csv
import functools
import io
import tarfile
from dataclasses import replace
from pathlib import Path

import numpy as np

from steadfeed.capture.logs import parse_log
from steadfeed.capture.system_file import parse_system
from steadfeed.circuit.channel import FloatArray
from steadfeed.circuit.equipment import System
from steadfeed.circuit.recording import Recording

ARCHIVE = Path(__file__).parent / "data" / "simulated_challenges.tar.xz"


@functools.cache
def _files() -> dict[str, bytes]:
    with tarfile.open(ARCHIVE) as tar:
        return {
            Path(m.name).name: handle.read() for m in tar.getmembers() if (handle := tar.extractfile(m)) is not None
        }


@functools.cache
def labels() -> dict[str, dict[str, str]]:
    """Truth of every challenge, name -> row of labels.csv."""
    return {row["log"]: row for row in csv.DictReader(io.StringIO(_files()["labels.csv"].decode()))}


@functools.cache
def challenge(name: str) -> tuple[Recording, System]:
    """Recording and system of one challenge."""
    system = parse_system(_files()[f"{name}.toml"].decode(), f"{name}.toml")
    return parse_log(_files()[f"{name}.csv"], f"{name}.csv", system)[0], system


def raw(name: str) -> tuple[bytes, bytes]:
    """Bytes of the log and of its system file."""
    return _files()[f"{name}.csv"], _files()[f"{name}.toml"]


def named(state: str, *, by_hand: bool = False, valid: bool = True) -> list[str]:
    """Names of the challenges of one true state whose fault shows, nothing borderline."""
    return [
        name
        for name, row in sorted(labels().items())
        if row["state"] == state
        and row["valid"] == str(valid)
        and row["fault_shows"] == "True"
        and not row["borderline"]
        and (challenge(name)[1].instruments.sampling == "by hand") == by_hand
    ]


def with_values(recording: Recording, name: str, values: FloatArray) -> Recording:
    """The recording with one channel's readings replaced."""
    channel = replace(recording.channels[name], values=np.asarray(values, dtype=np.float64))
    return replace(recording, channels={**recording.channels, name: channel})
