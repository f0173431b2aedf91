"""The phone app in Chromium: time to the first tap that works, the cost of drawing the strip chart, a reading's way to the
screen.

“Slowed 6×” is Chromium's own slowing of the page's main thread. What a frame costs the main thread is counted in its own
processor time, so that other work on the machine does not change it. Needs node, Chromium and Playwright.
"""

from __future__ import annotations

import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from timing import Figure

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "src")]

RUNS = 5
SLOWER = 6
ROWS = 20_000
SECONDS = 20.0
HERTZ = 10.0
CHANNELS = {
    "suction_pressure_psig": 118.0, "liquid_pressure_psig": 365.0, "suction_line_temperature_degF": 52.0,
    "liquid_line_temperature_degF": 95.0, "outdoor_air_temperature_degF": 92.0, "return_air_dry_bulb_degF": 76.0,
}  # fmt: skip


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


def chart_frames(browser: Any, program: str, rate: int) -> tuple[float, float]:
    """Frames a second while 4 × 20,000 readings are thinned and drawn at every frame, and what one costs the main thread [ms]."""
    context = browser.new_context(viewport={"width": 390, "height": 844}, device_scale_factor=2)
    page = context.new_page()
    page.set_content(
        "<style>:root{--ink:#16181d;--muted:#474c54;--ground:#faf8f2;--band:#efece2;--rule:#dcd8cb;--low:#0a3e8c;--high:#9e1216}</style>"
    )
    page.add_script_tag(content=program)
    session = context.new_cdp_session(page)
    session.send("Performance.enable", {"timeDomain": "threadTicks"})
    session.send("Emulation.setCPUThrottlingRate", {"rate": rate})
    page.evaluate("([s, n]) => chart.frames(s, n)", [0.5, ROWS])
    before = _task_seconds(session)
    found = float(page.evaluate("([s, n]) => chart.frames(s, n)", [3, ROWS]))
    cost = 1e3 * (_task_seconds(session) - before) / (3 * found)
    context.close()
    return found, cost


def _task_seconds(session: Any) -> float:
    metrics = session.send("Performance.getMetrics")["metrics"]
    return float(next(one["value"] for one in metrics if one["name"] == "TaskDuration"))


def to_screen(browser: Any, rate: int) -> list[float]:
    """Times from a reading until the chart with it is drawn [s]: six channels at 10 Hz, through the store and the stream."""
    import threading
    import uuid

    import numpy as np

    from browser.conftest import Serving, free_port
    from steadfeed.capture.http_ingest import PushSource
    from steadfeed.capture.source import Reading
    from steadfeed.visit.station import Station
    from steadfeed.web.app import create_app
    from steadfeed.web.gate import localhost
    from steadfeed.web.sessions import SessionBook

    with tempfile.TemporaryDirectory() as folder:
        port = free_port()
        station = Station(str(Path(folder) / "records.db"))
        book = SessionBook(None, time.time)
        serving = Serving(create_app(station, book, localhost(port)), port)
        context = browser.new_context(viewport={"width": 390, "height": 844}, service_workers="block")
        page = context.new_page()
        page.goto(f"{serving.address}open?token={book.mint()}")
        source = PushSource("gauges")
        identity = station.sources.connect(source, "ingest")["id"]
        challenge = page.evaluate(_BEGIN, identity)
        over = threading.Event()
        sent: list[float] = []

        def send() -> None:
            boot, number, generator = uuid.uuid4().hex, 0, np.random.default_rng(1)
            began = time.perf_counter()
            while not over.is_set():
                over.wait(max(0.0, began + len(sent) / HERTZ - time.perf_counter()))
                at = round(time.time(), 3)
                batch = []
                for header, value in CHANNELS.items():
                    text = f"{value + generator.normal(0.0, 0.2):.1f}"
                    batch.append(Reading("gauges", boot, number, header, text, header.rsplit("_", 1)[1], at))
                    number += 1
                source.deliver(batch)
                sent.append(at)

        thread = threading.Thread(target=send, daemon=True)
        thread.start()
        page.evaluate(_TO_SETTLE, challenge)
        page.evaluate("localStorage.setItem('steadfeed settings', JSON.stringify({ first_run_done: true }))")
        page.add_init_script(
            """window.drawn = []; document.addEventListener('steadfeed:drawn', (e) =>
            window.drawn.push([(performance.timeOrigin + performance.now()) / 1000, e.detail]));"""
        )
        page.goto(f"{serving.address}#/challenge/{challenge}")
        page.reload()
        page.locator(".strip canvas").wait_for()
        context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": rate})
        page.wait_for_timeout(3000)
        first = len(sent)
        page.wait_for_timeout(int(SECONDS * 1000))
        last = len(sent)
        page.wait_for_timeout(1500)
        drawn = page.evaluate("window.drawn")
        over.set()
        thread.join(5.0)
        context.close()
        serving.stop()
        station.close()
    moments = [moment for moment, newest in drawn if newest is not None]
    newest = np.array([newest for _, newest in drawn if newest is not None])
    found = [moments[int(np.argmax(newest >= at - 1e-3))] - at for at in sent[first:last] if newest[-1] >= at - 1e-3]
    if len(found) < 0.98 * (last - first):
        raise RuntimeError(f"only {len(found)} of {last - first} readings reached the screen")
    return found


_ASK = """const ask = async (method, path, body) => (await fetch('/api/v1' + path, { method, ...(body ? {
  body: JSON.stringify(body), headers: { 'content-type': 'application/json' } } : {}) })).json();"""
_BEGIN = (
    "async (source) => { "
    + _ASK
    + """
  const unit = await ask('POST', '/units', { tag: 'B-1', circuits: [{ refrigerant: 'R-410A', metering_device: 'txv' }] });
  const visit = await ask('POST', '/visits', { unit_id: unit.id, complaint: 'warm' });
  const circuit = (await ask('GET', '/units/' + unit.id)).circuits[0].id;
  return (await ask('POST', `/visits/${visit.id}/challenges`, { circuit_id: circuit, sources: [source] })).challenge_id; }"""
)
_TO_SETTLE = (
    "async (challenge) => { "
    + _ASK
    + """
  const path = '/challenges/' + challenge;
  const act = (act, more = {}) => ask('POST', path + '/acts', { id: crypto.randomUUID(), act, ...more });
  for (let i = 0; i < 20; i++) {
    const state = await ask('GET', path);
    if (state.phase === 'settle') return;
    if (state.phase === 'look and safe') { for (const c of state.checks) await act('answer', { check: c.code, answer: 'yes' }); await act('go on'); }
    else { for (const r of state.ready) await act('answer', { check: r.code, answer: 'yes' }); await act('unit was running'); await act('go on'); }
    await new Promise((done) => setTimeout(done, 500));
  }
  throw new Error('it does not settle'); }"""
)


def figures() -> list[Figure]:
    """Measure; nothing where node, the built app or Chromium is missing."""
    from steadfeed.web.app import APP_FOLDER

    chromium = shutil.which("chromium")
    if chromium is None or shutil.which("npx") is None or not (APP_FOLDER / "index.html").is_file():
        return []
    import numpy as np
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
            slowed, plain = (chart_frames(browser, program, rate) for rate in (SLOWER, 1))
            ways = [np.array(to_screen(browser, rate)) * 1e3 for rate in (1, SLOWER)]
            browser.close()
    finally:
        serving.stop()
    limit = 1000.0 / 45.0
    return [
        Figure(f"first tap answered on a page slowed {SLOWER}×", tap, "ms", 900.0),
        Figure(f"one frame of a chart of 4 × {ROWS:,} on the main thread", plain[1], "ms", limit / SLOWER),
        Figure(f"between two frames of it, slowed {SLOWER}×", 1000.0 / slowed[0], "ms", limit),
        Figure("the same, not slowed", 1000.0 / plain[0], "ms", limit),
        Figure(f"reading to screen at 6 × 10 Hz, median of {len(ways[0])}", float(np.median(ways[0])), "ms"),
        Figure("… 99 of 100", float(np.percentile(ways[0], 99)), "ms", 250.0),
        Figure(f"… 99 of 100 on a page slowed {SLOWER}×", float(np.percentile(ways[1], 99)), "ms"),
    ]
