"""A whole challenge on the bench through the real server and a real browser: from an empty store to the PDF."""

from __future__ import annotations

import io
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from browser.real import RealServer

PHONE = {"width": 390, "height": 844}
#: What a first practice may cost from the opened page to a judged sample.
MOST_TAPS = 10


@pytest.fixture
def server(built_app: Path, tmp_path: Path) -> Iterator[RealServer]:
    made = RealServer(tmp_path)
    yield made
    made.stop()


def opened(browser: Any, server: RealServer, *, slow: bool = False, link: str | None = None) -> Any:
    context = browser.new_context(viewport=PHONE, accept_downloads=True)
    page = context.new_page()
    if slow:
        context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": 6})
    page.goto(link or server.link)
    page.locator("h1").wait_for()
    return page


def state(page: Any) -> dict[str, Any]:
    found: dict[str, Any] = page.evaluate(
        "async () => (await fetch('/api/v1/challenges/' + location.hash.split('/')[2])).json()"
    )
    return found


class Hands:
    """Taps what the main button says, as the guide wants it, and counts."""

    def __init__(self, page: Any) -> None:
        self.page, self.taps = page, 0

    def tap(self, name: str) -> None:
        self.page.get_by_role("button", name=name, exact=True).click()
        self.taps += 1

    def main(self) -> None:
        self.page.locator(".main-button").click()
        self.taps += 1

    def follow(self, *, until: str, seconds: float = 150.0) -> dict[str, Any]:
        """Do what the guide says until a phase is reached, or the result stands there."""
        deadline = time.monotonic() + seconds
        while time.monotonic() < deadline:
            if "/result/" in self.page.url:
                return {}
            now = state(self.page)
            if now["phase"] == until:
                return now
            button = now["button"]
            early = button and button["act"] == "airflow is restored" and not _may_restore(now)
            if button and button["enabled"] and not early and self.page.locator(".main-button").is_enabled():
                self.main()
                self.page.wait_for_timeout(500)
            self.page.wait_for_timeout(150)
        raise AssertionError(f"stuck in {state(self.page)['phase']}: {self.page.inner_text('h1')}")


def _may_restore(now: dict[str, Any]) -> bool:
    code = now["sentence"]["code"]
    return code.startswith(("enough", "hold.long", "restore", "alarm")) or now["evidence"]["enough"]


@pytest.mark.parametrize("slow", [False, pytest.param(True, marks=pytest.mark.full)])
def test_from_an_empty_store_to_the_pdf(browser: Any, server: RealServer, slow: bool) -> None:
    """On a phone's page, with FULL=1 also slowed 6×. The bench's unit regulates (its scenario says so in its truth file)."""
    from pypdf import PdfReader

    page = opened(browser, server, slow=slow)
    broken: list[str] = []
    page.on("pageerror", lambda error: broken.append(str(error)))
    hands = Hands(page)
    hands.tap("Practise now")
    page.wait_for_url("**/#/challenge/*")
    hands.follow(until="result")
    page.wait_for_url("**/#/result/*", timeout=60_000)
    page.get_by_role("button", name="Save", exact=True).wait_for(timeout=60_000)
    assert hands.taps <= MOST_TAPS
    assert "regulates" in page.inner_text("h1")
    assert page.get_by_role("heading", name="Valid because").is_visible()
    with page.expect_download() as fetched:
        page.get_by_role("button", name="Save", exact=True).click()
    pdf = Path(fetched.value.path()).read_bytes()
    text = "".join(sheet.extract_text() for sheet in PdfReader(io.BytesIO(pdf)).pages)
    assert "regulates" in text
    assert "Feed held" in text
    page.get_by_role("button", name="What is wrong with it?").click()
    page.get_by_role("button", name="regulating", exact=True).click()
    page.locator("#cause").select_option(index=1)
    page.get_by_role("button", name="This is my answer").click()
    page.get_by_role("heading", name="What it was").wait_for()
    page.get_by_role("button", name="Replay").click()
    page.locator(".strip canvas").wait_for()
    assert broken == []


@pytest.mark.full
def test_reload_and_kill_in_mid_challenge(browser: Any, server: RealServer) -> None:
    """A reload goes on where it was. A server killed during the push is an alarm at once: restore the airflow."""
    page = opened(browser, server)
    hands = Hands(page)
    hands.tap("Practise now")
    page.wait_for_url("**/#/challenge/*")
    hands.follow(until="push")
    before = page.evaluate(
        "async () => (await (await fetch('/api/v1/challenges/' + location.hash.split('/')[2] + '/readings')).json()).rows.length"
    )
    page.reload()
    page.locator(".strip canvas").wait_for()
    assert before > 50
    assert state(page)["phase"] in ("push", "hold")
    server.kill()
    page.get_by_role("heading", name="Link lost").wait_for(timeout=20_000)
    assert page.locator(".shell.alarm").count() == 1
    server.start()
    # the bench lives in the server's memory: it is gone, and the screen says so instead of guarding on
    page.get_by_role("heading", name="This challenge is not here.").wait_for(timeout=40_000)
    assert page.locator(".shell.alarm").count() == 0
    assert "This practice is over" in page.inner_text(".say")
    page.get_by_role("button", name="Back").click()
    page.get_by_role("heading", name="Which unit do you want to test?").wait_for()


def test_two_devices_on_one_visit(browser: Any, server: RealServer) -> None:
    """A second device joins by an invitation, sees the same challenge move, and its mark stands on the first one's chart."""
    page = opened(browser, server)
    hands = Hands(page)
    hands.tap("Practise now")
    page.wait_for_url("**/#/challenge/*")
    challenge = page.url.split("#")[1]
    invitation = page.evaluate(
        "async () => (await fetch('/api/v1/devices/invitations', { method: 'POST', headers: { 'content-type': 'application/json' }, body: '{\"role\": \"technician\"}' })).json()"
    )
    assert len(invitation["link"].split("/pair/")[1]) >= 22  # 128 bits in 64 signs
    other = opened(browser, server, link=invitation["link"])
    other.get_by_role("button", name="Practise now").wait_for()
    assert "pair/" not in other.url
    other.evaluate("localStorage.setItem('steadfeed settings', JSON.stringify({ first_run_done: true }))")
    other.goto(server.address + "#" + challenge)
    other.reload()
    other.locator("h1").wait_for()
    hands.follow(until="baseline")
    other.wait_for_timeout(1500)
    assert state(other)["phase"] in ("baseline", "plan")
    assert len(state(page)["devices"]) == 2
    other.get_by_role("button", name="Mark", exact=True).click()
    deadline = time.monotonic() + 10
    while not any(m["event"] == "note" for m in state(page)["marks"]) and time.monotonic() < deadline:
        page.wait_for_timeout(200)
    assert sum(m["event"] == "note" for m in state(page)["marks"]) == 1


def test_wrong_and_reused_tokens(browser: Any, server: RealServer) -> None:
    page = opened(browser, server)
    again = browser.new_context().new_page()
    answer = again.goto(server.link)
    assert answer.status == 401
    assert "used already" in again.inner_text("body")
    fresh = browser.new_context(viewport=PHONE).new_page()
    fresh.goto(server.address + "#/pair/" + "x" * 43)
    fresh.get_by_role("heading", name="This link was used already").wait_for()
    page.context.close()


def test_foreign_host_and_origin(server: RealServer) -> None:
    import http.client

    def ask(method: str, path: str, **headers: str) -> int:
        link = http.client.HTTPConnection("127.0.0.1", server.port, timeout=10)
        link.request(method, path, headers={"Host": f"localhost:{server.port}", **headers})
        status = link.getresponse().status
        link.close()
        return status

    own = f"http://localhost:{server.port}"
    assert ask("GET", "/") == 200
    assert ask("GET", "/", Host="evil.example") == 421
    assert ask("GET", "/api/v1/devices") == 401
    assert ask("POST", "/api/v1/devices/invitations", Origin="http://evil.example") == 403
    assert ask("POST", "/api/v1/devices/invitations") == 403
    assert ask("POST", "/api/v1/devices/invitations", Origin=own) == 401
