"""The root of the command line: verbs, help, and what becomes of every kind of error."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import click
import pytest

from steadfeed.cli import root as cli
from steadfeed.errors import FixInput, SteadfeedError


def steadfeed(*arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """Run the command line as a person would, in a process of its own."""
    return subprocess.run(
        [sys.executable, "-m", "steadfeed", *arguments],
        capture_output=True,
        text=True,
        encoding="utf-8",
        env={**os.environ, **environment},
        timeout=60,
        check=False,
    )


@pytest.fixture
def verb_that(monkeypatch: pytest.MonkeyPatch) -> Callable[[BaseException], None]:
    """Make the verb `judge` raise."""

    def arrange(error: BaseException) -> None:
        @click.command("judge")
        def command() -> None:
            raise error

        monkeypatch.setattr(cli.Verbs, "get_command", lambda self, ctx, name: command)

    return arrange


def test_every_verb_is_a_command_with_the_help_line_of_the_table() -> None:
    context = click.Context(cli.root)
    assert cli.root.list_commands(context) == list(cli.VERBS)
    for verb, line in cli.VERBS.items():
        command = cli.root.get_command(context, verb)
        assert command is not None
        assert command.name == verb
        assert command.get_short_help_str(200) == line


def test_help_names_every_verb(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["--help"]) == 0
    printed = capsys.readouterr().out
    assert all(verb in printed for verb in cli.VERBS)


def test_help_loads_nothing_heavy() -> None:
    program = (
        "import sys; from steadfeed.cli.root import run; run(['--help']); "
        "print('LOADED', *sorted(m for m in sys.modules if '.' not in m or m.startswith('steadfeed')))"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True, timeout=60)
    loaded = set(done.stdout.split("LOADED")[1].split())
    assert "click" in loaded
    assert not loaded & {"numpy", "rich", "typst", "msgspec", "json", "psychrolib", "steadfeed.visit"}


def test_no_arguments_shows_the_help_and_is_bad_usage() -> None:
    done = steadfeed()
    assert done.returncode == 2
    assert "Usage: steadfeed" in done.stderr + done.stdout


@pytest.mark.parametrize(
    ("arguments", "expected"),
    [
        (["jugde"], "did you mean judge?"),
        (["frobnicate"], "there are judge,"),
        (["--verion"], "--version"),
        (["saturation"], "see steadfeed saturation --help"),
        (["saturation", "R-410A", "--preure", "1"], "--pressure"),
        (["saturation", "R-410A"], "Give either --pressure or --temperature"),
        (["judge"], "see steadfeed judge --help"),
    ],
)
def test_bad_usage_is_one_sentence(arguments: list[str], expected: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(arguments) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert expected in err
    assert len(err.strip().splitlines()) == 1


def test_an_error_of_ours_is_its_sentence(
    verb_that: Callable[[BaseException], None], capsys: pytest.CaptureFixture[str]
) -> None:
    verb_that(FixInput("The file x.csv is empty"))
    assert cli.run(["judge"]) == 2
    assert capsys.readouterr().err == "The file x.csv is empty.\n"


def test_an_unexpected_error_is_one_sentence_that_says_how_to_report(
    verb_that: Callable[[BaseException], None], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv(cli.TRACE_VARIABLE, raising=False)
    verb_that(ZeroDivisionError("division by zero"))
    assert cli.run(["judge"]) == 1
    err = capsys.readouterr().err
    assert len(err.strip().splitlines()) == 1
    assert "ZeroDivisionError" in err
    assert cli.TRACE_VARIABLE in err


def test_trace_is_shown_on_request(
    verb_that: Callable[[BaseException], None], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(cli.TRACE_VARIABLE, "1")
    verb_that(ZeroDivisionError("division by zero"))
    assert cli.run(["judge"]) == 1
    assert "Traceback" in capsys.readouterr().err


def test_ctrl_c_is_clean(verb_that: Callable[[BaseException], None], capsys: pytest.CaptureFixture[str]) -> None:
    verb_that(KeyboardInterrupt())
    assert cli.run(["judge"]) == 130
    assert "Traceback" not in capsys.readouterr().err


@pytest.mark.skipif(os.name == "nt", reason="pipes of POSIX")
def test_a_reader_that_goes_away_is_clean() -> None:
    program = f"{sys.executable} -m steadfeed refrigerants --json | head -c 1; echo ${{PIPESTATUS[0]}}"
    done = subprocess.run(
        ["bash", "-c", program], capture_output=True, text=True, timeout=60, check=True, env={**os.environ}
    )
    assert done.stdout.startswith("[")
    assert done.stdout[1:].strip() in ("0", "141")  # 0 when all fitted into the pipe before the reader left
    assert done.stderr == ""


def test_output_that_the_terminal_cannot_write_is_replaced() -> None:
    done = steadfeed("saturation", "R-410A", "--pressure", "118", PYTHONIOENCODING="ascii")
    assert done.returncode == 0, done.stderr
    assert "R-410A" in done.stdout


def test_version_names_code_and_method() -> None:
    import steadfeed as package

    done = steadfeed("--version")
    assert done.returncode == 0, done.stderr
    assert done.stdout == f"steadfeed {package.__version__}, method {package.method_version()}\n"


def test_every_error_of_ours_is_an_exception_with_one_sentence() -> None:
    error = SteadfeedError("Something is wrong", where="row 3")
    assert (error.message, error.where, error.code) == ("Something is wrong", "row 3", "error")


def test_the_package_runs_as_a_module_from_anywhere(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "steadfeed", "--help"], capture_output=True, text=True, cwd=tmp_path, check=False
    )
    assert done.returncode == 0, done.stderr
    assert "judge" in done.stdout
