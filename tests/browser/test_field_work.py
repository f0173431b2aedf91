"""What a hand does beside the test itself, against the real server: voice notes, photos with words, a visit handed over,
places of sensors, a long history.

The microphone is Chromium's own fake device (a beep); Chromium on Linux has no reader of codes, so a stand-in hands over
what ZXing read off the screen.
"""

from __future__ import annotations

import io
import json
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from browser import double as stand_in
from browser.conftest import Serving, free_port
from pictures import photo_with_location
from steadfeed.web.app import create_app
from steadfeed.web.gate import localhost
from steadfeed.web.serving import session_file
from steadfeed.web.sessions import SessionBook

PHONE = {"width": 390, "height": 844}


class Rig:
    """A real server in this process and a page of a phone on it."""

    def __init__(self, browser: Any, folder: Path, **context: Any) -> None:
        from steadfeed.visit.station import Station

        port = free_port()
        self.station = Station(str(folder / "records.db"))
        self.book = SessionBook(session_file(self.station.folder), time.time)
        self.serving = Serving(create_app(self.station, self.book, localhost(port)), port)
        self.context = browser.new_context(viewport=PHONE, service_workers="block", **context)
        self.page = self.context.new_page()
        self.page.set_default_timeout(20_000)

    def open(self) -> Any:
        self.page.goto(f"{self.serving.address}open?token={self.book.mint()}")
        self.page.evaluate("localStorage.setItem('steadfeed settings', JSON.stringify({ first_run_done: true }))")
        self.page.reload()
        self.page.locator("h1").wait_for()
        return self.page

    def ask(self, method: str, path: str, body: Any = None) -> Any:
        return self.page.evaluate(
            """async ([method, path, body]) => (await fetch('/api/v1' + path, { method, ...(body ? { body: JSON.stringify(body),
            headers: { 'content-type': 'application/json' } } : {}) })).json()""",
            [method, path, body],
        )

    def visit(self) -> str:
        unit = self.ask("POST", "/units", {"tag": "Roof 5", "site": {"name": "Alder Street bakery"}, "circuits": [{"refrigerant": "R-410A", "metering_device": "txv"}]})  # fmt: skip
        return str(self.ask("POST", "/visits", {"unit_id": unit["id"], "complaint": "warm"})["id"])

    def close(self) -> None:
        self.context.close()
        self.serving.stop()
        self.station.close()


@pytest.fixture
def rig(browser: Any, tmp_path: Path) -> Iterator[Rig]:
    made = Rig(browser, tmp_path, accept_downloads=True)
    yield made
    made.close()


def tap(page: Any, name: str) -> None:
    page.get_by_role("button", name=name, exact=True).click()


def until(rig: Rig, path: str, wanted: Any, seconds: float = 20.0) -> Any:
    """Ask again until something holds."""
    deadline = time.monotonic() + seconds
    while True:
        found = rig.ask("GET", path)
        if wanted(found):
            return found
        assert time.monotonic() < deadline, found
        time.sleep(0.2)


def test_a_voice_note_is_recorded_kept_and_played(browser: Any, rig: Rig) -> None:
    rig.context.grant_permissions(["microphone"])
    page = rig.open()
    visit = rig.visit()
    page.goto(f"{rig.serving.address}#/visit/{visit}")
    tap(page, "Voice note")
    page.get_by_role("heading", name="Recording").wait_for()
    page.wait_for_timeout(2200)
    tap(page, "Stop and keep")
    page.get_by_text("Voice note kept").wait_for()
    kept = until(rig, f"/visits/{visit}", lambda v: v["attachments"])["attachments"][0]
    assert kept["kind"] == "voice note"
    assert kept["media"] == "audio/webm"
    assert kept["size"] > 2000
    assert kept["text"].endswith(" s")
    page.reload()
    note = page.locator(".rows button", has_text="Voice note")
    note.click()
    note.get_by_text("Stop").wait_for()
    note.get_by_text("Play").wait_for()  # at its end
    assert page.get_by_text("cannot be played").count() == 0
    # thrown away within the time of the undo, it never reaches the server
    tap(page, "Voice note")
    page.get_by_role("heading", name="Recording").wait_for()
    page.wait_for_timeout(1200)
    tap(page, "Stop and keep")
    page.get_by_role("button", name="Undo").click()
    page.wait_for_timeout(14_000)
    assert len(rig.ask("GET", f"/visits/{visit}")["attachments"]) == 1


def test_a_forbidden_microphone_is_said_in_a_sentence(rig: Rig) -> None:
    page = rig.open()
    visit = rig.visit()
    page.add_init_script(
        "navigator.mediaDevices.getUserMedia = () => Promise.reject(new DOMException('no', 'NotAllowedError'))"
    )
    page.goto(f"{rig.serving.address}#/visit/{visit}")
    page.reload()
    tap(page, "Voice note")
    page.get_by_text("The microphone is forbidden here").wait_for()
    assert page.locator(".main-button").is_enabled()


def test_a_photo_gets_its_words(rig: Rig, tmp_path: Path) -> None:
    page = rig.open()
    visit = rig.visit()
    (tmp_path / "ice.jpg").write_bytes(photo_with_location())
    page.goto(f"{rig.serving.address}#/visit/{visit}")
    page.locator("input[type=file]").set_input_files(tmp_path / "ice.jpg")
    page.get_by_label("What does it show?").fill("Ice on the suction line")
    assert rig.ask("GET", f"/visits/{visit}")["attachments"] == []
    tap(page, "Keep with these words")
    kept = until(rig, f"/visits/{visit}", lambda v: v["attachments"])["attachments"]
    assert [(one["kind"], one["text"]) for one in kept] == [("photo", "Ice on the suction line")]
    page.reload()
    page.get_by_text("Ice on the suction line").wait_for()


def test_a_visit_goes_to_another_phone_as_a_file(browser: Any, rig: Rig, tmp_path: Path) -> None:
    page = rig.open()
    visit = rig.visit()
    page.goto(f"{rig.serving.address}#/visit/{visit}")
    tap(page, "More")
    page.get_by_role("button", name="Hand over").click()
    page.get_by_label("Your name").fill("Ines Calloway")
    page.get_by_label("Who takes it").fill("Bram Osterhoudt")
    with page.expect_download() as fetched:
        tap(page, "Make the file")
    assert fetched.value.suggested_filename.endswith(".handover")
    page.get_by_role("heading", name="The file is in your downloads.").wait_for()
    (tmp_path / "other").mkdir()
    other = Rig(browser, tmp_path / "other")
    try:
        taken = other.open()
        taken.goto(f"{other.serving.address}#/take-over")
        taken.get_by_label("Your name").fill("Bram Osterhoudt")
        (tmp_path / "groceries.txt").write_text("bread")
        taken.locator("input[type=file]").set_input_files(tmp_path / "groceries.txt")
        taken.get_by_text("This is no hand-over of a visit").wait_for()
        taken.locator("input[type=file]").set_input_files(fetched.value.path())
        tap(taken, "Open the visit")
        taken.get_by_text("Alder Street bakery").wait_for()
        assert other.ask("GET", f"/visits/{visit}")["visit"]["complaint"] == "warm"
    finally:
        other.close()


def test_a_visit_goes_to_another_phone_by_codes_off_the_screen(browser: Any, rig: Rig, tmp_path: Path) -> None:
    import zxingcpp
    from PIL import Image

    page = rig.open()
    visit = rig.visit()
    page.goto(f"{rig.serving.address}#/hand-over/{visit}")
    page.get_by_label("Your name").fill("Ines Calloway")
    page.get_by_label("Who takes it").fill("Bram Osterhoudt")
    tap(page, "Show codes")
    page.locator("img.code").wait_for()
    texts: set[str] = set()
    deadline = time.monotonic() + 40
    while time.monotonic() < deadline:
        shot = Image.open(io.BytesIO(page.locator("img.code").screenshot()))
        for found in zxingcpp.read_barcodes(shot):
            texts.add(found.text)
        if texts and len(texts) == int(next(iter(texts)).split("/")[1].split(":")[0]):
            break
        page.wait_for_timeout(150)
    assert len(texts) >= 2
    (tmp_path / "other").mkdir()
    other = Rig(browser, tmp_path / "other", permissions=["camera"])
    try:
        other.page.add_init_script(
            f"""const all = {json.dumps(sorted(texts))}; let at = 0;
            globalThis.BarcodeDetector = class {{ async detect() {{ return [{{ rawValue: all[at++ % all.length] }}]; }} }};"""
        )
        taken = other.open()
        taken.goto(f"{other.serving.address}#/take-over")
        taken.get_by_label("Your name").fill("Bram Osterhoudt")
        tap(taken, "Read codes")
        tap(taken, "Open the visit")
        assert other.ask("GET", f"/visits/{visit}")["visit"]["complaint"] == "warm"
    finally:
        other.close()


def test_spot_readings_from_their_place_to_a_cause(rig: Rig) -> None:
    """Little subcooling with much superheat: too little charge is among the causes (trade handbooks)."""
    page = rig.open()
    visit = rig.visit()
    page.goto(f"{rig.serving.address}#/spot/{visit}")
    tap(page, "Where?")
    page.get_by_role("img", name="Side view").wait_for()
    page.get_by_role("button", name="3 Suction line").click()
    assert (
        page.evaluate("document.activeElement.closest('[data-channel]').dataset.channel") == "suction_line_temperature"
    )
    page.keyboard.type("66")
    for label, value in (("1 Suction pressure", "95"), ("2 Head pressure", "300"), ("4 Liquid line", "94"), ("10 Liquid line before", "92")):  # fmt: skip
        page.get_by_label(label).fill(value)
    tap(page, "What do they say?")
    page.get_by_text("Where this comes from").first.wait_for()
    assert page.get_by_text("for", exact=True).count() >= 1
    spots = rig.ask("GET", f"/visits/{visit}")["spots"]
    assert {v["channel"]: v["value"] for v in spots[0]["values"]}["metering_inlet_temperature"] == "92"


def test_a_long_history_comes_in_pages(browser: Any, double: Any) -> None:
    context = browser.new_context(viewport=PHONE, service_workers="block")
    context.add_init_script("localStorage.setItem('steadfeed settings', JSON.stringify({ first_run_done: true }))")
    page = context.new_page()
    double.long = True
    try:
        page.goto(f"{double.address}#/unit/{stand_in.UNIT}")
        page.get_by_role("heading", name="Feed held, test by test").wait_for()
        assert page.locator(".history").count() == 12
        page.get_by_role("button", name="Earlier ones (28)").first.click()
        assert page.locator(".history").count() == 24
    finally:
        double.long = False
        context.close()


def test_records_come_in_pages(rig: Rig) -> None:
    page = rig.open()
    unit = rig.ask("POST", "/units", {"tag": "Roof 5", "circuits": [{"refrigerant": "R-410A"}]})["id"]
    for number in range(45):
        rig.ask("POST", "/visits", {"unit_id": unit, "complaint": f"visit {number}", "another": True, "at": 1.6e9 + 1e5 * number})  # fmt: skip
    page.goto(f"{rig.serving.address}#/records")
    page.get_by_role("heading", name="The latest 40 visits.").wait_for()
    tap(page, "Earlier visits")
    page.get_by_role("heading", name="Visits found: 45").wait_for()
    assert page.locator(".rows .row").count() == 45
