"""What is built and shipped: sizes, addresses, the lock file, the catalog, the generated client."""

from __future__ import annotations

import gzip
import json
import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest

from steadfeed.visit.sentences import LONGEST

ROOT = Path(__file__).parents[2]
WEBAPP = ROOT / "webapp"
#: Texts in the help, for customers and about pairing: paragraphs, no screen sentences.
PARAGRAPHS = ("help.", "offline.", "customer.", "pair.how")
#: Arguments as long as they come.
LONG = {
    "place": "", "time": "12 min 10 s", "count": "214", "of": "10", "done": "10", "left": "5 h 10 min", "test": "26 min", "value": "−120",
    "low": "−140", "high": "120", "seconds": "12", "number": "10", "what": "Baseline 2", "share": "¾", "speed": "60", "rise": "18.0 °F", "at": "445",
    "who": "technician", "points": "100", "most": "100", "day": "30 Nov 2025", "name": "c2", "minutes": "10", "act": "Spot readings", "verdict": "regulating",
    "source": "", "phase": "", "numbers": "",
}  # fmt: skip


@pytest.fixture(scope="module")
def words() -> dict[str, dict[str, str]]:
    found: dict[str, dict[str, str]] = json.loads((WEBAPP / "src/words/sentences.json").read_text())
    return found


def test_every_sentence_is_there_in_both_languages(words: dict[str, dict[str, str]]) -> None:
    assert len(words) > 400
    for code, texts in words.items():
        assert set(texts) == {"en", "es"}, code
        assert all(texts.values()), code
        slots = [sorted(re.findall(r"\{(\w+)\}", text)) for text in texts.values()]
        assert slots[0] == slots[1], code


def test_sentences_fit_the_screen(words: dict[str, dict[str, str]]) -> None:
    long = {
        f"{code} ({language}): {filled}"
        for code, texts in words.items()
        for language, text in texts.items()
        if not code.startswith(PARAGRAPHS) and len(filled := re.sub(r"\{(\w+)\}", lambda m: LONG[m[1]], text)) > LONGEST
    }
    assert long == set()


def test_every_code_in_the_sources_is_in_the_catalog(words: dict[str, dict[str, str]]) -> None:
    used: set[str] = set()
    for path in [*WEBAPP.rglob("src/**/*.svelte"), *WEBAPP.rglob("src/**/*.ts")]:
        used |= set(re.findall(r"\bt\(\s*[\"']([^\"'`$]+)[\"']", path.read_text()))
    assert len(used) > 250
    assert used - set(words) == set()


def test_the_lock_file_names_no_registry() -> None:
    text = (WEBAPP / "package-lock.json").read_text()
    assert '"resolved"' not in text
    assert "registry" not in text
    assert len(json.loads(text)["packages"]) > 20
    assert (WEBAPP / ".npmrc").read_text().splitlines()[0] == "omit-lockfile-registry-resolved=true"


def test_app_is_small(built_app: Path) -> None:
    """Gzipped, without fonts: what one person loads is the whole app with the words of one language, at most 120 kB."""
    sizes = {
        path.name: len(gzip.compress(path.read_bytes(), 9))
        for path in built_app.rglob("*")
        if path.is_file() and path.suffix in {".js", ".css", ".html", ".webmanifest", ".svg"}
    }
    languages = [next(size for name, size in sizes.items() if name.startswith(f"{code}-")) for code in ("en", "es")]
    one_language = sum(sizes.values()) - min(languages)
    first = sum(size for name, size in sizes.items() if re.match(r"(index|app-|en-)", name))
    assert 50_000 < one_language <= 120_000, sizes
    assert sum(sizes.values()) <= 132_000, sizes
    assert 20_000 < first <= 50_000, "what the first screen waits for"


def test_app_asks_no_other_server(built_app: Path) -> None:
    allowed = ("http://www.w3.org/", "https://svelte.dev/e/")
    for path in built_app.rglob("*"):
        if path.suffix in {".js", ".css", ".html", ".webmanifest", ".svg"}:
            found = [a for a in re.findall(r"https?://[\w.-]+/?[\w/]*", path.read_text()) if not a.startswith(allowed)]
            assert found == [], path.name


def test_client_is_generated_from_the_api(tmp_path: Path) -> None:
    """schema.d.ts is what openapi-typescript makes of the document that the server publishes now."""
    if shutil.which("npm") is None or not (WEBAPP / "node_modules").is_dir():
        pytest.skip("node generates the client; it is not installed")
    from browser.openapi_document import document

    (tmp_path / "openapi.json").write_text(json.dumps(document()))
    made = subprocess.run(
        ["npx", "--no-install", "openapi-typescript", tmp_path / "openapi.json", "-o", tmp_path / "schema.d.ts"],
        cwd=WEBAPP, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert made.returncode == 0, made.stderr
    assert (tmp_path / "schema.d.ts").read_text() == (WEBAPP / "src/api/schema.d.ts").read_text()


def test_types_hold() -> None:
    if shutil.which("npm") is None or not (WEBAPP / "node_modules").is_dir():
        pytest.skip("node checks the types; it is not installed")
    done = subprocess.run(["npm", "run", "--silent", "check"], cwd=WEBAPP, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout[-2000:]
    assert "0 errors" in done.stdout


def test_hook_leaves_editable_installs_alone(app_build: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("hatchling")
    hook = app_build.AppBuildHook.__new__(app_build.AppBuildHook)
    monkeypatch.setattr(app_build, "build", lambda say: pytest.fail("an editable install was built"))
    data: dict[str, Any] = {"artifacts": []}
    hook.initialize("editable", data)
    assert data["artifacts"] == []


def test_without_node_the_package_has_no_app(app_build: Any, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(app_build, "BUILT", tmp_path / "app")
    monkeypatch.setattr(app_build.shutil, "which", lambda name: None)
    said: list[str] = []
    assert app_build.build(said.append) is False
    assert said == ["npm was not found: the package is made without the phone app"]


def test_same_sources_are_not_built_again(built_app: Path, app_build: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(app_build.subprocess, "run", lambda *a, **k: pytest.fail("it was built again"))
    assert app_build.build(lambda text: None) is True


def test_a_changed_source_changes_the_hash(app_build: Any, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    before = app_build.source_hash()
    extra = tmp_path / "extra.ts"
    extra.write_text("1")
    files = app_build.source_files()
    monkeypatch.setattr(app_build, "ROOT", Path("/"))
    monkeypatch.setattr(app_build, "source_files", lambda: [*files, extra])
    assert app_build.source_hash() != before
