"""The phone app on a page whose processor is slowed 6×: time to the first tap that works, frames of the strip chart.

Needs node, Chromium and Playwright.
"""

from __future__ import annotations

import shutil
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from timing import Figure

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "src")]

RUNS = 5
SLOWER = 6
ROWS = 20_000


def first_tap(browser: Any, address: str, rate: int) -> float:
    """Milliseconds from the start of the navigation to the first answered tap, with nothing cached."""
    context = browser.new_context(viewport={"width": 390, "height": 844}, service_workers="block")
    page = context.new_page()
    context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": rate})
    page.add_init_script(
        """new MutationObserver((_, watch) => { const b = [...document.querySelectorAll('.choice button')][1];
        if (!b) return; watch.disconnect(); b.click(); queueMicrotask(() => requestAnimationFrame(() => {
        window.answered = performance.now(); })); })
        .observe(document, { childList: true, subtree: true });"""
    )
    page.goto(address)
    page.wait_for_function("() => window.answered")
    took = float(page.evaluate("window.answered"))
    context.close()
    return took


def chart_frames(browser: Any, program: str, rate: int) -> float:
    """Frames a second while 4 × 20,000 readings are thinned and drawn at every frame."""
    context = browser.new_context(viewport={"width": 390, "height": 844}, device_scale_factor=2)
    page = context.new_page()
    page.set_content(
        "<style>:root{--ink:#16181d;--muted:#474c54;--ground:#faf8f2;--band:#efece2;--rule:#dcd8cb;--low:#0a3e8c;--high:#9e1216}</style>"
    )
    page.add_script_tag(content=program)
    context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": rate})
    found = float(page.evaluate("([s, n]) => chart.frames(s, n)", [3, ROWS]))
    context.close()
    return found


def figures() -> list[Figure]:
    """Measure; nothing where node, the built app or Chromium is missing."""
    from steadfeed.web.app import APP_FOLDER

    chromium = shutil.which("chromium")
    if chromium is None or shutil.which("npx") is None or not (APP_FOLDER / "index.html").is_file():
        return []
    from playwright.sync_api import sync_playwright

    from browser import double as stand_in
    from browser.conftest import Serving

    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "chart.js"
        command = [
            "npx",
            "--no-install",
            "esbuild",
            "tests/chart_frames.ts",
            "--bundle",
            "--format=iife",
            "--global-name=chart",
        ]
        subprocess.run([*command, "--minify", f"--outfile={out}", "--log-level=error"], cwd=ROOT / "webapp", check=True)
        program = out.read_text()
    serving = Serving(stand_in.make(stand_in.Double(APP_FOLDER)))
    try:
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
            tap = statistics.median(first_tap(browser, serving.address, SLOWER) for _ in range(RUNS))
            between = [1000.0 / chart_frames(browser, program, rate) for rate in (SLOWER, 1)]
            browser.close()
    finally:
        serving.stop()
    return [
        Figure(f"first tap answered on a page slowed {SLOWER}×", tap, "ms", 900.0),
        Figure(f"between two frames of a chart of 4 × {ROWS:,}, slowed {SLOWER}×", between[0], "ms", 1000.0 / 45.0),
        Figure("the same, not slowed", between[1], "ms", 1000.0 / 45.0),
    ]
