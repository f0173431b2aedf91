"""Sentences through a speech command: a real process that takes its time and writes down what it was to say."""

from __future__ import annotations

import sys
import time
from pathlib import Path

import pytest

from steadfeed.visit.speaking import COMMANDS, Speaker, speech_command

PROGRAM = """
import sys, time
log, text = sys.argv[1], sys.argv[2]
with open(log, "a") as file:
    file.write("begun " + text + "\\n"); file.flush()
    time.sleep(0.6)
    file.write("said " + text + "\\n")
"""


def speaker_and_log(folder: Path) -> tuple[Speaker, Path]:
    program, log = folder / "voice.py", folder / "said.txt"
    program.write_text(PROGRAM)
    log.write_text("")
    return Speaker((sys.executable, str(program), str(log))), log


def wait_for(log: Path, line: str, speaker: Speaker | None = None) -> list[str]:
    deadline = time.time() + 20
    while time.time() < deadline:
        if speaker is not None:
            speaker.go_on()
        lines = log.read_text().splitlines()
        if line in lines:
            return lines
        time.sleep(0.05)
    raise AssertionError(f"{line!r} never came: {log.read_text()!r}")


def test_the_newest_sentence_waits_for_its_turn(tmp_path: Path) -> None:
    speaker, log = speaker_and_log(tmp_path)
    speaker.say("one")
    wait_for(log, "begun one")
    speaker.say("two")
    speaker.say("three")
    lines = wait_for(log, "said three", speaker)
    assert lines == ["begun one", "said one", "begun three", "said three"]
    speaker.close()


def test_an_urgent_sentence_cuts_off_what_is_said_and_what_waits(tmp_path: Path) -> None:
    speaker, log = speaker_and_log(tmp_path)
    speaker.say("one")
    wait_for(log, "begun one")
    speaker.say("two")
    speaker.say("RESTORE", urgent=True)
    lines = wait_for(log, "said RESTORE", speaker)
    time.sleep(0.3)
    speaker.go_on()
    assert "said one" not in lines
    assert "begun two" not in log.read_text()
    speaker.again()
    time.sleep(0.3)
    speaker.close()
    assert log.read_text().count("begun RESTORE") == 2


def test_without_a_command_it_is_silent_and_remembers(tmp_path: Path) -> None:
    speaker = Speaker(None)
    speaker.say("anything", urgent=True)
    speaker.go_on()
    speaker.close()
    assert speaker.last == "anything"
    assert not speaker.can_speak
    gone = Speaker((str(tmp_path / "no such command"),))
    gone.say("anything")
    gone.close()


@pytest.mark.parametrize("name", [name for name, _, _ in COMMANDS])
@pytest.mark.parametrize("language", ["en", "es"])
def test_the_first_command_that_is_there_is_taken(name: str, language: str) -> None:
    found = speech_command(language, lambda asked: f"bin/{asked}" if asked == name else None)
    assert found is not None
    assert found[0] == f"bin/{name}"
    assert not any("{" in part for part in found)
    assert speech_command(language, lambda _: None) is None
