"""The two commands of the README, the pinned lists and the environment that is made from them."""

from __future__ import annotations

import ast
import re
import sys
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement

ROOT = Path(__file__).parents[2]
MAKEFILE = (ROOT / "Makefile").read_text(encoding="utf-8")
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
LISTS = ("demo", "all")

sys.path.insert(0, str(ROOT / "tools"))

import environment  # noqa: E402


def pinned(name: str) -> set[str]:
    """Names in one of the lists."""
    text = (ROOT / "requirements" / f"{name}.txt").read_text(encoding="utf-8")
    return {found[1] for found in re.finditer(r"^([a-z0-9][a-z0-9.-]*)==", text, re.MULTILINE)}


def normal(requirement: str) -> str:
    return re.sub(r"[-_.]+", "-", Requirement(requirement).name).lower()


def test_at_most_eight_targets_each_described() -> None:
    found = re.search(r"^\.PHONY: (.*)$", MAKEFILE, re.MULTILINE)
    assert found is not None
    targets = found[1].split()
    rules = re.findall(r"^([a-z][\w-]*):", MAKEFILE, re.MULTILINE)
    assert sorted(rules) == sorted(targets)
    assert len(targets) <= 8
    assert {"demo", "test"} <= set(targets)
    for target in targets:
        assert re.search(rf"^#   make {target}\b", MAKEFILE, re.MULTILINE), target


def test_the_demo_judges_examples_that_are_there() -> None:
    examples = re.findall(r"examples/\S+", MAKEFILE)
    assert len(examples) == 3
    told = (ROOT / "examples/README.md").read_text(encoding="utf-8")
    assert "simulated" in told
    for example in examples:
        log = ROOT / example
        assert log.exists()
        assert log.with_suffix(".toml").exists()
        assert f"`{log.name}`" in told


@pytest.mark.parametrize("name", LISTS)
def test_every_pin_has_a_hash_and_no_list_has_an_address(name: str) -> None:
    text = (ROOT / "requirements" / f"{name}.txt").read_text(encoding="utf-8")
    entries = re.split(r"\n(?=[a-z0-9])", text.strip())
    assert len(entries) > 10
    for entry in entries:
        assert re.match(r"[a-z0-9.-]+==[^ ]+", entry), entry
        assert "--hash=sha256:" in entry
    assert not re.search(r"https?:|file:|--(extra-)?index-url|--find-links|^-", text, re.MULTILINE)


def test_the_lists_hold_what_the_project_states() -> None:
    base = {normal(r) for r in PROJECT["project"]["dependencies"]}
    extras = {normal(r) for group in PROJECT["project"]["optional-dependencies"].values() for r in group}
    dev = {normal(r) for r in PROJECT["dependency-groups"]["dev"]}
    build = {"hatchling", "editables", "setuptools"}
    assert base | build <= pinned("demo")
    assert (base | extras | dev | build) - {"steadfeed"} <= pinned("all")
    assert pinned("demo") <= pinned("all")


def test_the_environment_tool_can_be_read_by_an_old_python() -> None:
    source = (ROOT / "tools/environment.py").read_text(encoding="utf-8")
    ast.parse(source, feature_version=(3, 4))
    assert not re.search(r"\bf[\"']", source)


def run_tool(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    monkeypatch.setattr(sys, "argv", ["environment.py", *arguments])
    with pytest.raises(SystemExit) as stopped:
        environment.main()
    assert stopped.value.code == 1
    err = capsys.readouterr().err
    assert err.count("\n") == 1
    return err


def test_an_old_python_is_one_sentence(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.setattr(sys, "version_info", (3, 9, 2, "final", 0))
    assert "needs Python 3.11 or newer" in run_tool(monkeypatch, capsys, "demo")


def test_a_wrong_name_is_one_sentence(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    assert "demo|all" in run_tool(monkeypatch, capsys, "everything")


def test_a_missing_venv_module_is_one_sentence(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    monkeypatch.setattr(environment, "ENVIRONMENT", str(tmp_path / ".venv"))
    monkeypatch.setitem(sys.modules, "ensurepip", None)
    with pytest.raises(SystemExit):
        environment.create()
    err = capsys.readouterr().err
    assert err.count("\n") == 1
    assert "python3-venv" in err
    assert not (tmp_path / ".venv").exists()


def test_a_failed_install_leaves_no_stamp(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    made = tmp_path / ".venv"
    monkeypatch.setattr(environment, "ENVIRONMENT", str(made))
    monkeypatch.setattr(environment, "create", made.mkdir)
    monkeypatch.setattr(environment, "usable", lambda: False)
    monkeypatch.setattr(environment.subprocess, "call", lambda *_, **__: 1)
    monkeypatch.setattr(sys, "argv", ["environment.py", "demo"])
    with pytest.raises(SystemExit):
        environment.main()
    assert "check the network" in capsys.readouterr().err.splitlines()[-1]
    assert list(made.iterdir()) == []


def test_an_environment_is_made_once_and_again_when_its_list_changes(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    made = tmp_path / ".venv"
    calls: list[list[str]] = []
    hashes = {"demo": "one", "all": "two"}
    monkeypatch.setattr(environment, "ENVIRONMENT", str(made))
    monkeypatch.setattr(environment, "create", made.mkdir)
    monkeypatch.setattr(environment, "usable", made.exists)
    monkeypatch.setattr(environment, "python", lambda: str(made))
    monkeypatch.setattr(environment, "wanted", hashes.__getitem__)
    monkeypatch.setattr(environment.subprocess, "call", lambda command, **_: calls.append(command) or 0)

    def make(name: str) -> int:
        monkeypatch.setattr(sys, "argv", ["environment.py", name])
        environment.main()
        return len(calls)

    assert make("demo") == 2  # the list, then steadfeed itself
    assert "--require-hashes" in calls[0]
    assert calls[1][-4:] == ["--no-build-isolation", "--no-deps", "-e", "."]
    assert make("demo") == 2
    assert make("all") == 4
    assert make("demo") == 4  # all holds demo
    hashes["all"] = "three"
    assert make("all") == 6
    capsys.readouterr()


def test_ci_runs_check_and_test_with_nothing_skipped() -> None:
    script = (ROOT / ".ci/run").read_text(encoding="utf-8")
    assert (ROOT / ".ci/run").stat().st_mode & 0o111
    assert "CI=true" in script
    assert re.search(r"^make check$", script, re.MULTILINE)
    assert re.search(r"^make test", script, re.MULTILINE)
