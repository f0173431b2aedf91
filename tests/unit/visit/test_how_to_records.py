"""The commands on the how-to pages of the records do what the pages say."""

from __future__ import annotations

import re
import shlex
import shutil
from pathlib import Path

import pytest
from PIL import Image

from steadfeed.cli.root import run
from stores import new_setting

ROOT = Path(__file__).parents[3]
PAGES = ("keep-records", "back-up", "company-store")


def commands(page: str) -> list[list[str]]:
    """Every steadfeed command of a page's console blocks, continued lines joined, comments cut off."""
    text = (ROOT / "docs" / "how-to" / f"{page}.md").read_text("utf-8")
    found = []
    for block in re.findall(r"```console\n(.*?)```", text, re.DOTALL):
        for line in block.replace("\\\n", " ").splitlines():
            words = shlex.split(line, comments=True)
            if words and words[0] == "steadfeed":
                found.append(words[1:])
    return found


@pytest.mark.parametrize("page", PAGES)
def test_the_page_can_be_followed(
    page: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    request: pytest.FixtureRequest,
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("STEADFEED_PERSON", "Ines Calloway")
    monkeypatch.setenv("STEADFEED_STORE", "records.db")
    (tmp_path / "backups").mkdir()
    shutil.copy(ROOT / "examples" / "orchard-house.csv", tmp_path / "challenge.csv")
    shutil.copy(ROOT / "examples" / "orchard-house.toml", tmp_path / "challenge.toml")
    (tmp_path / "report.pdf").write_bytes(b"%PDF-1.7")
    Image.new("RGB", (200, 80), "white").save(tmp_path / "signature.png")
    company = new_setting(request, "postgresql", tmp_path) if page == "company-store" else "records.db"
    if page != "keep-records":
        assert run(["unit", "add", "W-01"]) == 0
    if page == "company-store":
        monkeypatch.setenv("STEADFEED_STORE", company)
    done = 0
    for words in commands(page):
        if words[:2] == ["demo", "load"]:
            continue  # tested by itself: it takes its time
        if "demo.db" in words:
            continue
        given = [company if word == "$STEADFEED_STORE" else word for word in words]
        left = run(given)
        out, err = capsys.readouterr()
        assert left == 0, (given, out, err)
        done += 1
    assert done >= 3


def test_the_pages_name_only_options_that_exist() -> None:
    for page in PAGES:
        for words in commands(page):
            assert words[0] in ("unit", "visit", "records", "demo"), words
