"""Shared fixtures, and the rule that continuous integration skips nothing."""

from __future__ import annotations

import os
from collections.abc import Generator

import pytest

# Several test processes share two cores; one polars thread each keeps them from starving each other.
os.environ.setdefault("POLARS_MAX_THREADS", "1")


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(
    item: pytest.Item, call: pytest.CallInfo[None]
) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """Where SANDLAB_NO_SKIPS is set, a skipped test is a failed one."""
    report = yield
    if report.skipped and os.environ.get("SANDLAB_NO_SKIPS") and not hasattr(report, "wasxfail"):
        report.outcome = "failed"
    return report
