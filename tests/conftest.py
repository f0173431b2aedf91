"""What holds for every test: the long ones wait for FULL=1, and in CI nothing may be skipped."""

from __future__ import annotations

import os

import pytest
from hypothesis import settings

FULL = os.environ.get("FULL", "") not in ("", "0")
CI = os.environ.get("CI", "") not in ("", "0", "false")

settings.register_profile("steadfeed", deadline=None, derandomize=CI and not FULL)
settings.load_profile("steadfeed")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if FULL:
        return
    waiting = [item for item in items if item.get_closest_marker("full")]
    if waiting:
        config.hook.pytest_deselected(items=waiting)
        items[:] = [item for item in items if not item.get_closest_marker("full")]


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session: pytest.Session) -> None:
    """A test that CI skips is a test that nobody runs: say which, and fail."""
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    if not CI or reporter is None or hasattr(session.config, "workerinput"):
        return
    skipped = reporter.stats.get("skipped", [])
    if skipped:
        reporter.write_line("")
        for report in skipped:
            reporter.write_line(f"skipped in CI: {report.nodeid}: {report.longrepr[2]}")
        session.exitstatus = pytest.ExitCode.TESTS_FAILED
