"""`pip install .` gives all that a plain install promises: code, types, refrigerants, templates, fonts."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import venv
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
#: What tells a build where packages come from stays; what points into this environment goes.
CLEAN = {name: value for name, value in os.environ.items() if not name.startswith(("PYTHON", "VIRTUAL_ENV"))}


def run(*command: str | Path, cwd: Path) -> str:
    done = subprocess.run(
        list(map(str, command)), cwd=cwd, env=CLEAN, capture_output=True, text=True, encoding="utf-8", check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def built(folder: Path) -> Path:
    """Build the wheel from a copy, so that this checkout stays as it is."""
    source = folder / "source"
    source.mkdir()
    for name in ("pyproject.toml", "README.md", "LICENSE"):
        shutil.copy(ROOT / name, source)
    shutil.copytree(ROOT / "src", source / "src", ignore=shutil.ignore_patterns("__pycache__"))
    (source / "tools").mkdir()
    shutil.copy(ROOT / "tools" / "app_build.py", source / "tools")  # the build hook
    pip = (
        sys.executable,
        "-m",
        "pip",
        "--disable-pip-version-check",
        "wheel",
        "-q",
        "--no-deps",
        "--no-build-isolation",
    )
    run(*pip, "-w", folder, source, cwd=folder)
    (wheel,) = folder.glob("*.whl")
    return wheel


def test_the_wheel_holds_everything_but_tests_and_tools(tmp_path: Path) -> None:
    wheel = built(tmp_path)
    with zipfile.ZipFile(wheel) as file:
        names = set(file.namelist())
        metadata = file.read(next(n for n in names if n.endswith(".dist-info/METADATA"))).decode("utf-8")
    package = ROOT / "src" / "steadfeed"
    wanted = {
        f"steadfeed/{path.relative_to(package).as_posix()}"
        for path in package.rglob("*")
        if path.is_file() and "__pycache__" not in path.parts and "app" not in path.parts
    }
    assert wanted - names == set()
    for part in ("py.typed", "__init__.pyi", "physics/data/coefficients.json", "reports/templates/report.typ"):
        assert f"steadfeed/{part}" in names
    assert any(n.startswith("steadfeed/reports/fonts/") and n.endswith(".ttf") for n in names)
    assert not [n for n in names if n.startswith(("tests/", "tools/", "docs/"))]
    assert any(n.endswith(".dist-info/licenses/LICENSE") for n in names)
    assert "License-Expression: Apache-2.0" in metadata


@pytest.mark.full
def test_a_clean_environment_judges_and_writes_reports(tmp_path: Path) -> None:
    wheel = built(tmp_path)
    venv.EnvBuilder(with_pip=True).create(tmp_path / "clean")
    binaries = tmp_path / "clean" / ("Scripts" if os.name == "nt" else "bin")
    run(binaries / "python", "-m", "pip", "--disable-pip-version-check", "install", "-q", wheel, cwd=tmp_path)
    example = ROOT / "examples" / "orchard-house.csv"
    printed = run(binaries / "steadfeed", "judge", example, "--json", "--report", tmp_path / "papers", cwd=tmp_path)
    assert json.loads(printed)["verdict"] == "regulating"
    assert (tmp_path / "papers" / "orchard-house.html").stat().st_size > 20_000
    assert (tmp_path / "papers" / "orchard-house.pdf").read_bytes().startswith(b"%PDF")
    assert "R-410A" in run(binaries / "steadfeed", "saturation", "R-410A", "--pressure", "118", cwd=tmp_path)
    assert "R-32" in run(binaries / "steadfeed", "refrigerants", cwd=tmp_path)
