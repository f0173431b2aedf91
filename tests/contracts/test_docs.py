"""Docs cannot lie: what people can use is described, and what is described is there."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import click
import pytest

import steadfeed
from steadfeed.analysis.criteria import CRITERIA
from steadfeed.analysis.guard import GUARD
from steadfeed.capture.system_file import key_names
from steadfeed.circuit.channel import CHANNEL_KINDS
from steadfeed.circuit.phase import MARK_EVENTS
from steadfeed.circuit.verdict import REASONS, STATES, UNDECIDED
from steadfeed.cli.root import VERBS, root

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "docs"
sys.path.insert(0, str(ROOT / "tools"))

import reference_pages  # noqa: E402


def page(name: str) -> str:
    return (DOCS / name).read_text(encoding="utf-8")


@pytest.mark.parametrize("path", sorted(reference_pages.pages()), ids=lambda path: path.name)
def test_generated_pages_are_what_the_code_says(path: Path) -> None:
    assert path.read_text(encoding="utf-8") == reference_pages.pages()[path], "run make fix"


def test_every_option_of_every_verb_is_on_the_page() -> None:
    text = page("reference/command-line.md")
    context = click.Context(root, info_name="steadfeed")
    for verb in VERBS:
        command = root.get_command(context, verb)
        assert command is not None
        section = text.split(f"## `steadfeed {verb}`")[1].split("\n## ")[0]
        for parameter in command.params:
            for option in parameter.opts:
                if option.startswith("-"):
                    assert f"`{option}" in section, f"{verb} {option}"


def test_every_option_has_a_help_text() -> None:
    context = click.Context(root, info_name="steadfeed")
    for verb in VERBS:
        command = root.get_command(context, verb)
        assert command is not None
        assert command.help
        for parameter in command.params:
            if isinstance(parameter, click.Option):
                assert parameter.help, f"{verb} {parameter.name}"


def test_every_criterion_is_on_the_page_with_a_source() -> None:
    text = page("reference/criteria.md")
    assert CRITERIA
    assert GUARD
    for name, criterion in {**CRITERIA, **GUARD}.items():
        assert f"| `{name}` |" in text
        assert criterion.text
        assert criterion.source


def test_every_public_name_is_described_and_exists() -> None:
    text = page("reference/python.md")
    described = set(re.findall(r"^\.\. (?:auto\w+|py:data):: steadfeed\.(\w+)", text, re.MULTILINE))
    assert described == set(steadfeed.__all__)


def test_the_stub_names_what_the_package_gives() -> None:
    stub = (ROOT / "src/steadfeed/__init__.pyi").read_text(encoding="utf-8")
    named = {name: home for home, name in re.findall(r"^from (\S+) import \w+ as (\w+)$", stub, re.MULTILINE)}
    assert set(named) == set(steadfeed.__all__)
    for name, home in named.items():
        given = getattr(steadfeed, name)
        assert given is getattr(sys.modules[home], name)
        if callable(given):
            assert given.__doc__, name


def test_the_package_imports_nothing_until_it_is_asked() -> None:
    program = "import sys, steadfeed; print(*sorted(m for m in sys.modules if m.startswith(('steadfeed', 'numpy'))))"
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True, timeout=60)
    assert done.stdout.split() == ["steadfeed"]
    with pytest.raises(AttributeError, match="no attribute 'jugde'"):
        steadfeed.jugde  # noqa: B018
    assert set(steadfeed.__all__) <= set(dir(steadfeed))


def test_every_verdict_and_reason_is_in_the_vocabulary() -> None:
    text = page("vocabulary.md")
    for word in (*STATES, UNDECIDED, *REASONS):
        assert f"| `{word}` |" in text, word


def test_every_channel_is_on_the_page_of_log_files() -> None:
    text = page("reference/log-files.md")
    for channel in CHANNEL_KINDS:
        assert f"`{channel}_`" in text or f"`{channel}`" in text, channel


def test_every_key_is_on_the_page_of_system_files() -> None:
    text = page("reference/system-files.md")
    for table, keys in key_names().items():
        if table and table not in ("marks", "columns"):
            assert f"`[{table}]`" in text
        for key in keys:
            assert f"`{key}`" in text, f"{table} {key}"
    for event in MARK_EVENTS:
        assert f'`"{event}"`' in text


def test_links_between_pages_lead_somewhere() -> None:
    pages = [*DOCS.rglob("*.md"), ROOT / "README.md", ROOT / "CONTRIBUTING.md"]
    assert len(pages) > 10
    for path in pages:
        if "_build" in path.parts:
            continue
        for target in re.findall(r"\]\((?!https?:|#|mailto:)([^)#\s]+)", path.read_text(encoding="utf-8")):
            assert (path.parent / target).exists(), f"{path.name}: {target}"


def test_readme_says_which_system_packages_the_tests_want() -> None:
    packages = re.search(r"^packages=\((.*)\)", (ROOT / ".ci/run").read_text(), re.MULTILINE)
    assert packages is not None
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    for package in packages[1].split():
        assert f"`{package}`" in readme, package


@pytest.mark.full
def test_the_documentation_builds_without_a_warning(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "sphinx", "-W", "--keep-going", "-q", "-b", "html", str(DOCS), str(tmp_path)],
        capture_output=True,
        text=True,
        timeout=280,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "method.html").exists()


def test_the_log_by_hand_of_the_how_to_is_a_valid_test(tmp_path: Path) -> None:
    text = page("how-to/log-by-hand.md")
    log, system = (re.search(rf"```{kind}\n(.*?)```", text, re.DOTALL) for kind in ("text", "toml"))
    assert log is not None
    assert system is not None
    (tmp_path / "unit5.csv").write_text(log[1], encoding="utf-8")
    (tmp_path / "unit5.toml").write_text(system[1], encoding="utf-8")
    (judged,) = steadfeed.judge_log(tmp_path / "unit5.csv")
    assert judged.judgement.assessment.valid, judged.judgement.assessment.reasons
    assert judged.judgement.assessment.verdict == "regulating"


@pytest.mark.parametrize("name", ["judge-a-log", "log-by-hand"])
def test_every_system_file_of_the_how_to_can_be_read(name: str, tmp_path: Path) -> None:
    blocks = re.findall(r"```toml\n(.*?)```", page(f"how-to/{name}.md"), re.DOTALL)
    assert blocks
    for block in blocks:
        (tmp_path / "unit5.toml").write_text(block, encoding="utf-8")
        assert steadfeed.read_system(tmp_path / "unit5.toml").refrigerant == "R-410A"
