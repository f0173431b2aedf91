"""Builds the phone app into the package: a hatchling hook, and `python tools/app_build.py` by hand.

The source distribution carries the built files, so that wheels made from it need no node. An editable install is left
alone. When the files in place were built from the same sources (a hash says so), nothing is built again. Without node,
or when the build fails, the package is made without the app and `steadfeed serve` says so.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

ROOT: Final = Path(__file__).resolve().parents[1]
SOURCES: Final = ROOT / "webapp"
BUILT: Final = ROOT / "src/steadfeed/web/app"
HASH_FILE: Final = "sources.sha256"
#: What the built files are made of, beside webapp/ itself.
_ALSO: Final = (
    "src/steadfeed/visit/data/sentences.json",
    "src/steadfeed/reports/fonts/PublicSans-Regular.woff2",
    "src/steadfeed/reports/fonts/PublicSans-Bold.woff2",
)
_NOT_SOURCES: Final = {"node_modules", "tests", "dist"}


def source_files() -> list[Path]:
    """Return every file that the built app depends on, in order."""
    own = [
        path
        for path in SOURCES.rglob("*")
        if path.is_file() and not _NOT_SOURCES & set(path.relative_to(SOURCES).parts)
    ]
    return sorted([*own, *(ROOT / name for name in _ALSO)])


def source_hash() -> str:
    """Return one hash over all sources of the app."""
    digest = hashlib.sha256()
    for path in source_files():
        digest.update(path.relative_to(ROOT).as_posix().encode() + b"\0")
        digest.update(path.read_bytes() if path.is_file() else b"")
        digest.update(b"\0")
    return digest.hexdigest()


def is_built() -> bool:
    """Whether the files in place are those of these sources; without sources, whether there are any."""
    if not (BUILT / "index.html").is_file():
        return False
    if not (SOURCES / "package.json").is_file():
        return True
    kept = BUILT / HASH_FILE
    return kept.is_file() and kept.read_text().strip() == source_hash()


def build(say: Callable[[str], None]) -> bool:
    """Build the app when it is not built from these sources yet. Returns whether it is in place afterwards."""
    if is_built():
        return True
    if not (SOURCES / "package.json").is_file():
        return False
    npm = shutil.which("npm")
    if npm is None:
        say("npm was not found: the package is made without the phone app")
        return False
    wanted = source_hash()
    made = BUILT.with_name("app.new")
    shutil.rmtree(made, ignore_errors=True)
    environment = {**os.environ, "STEADFEED_APP_OUT": str(made), "NO_COLOR": "1"}
    steps = [] if _modules_fit() else [[npm, "ci", "--no-audit", "--no-fund"]]
    for step in [*steps, [npm, "run", "build"]]:
        done = subprocess.run(step, cwd=SOURCES, env=environment, capture_output=True, text=True, check=False)
        if done.returncode != 0:
            lines = [line.strip() for line in (done.stderr + done.stdout).splitlines() if line.strip()]
            telling = [line for line in lines if "rror" in line or "ould not" in line] or lines or ["no reason given"]
            said = "; ".join(telling[:2])[:300]
            say(f"`npm {' '.join(step[1:3])}` failed ({said}): the package is made without the phone app")
            shutil.rmtree(made, ignore_errors=True)
            return False
    (made / HASH_FILE).write_text(wanted + "\n")
    shutil.rmtree(BUILT, ignore_errors=True)
    made.rename(BUILT)
    return True


def _modules_fit() -> bool:
    """Whether node_modules is of the lock file that lies beside it."""
    kept = SOURCES / "node_modules/.package-lock.json"
    return kept.is_file() and kept.stat().st_mtime >= (SOURCES / "package-lock.json").stat().st_mtime


try:
    from hatchling.builders.hooks.plugin.interface import BuildHookInterface
except ModuleNotFoundError:  # by hand, where hatchling is not installed
    pass
else:

    class AppBuildHook(BuildHookInterface):  # type: ignore[type-arg, misc]
        """Puts the built app among the files of the package; see the module."""

        PLUGIN_NAME = "custom"

        def initialize(self, version: str, build_data: dict[str, Any]) -> None:
            """Build the app before the files are gathered."""
            if version == "editable":
                return
            if build(self.app.display_warning):
                build_data["artifacts"].append("/src/steadfeed/web/app/")


if __name__ == "__main__":
    sys.exit(0 if build(lambda text: print(text, file=sys.stderr)) else 1)
