"""Judge logs: the use case from a path to judgements, and from a judgement to its papers."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from steadfeed.circuit.equipment import System
from steadfeed.errors import FixInput, SteadfeedError

if TYPE_CHECKING:
    from steadfeed.analysis.challenge import Judgement
    from steadfeed.physics.properties import Curves

#: What a name must end in to be looked at as a log when a folder is judged.
LOG_ENDINGS = (".csv", ".tsv", ".txt", ".jsonl", ".ndjson", ".parquet")


@dataclass(frozen=True, slots=True, eq=False)
class JudgedLog:
    """One circuit of one log, judged, with all that its papers need.

    log: path as given. sha256, system_sha256: of the raw bytes, hexadecimal; the latter None without a system file.
    curves: of the refrigerant that was judged with.
    """

    log: str
    sha256: str
    system: System
    system_file: str | None
    system_sha256: str | None
    curves: Curves
    judgement: Judgement
    method_version: str


@dataclass(frozen=True, slots=True, eq=False)
class FailedLog:
    """A log that cannot be judged, and the sentence why."""

    log: str
    error: SteadfeedError


@dataclass(frozen=True, slots=True)
class FoundLogs:
    """Logs found under the paths that a person named, in order, and the files passed over because they are no logs.

    single: whether the person named one file, not a folder and not several.
    """

    logs: tuple[Path, ...]
    skipped: tuple[Path, ...]
    single: bool


def method_version() -> str:
    """Return "CODE+HASH": the code's version and a short hash over the criteria and the coefficient file."""
    from steadfeed import __version__
    from steadfeed.analysis.criteria import fingerprint

    return f"{__version__}+{fingerprint()}"


def find_logs(paths: Sequence[Path]) -> FoundLogs:
    """Find the logs under the named paths. A file that is named is always a log; a folder is searched with its subfolders.

    In a folder, hidden files and folders and system files of logs are passed over silently, files that do not look like
    logs are counted. Raises FixInput when a folder holds no log.
    """
    from steadfeed.capture.logs import looks_like_log

    logs: list[Path] = []
    skipped: list[Path] = []
    for path in paths:
        if not path.is_dir():
            logs.append(path)
            continue
        before = len(logs)
        for file in _files(path):
            if file.suffix.lower() in LOG_ENDINGS and looks_like_log(file):
                logs.append(file)
            else:
                skipped.append(file)
        if len(logs) == before:
            raise FixInput(
                f"The folder {path} holds no log: a log has a header row with time and channels such as "
                "suction_pressure_psig",
                code="no log found",
                where=str(path),
            )
    stems = {log.with_suffix("") for log in logs}
    unique = tuple(dict.fromkeys(logs))
    return FoundLogs(
        unique,
        tuple(file for file in skipped if not (file.suffix == ".toml" and file.with_suffix("") in stems)),
        single=len(unique) == 1 and not any(path.is_dir() for path in paths),
    )


def judge_log(log: Path, system_file: Path | None = None) -> tuple[JudgedLog, ...]:
    """Judge one log, each of its circuits.

    Without system_file, a system file with the log's stem beside it is taken. Raises FixInput for a file that cannot
    be read or understood, or when the refrigerant is not stated; InstallPart when reading it needs an extra.
    """
    from steadfeed.analysis.challenge import judge
    from steadfeed.capture.logs import parse_log, read_bytes
    from steadfeed.capture.system_file import default_system, find_system, read_system
    from steadfeed.physics.properties import curves

    raw = read_bytes(log)
    beside = system_file or find_system(log)
    system = read_system(beside) if beside is not None else default_system()
    if system.refrigerant is None:
        raise _no_refrigerant(log, beside)
    known = curves(system.refrigerant)
    sha256 = hashlib.sha256(raw).hexdigest()
    system_sha256 = hashlib.sha256(beside.read_bytes()).hexdigest() if beside is not None else None
    version = method_version()
    return tuple(
        JudgedLog(
            log=str(log),
            sha256=sha256,
            system=system,
            system_file=None if beside is None else str(beside),
            system_sha256=system_sha256,
            curves=known,
            judgement=judge(recording, system, known),
            method_version=version,
        )
        for recording in parse_log(raw, log.name, system)
    )


def judge_logs(logs: Sequence[Path], system_file: Path | None = None) -> Iterator[tuple[JudgedLog, ...] | FailedLog]:
    """Judge logs one after the other; one that cannot be judged does not stop the rest.

    Yields, for each log in turn, its judged circuits or why it failed. An error of steadfeed's own on one log is
    reported like a bad file, with the code "unexpected".
    """
    for log in logs:
        try:
            yield judge_log(log, system_file)
        except SteadfeedError as error:
            yield FailedLog(str(log), error)
        except Exception as error:
            yield FailedLog(str(log), unexpected(error))


def unexpected(error: Exception) -> SteadfeedError:
    """Turn an error of steadfeed's own into one sentence that says what to do. The original stays as its cause."""
    known = SteadfeedError(
        f"steadfeed met an error of its own ({type(error).__name__}): please report it with the file and the output of "
        "the same command run with STEADFEED_TRACE=1",
        code="unexpected",
    )
    known.__cause__ = error
    return known


def _files(folder: Path) -> Iterator[Path]:
    """Files under a folder, sorted, without hidden ones; links to folders are not followed."""
    try:
        entries = sorted(folder.iterdir())
    except OSError as error:
        raise FixInput(f"The folder {folder} cannot be read: {error.strerror}", where=str(folder)) from error
    for entry in entries:
        if entry.name.startswith("."):
            continue
        if entry.is_dir():
            if not entry.is_symlink():
                yield from _files(entry)
        elif entry.is_file():
            yield entry


def _no_refrigerant(log: Path, system_file: Path | None) -> FixInput:
    where = system_file or log.with_suffix(".toml")
    doing = "Add" if system_file is not None else "Write a file with"
    return FixInput(
        f'The refrigerant of {log.name} is not stated: {doing} a line such as refrigerant = "R-410A" '
        f"{'to' if system_file is not None else 'beside the log as'} {where.name}",
        code="refrigerant not stated",
        where=str(where),
    )
