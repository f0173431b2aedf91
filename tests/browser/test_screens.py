"""Every screen and state in both schemes, sizes and languages: nothing hangs over the edge, nothing breaks WCAG rules.

Accessibility is judged by axe-core (WCAG 2.2 A and AA, and the AAA rule of contrast 7:1). The readings are of the example
log, everything else on these screens is invented (double.py).
"""

from __future__ import annotations

import itertools
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from browser import double as stand_in

ROOT = Path(__file__).parents[2]
SIZES = {"phone": (390, 844), "tab": (390, 664), "desk": (1280, 800)}
SCREENS = {
    "first": "#/today",
    "today": "#/today",
    "find": "#/find",
    "new-unit": "#/new-unit",
    "unit": f"#/unit/{stand_in.UNIT}",
    "visit": f"#/visit/{stand_in.VISIT}",
    "spot": f"#/spot/{stand_in.VISIT}",
    "hand-over": f"#/hand-over/{stand_in.VISIT}",
    "take-over": "#/take-over",
    "result": "#/result/0198c0de-0000-7000-8000-100000000001",
    "practice": "#/practice",
    "answer": "#/answer/p",
    "instruments": "#/instruments",
    "records": "#/records",
    "settings": "#/settings",
    "help": "#/help",
    "more": "#/more",
    "saved": "#/saved",
    "devices": "#/devices",
    "pair": "#/pair",
    **{f"challenge, {name}": f"#/challenge/{stand_in.challenge_id(name)}" for name in stand_in.NAMES},
}
#: Screens whose empty state differs.
EMPTY = ("today", "find", "unit", "result", "practice", "instruments", "records")
#: Two always, in which every size, scheme and language comes once; all eight with FULL=1.
ALWAYS = (("phone", "paper", "en"), ("desk", "dark", "es"))
COMBINATIONS = [
    pytest.param(*one, marks=() if one in ALWAYS else pytest.mark.full)
    for one in itertools.product(("phone", "desk"), ("paper", "dark"), ("en", "es"))
]
OVER_THE_EDGE = """() => [...document.querySelectorAll('body *')].filter((e) => {
  const r = e.getBoundingClientRect(), s = getComputedStyle(e);
  if (!r.width || s.position === 'absolute' || e.closest('svg, .photos, .hidden')) return false;
  return r.right > innerWidth + 1 || r.left < -1 || (e.tagName === 'BUTTON' && e.scrollWidth > e.clientWidth + 1);
}).map((e) => e.tagName + '.' + e.className + ': ' + e.textContent.trim().slice(0, 60))"""
TOO_SMALL = """(least) => [...document.querySelectorAll('button, select, input:not(.hidden), textarea, a')].filter((e) => {
  const r = e.getBoundingClientRect();
  return r.width && getComputedStyle(e).visibility !== 'hidden' && (r.height < least - 6.5 || r.width < 44);
}).map((e) => e.textContent.trim().slice(0, 40) + ' ' + JSON.stringify(e.getBoundingClientRect()))"""
SMALL_TEXT = """() => [...document.querySelectorAll('body *')].filter((e) => [...e.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim())
  && e.getBoundingClientRect().width && parseFloat(getComputedStyle(e).fontSize) < 18 && !e.closest('noscript'))
  .map((e) => e.textContent.trim().slice(0, 40))"""


@pytest.fixture(scope="module")
def axe() -> str:
    file = ROOT / "webapp/node_modules/axe-core/axe.min.js"
    if not file.is_file():
        pytest.skip("axe-core is not installed")
    return file.read_text()


def opened(browser: Any, double: Any, screen: str, **settings: Any) -> Iterator[Any]:
    size = SIZES[settings.pop("size", "phone")]
    context = browser.new_context(
        viewport={"width": size[0], "height": size[1]}, service_workers="block", bypass_csp=True
    )
    kept = {
        "first_run_done": screen != "first",
        "scheme": "paper",
        "language": "en",
        "units": "us",
        "altitude": 120,
        **settings,
    }
    context.add_init_script(
        f"localStorage.getItem('steadfeed settings') || localStorage.setItem('steadfeed settings', {json.dumps(json.dumps(kept))})"
    )
    page = context.new_page()
    broken: list[str] = []
    page.on("pageerror", lambda error: broken.append(str(error)))
    double.known = screen != "pair"
    page.goto(double.address + SCREENS[screen])
    page.locator("h1").wait_for()
    page.wait_for_timeout(350)
    try:
        yield page
        assert broken == []
    finally:
        double.known, double.empty = True, False
        context.close()


def checked(page: Any, axe: str, *, least: int = 48) -> None:
    """Nothing over the edge, no small target, no small text, no violation."""
    assert page.evaluate(OVER_THE_EDGE) == []
    assert page.evaluate(TOO_SMALL, least) == []
    assert page.evaluate(SMALL_TEXT) == []
    page.evaluate(axe)
    found = page.evaluate(
        """axe.run(document, { runOnly: { type: 'tag', values: ['wcag2a', 'wcag2aa', 'wcag21aa', 'wcag22aa', 'best-practice'] },
        rules: { 'color-contrast-enhanced': { enabled: true }, 'region': { enabled: false } } })
        .then((r) => r.violations.map((v) => [v.id, v.nodes.slice(0, 3).map((n) => n.html.slice(0, 120))]))"""
    )
    assert found == []


@pytest.mark.parametrize("screen", SCREENS)
@pytest.mark.parametrize(("size", "scheme", "language"), COMBINATIONS)
def test_screen(browser: Any, double: Any, axe: str, screen: str, size: str, scheme: str, language: str) -> None:
    for page in opened(
        browser, double, screen, size=size, scheme=scheme, language=language, units="si" if language == "es" else "us"
    ):
        assert page.evaluate("document.documentElement.lang") == language
        assert page.evaluate("document.documentElement.dataset.scheme") == scheme
        field = screen.startswith("challenge")
        checked(page, axe, least=64 if field else 48)
        assert page.locator("h1").inner_text().strip() not in ("", "undefined")


@pytest.mark.parametrize("screen", EMPTY)
def test_empty_state(browser: Any, double: Any, axe: str, screen: str) -> None:
    double.empty = True
    for page in opened(browser, double, screen):
        checked(page, axe)
        assert page.locator(".main-button").count() == 1


@pytest.mark.parametrize("name", stand_in.NAMES)
def test_challenge_fits_a_browser_tab(browser: Any, double: Any, name: str) -> None:
    """664 pixels high: the button stays in sight and nothing lies under it."""
    for page in opened(browser, double, f"challenge, {name}", size="tab"):
        assert page.evaluate(OVER_THE_EDGE) == []
        hand = page.locator(".hand").bounding_box()
        assert hand["y"] + hand["height"] <= 664.5
        if name == "hand":
            keys = page.locator(".keys").bounding_box()
            assert keys["y"] + keys["height"] <= hand["y"] + 1
            assert page.locator(".value").nth(3).is_visible()


def test_left_handed_mirror(browser: Any, double: Any) -> None:
    for page in opened(browser, double, "today", left_handed=True):
        first = page.locator(".seconds button").first
        assert first.inner_text() == "More"
    for page in opened(browser, double, "today", left_handed=True, size="desk"):
        assert page.locator(".hand").bounding_box()["x"] < page.locator(".paper").bounding_box()["x"]


def test_scheme_changes_by_one_tap(browser: Any, double: Any) -> None:
    for page in opened(browser, double, "settings"):
        page.get_by_role("button", name="Dark").click()
        assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(20, 22, 26)"


def test_keyboard_alone(browser: Any, double: Any) -> None:
    """From today to a visit and into settings without a pointer; what has the focus can be seen."""
    for page in opened(browser, double, "today"):

        def focus_on(name: str, page: Any = page) -> None:
            for _ in range(40):
                page.keyboard.press("Tab")
                if page.evaluate("document.activeElement.textContent.trim()").startswith(name):
                    outline = page.evaluate("getComputedStyle(document.activeElement).outlineWidth")
                    assert outline == "3px", name
                    return
            raise AssertionError(f"{name} cannot be reached")

        focus_on("More")
        page.keyboard.press("Enter")
        page.get_by_role("heading", name="What do you need?").wait_for()
        focus_on("Settings")
        page.keyboard.press("Enter")
        page.get_by_role("heading", name="How do you like it?").wait_for()
        focus_on("Español")
        page.keyboard.press("Space")
        page.get_by_role("heading", name="¿Cómo lo quiere?").wait_for()
        focus_on("Listo")
        page.keyboard.press("Enter")
        page.get_by_role("heading", name="¿Qué necesita?").wait_for()


def test_source_of_a_limit_opens_on_a_tap(browser: Any, double: Any) -> None:
    for page in opened(browser, double, "challenge, plan"):
        page.get_by_role("button", name="stop at").click()
        sheet = page.get_by_role("dialog")
        assert "Source:" in sheet.inner_text()
        assert "high-pressure switch" in sheet.inner_text()
        sheet.get_by_role("button", name="Close").click()
        assert page.get_by_role("dialog").count() == 0


def test_touch_lock_leaves_one_button(browser: Any, double: Any) -> None:
    for page in opened(browser, double, "challenge, hold"):
        page.get_by_role("button", name="Lock", exact=True).click()
        live = page.evaluate(
            "[...document.querySelectorAll('button')].filter((b) => !b.closest('[inert]')).map((b) => b.textContent.trim())"
        )
        assert live == ["Unlock", "Airflow is restored"]
        page.get_by_role("button", name="Unlock").click()
        page.get_by_role("button", name="Yes, unlock").click()
        assert page.get_by_role("button", name="Mark").is_visible()


def test_undo_stays_ten_seconds(browser: Any, double: Any) -> None:
    for page in opened(browser, double, "challenge, hold"):
        page.get_by_role("button", name="Mark").click()
        bar = page.locator(".undo")
        bar.wait_for()
        page.wait_for_timeout(10_000)
        assert bar.is_visible()
        page.wait_for_timeout(4_000)
        assert not bar.is_visible()


def test_away_is_asked_before_anything_else(browser: Any, double: Any) -> None:
    for page in opened(browser, double, "challenge, away"):
        assert page.locator("h1").inner_text().upper() == "IS THE AIRFLOW RESTORED?"
        assert "Away 2 min 10 s." in page.inner_text(".say")
        assert page.locator(".main-button").inner_text() == "Yes, restored"


def test_alarm_is_words_sound_and_colour(browser: Any, double: Any) -> None:
    for page in opened(browser, double, "challenge, alarm", voice=True, sound=True):
        assert page.locator("h1").inner_text().upper() == "RESTORE AIRFLOW NOW"
        assert page.locator("[role=alert]").count() == 1
        assert page.evaluate("getComputedStyle(document.querySelector('.say')).backgroundColor") == "rgb(138, 15, 18)"
        assert page.locator(".main-button").inner_text() == "Airflow is restored"
        assert page.get_by_role("dialog").count() == 0


def test_reduced_motion_redraws_rarely(browser: Any, double: Any) -> None:
    for page in opened(browser, double, "challenge, hold", reduced_motion=True):
        drawn = page.evaluate(
            "() => new Promise((d) => { let n = 0; document.addEventListener('steadfeed:drawn', () => n++); setTimeout(() => d(n), 3000); })"
        )
        assert drawn <= 2
