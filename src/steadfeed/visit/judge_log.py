"""Judge logs: the use case from paths to judgements."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from steadfeed.circuit.equipment import System
from steadfeed.errors import FixInput, SteadfeedError, own_error

if TYPE_CHECKING:
    from steadfeed.analysis.challenge import Judgement
    from steadfeed.physics.properties import Curves


@dataclass(frozen=True, slots=True, eq=False)
class JudgedLog:
    """One circuit of one log, judged, with all that its papers need.

    log: path as given. sha256, system_sha256: of the raw bytes, hexadecimal; the latter None without a system file.
    system_file: path of the system file or None. curves: of the refrigerant that was judged with.
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
class FoundLog:
    """A log to judge. paper: path without ending for its report, under the folder of the reports, its own for each log."""

    path: Path
    paper: Path


@dataclass(frozen=True, slots=True)
class FoundLogs:
    """Logs found under the paths that a person named, in order, and the files passed over because they are no logs.

    single: whether the person named one file, not a folder and not several.
    """

    logs: tuple[FoundLog, ...]
    skipped: tuple[Path, ...]
    single: bool


def method_version() -> str:
    """Return "CODE+HASH": the code's version and a short hash over the criteria and the coefficient file."""
    from steadfeed import __version__
    from steadfeed.analysis.criteria import fingerprint
    from steadfeed.physics.properties import coefficient_file_version

    both = f"{fingerprint()} {coefficient_file_version()}".encode()
    return f"{__version__}+{hashlib.sha256(both).hexdigest()[:8]}"


def find_logs(paths: Sequence[Path]) -> FoundLogs:
    """Find the logs under the named paths. A file that is named is always a log; a folder is searched with its subfolders.

    In a folder, hidden files and folders and the system files of logs are passed over silently, files that are no logs
    are counted. Raises FixInput when a folder holds no log or cannot be read.
    """
    from steadfeed.capture.logs import looks_like_log

    logs: dict[Path, Path] = {}  # log -> path of its paper
    skipped: list[Path] = []
    for path in paths:
        if not path.is_dir():
            logs.setdefault(path, Path(path.name).with_suffix(""))
            continue
        inside = [(file, looks_like_log(file)) for file in _files(path)]
        if not any(is_log for _, is_log in inside):
            raise FixInput(
                f"The folder {path} holds no log; a log has a header row with time and channels such as "
                "suction_pressure_psig",
                code="no log found",
                where=str(path),
            )
        for file, is_log in inside:
            if is_log:
                logs.setdefault(file, file.relative_to(path).with_suffix(""))
            else:
                skipped.append(file)
    systems = {log.with_suffix(".toml") for log in logs}
    return FoundLogs(
        tuple(_with_own_papers(logs)),
        tuple(file for file in skipped if file not in systems),
        single=len(logs) == 1 and not any(path.is_dir() for path in paths),
    )


def judge_log(log: str | os.PathLike[str], system_file: str | os.PathLike[str] | None = None) -> tuple[JudgedLog, ...]:
    """Judge one log, each of its circuits, and look for causes in the whole circuit.

    Without system_file, a system file with the log's stem beside it is taken. Raises FixInput for a file that cannot
    be read or understood, or when the refrigerant is not stated; InstallPart when reading it needs an extra.
    """
    from steadfeed.analysis.challenge import judge
    from steadfeed.analysis.diagnosis.of_challenge import with_findings
    from steadfeed.capture.logs import parse_log, read_bytes
    from steadfeed.capture.system_file import default_system, find_system, parse_system_bytes
    from steadfeed.physics.properties import curves

    raw = read_bytes(log)
    beside = os.fspath(system_file) if system_file is not None else find_system(log)
    system, system_sha256 = default_system(), None
    if beside is not None:
        system_raw = read_bytes(beside)
        system = parse_system_bytes(system_raw, os.fspath(beside))
        system_sha256 = hashlib.sha256(system_raw).hexdigest()
    recordings = parse_log(raw, os.fspath(log), system)
    if system.refrigerant is None:
        raise _no_refrigerant(Path(log), None if beside is None else Path(beside))
    known = curves(system.refrigerant)
    sha256 = hashlib.sha256(raw).hexdigest()
    version = method_version()
    return tuple(
        JudgedLog(
            log=os.fspath(log),
            sha256=sha256,
            system=system,
            system_file=None if beside is None else os.fspath(beside),
            system_sha256=system_sha256,
            curves=known,
            judgement=with_findings(judge(recording, system, known), system, known),
            method_version=version,
        )
        for recording in recordings
    )


def judge_logs(
    logs: Sequence[FoundLog], system_file: str | os.PathLike[str] | None = None
) -> Iterator[tuple[FoundLog, tuple[JudgedLog, ...] | FailedLog]]:
    """Judge logs one after the other; one that cannot be judged does not stop the rest.

    Yields each log with its judged circuits or why it failed. An error of steadfeed's own on one log is reported like a
    bad file, with the code "own error" and the original error as its cause.
    """
    for log in logs:
        try:
            yield log, judge_log(log.path, system_file)
        except SteadfeedError as error:
            yield log, FailedLog(str(log.path), error)
        except Exception as error:
            yield log, FailedLog(str(log.path), own_error(error))


def _with_own_papers(logs: dict[Path, Path]) -> Iterator[FoundLog]:
    """Two logs of one name get papers of their own: the second is numbered."""
    taken: set[str] = set()
    for log, paper in logs.items():
        own, number = paper, 2
        while str(own).lower() in taken:
            own, number = paper.with_name(f"{paper.name}-{number}"), number + 1
        taken.add(str(own).lower())
        yield FoundLog(log, own)


def _files(folder: Path) -> Iterator[Path]:
    """Files under a folder, sorted, without hidden ones; links to folders are not followed."""
    try:
        entries = sorted(folder.iterdir())
    except OSError as error:
        raise FixInput(
            f"The folder {folder} cannot be read ({(error.strerror or str(error)).lower()})",
            code="not readable",
            where=str(folder),
        ) from error
    for entry in entries:
        if entry.name.startswith("."):
            continue
        if entry.is_dir():
            if not entry.is_symlink():
                yield from _files(entry)
        else:
            yield entry


def _no_refrigerant(log: Path, system_file: Path | None) -> FixInput:
    line = 'a line such as refrigerant = "R-410A"'
    if system_file is not None:
        doing = f"add {line} to {system_file}"
    else:
        doing = f"write {line} into a file {log.with_suffix('.toml').name} beside it"
    return FixInput(
        f"The refrigerant of {log} is not stated; {doing}",
        code="refrigerant not stated",
        where=str(system_file or log),
    )
