"""For every test: in CI nothing is passed over because a tool happens not to be there."""

from __future__ import annotations

import os
from collections.abc import Generator, Iterator

import pytest

from tests.faults.promises import LOOKED_AT, PROMISES

ALLOWED = "only on"
"""A skip whose reason begins so is about the platform, not about a missing tool."""


def pytest_configure(config: pytest.Config) -> None:
    config.addinivalue_line("markers", "fault(*rows): which rows of the fault matrix a test is for")


@pytest.fixture(autouse=True)
def _all_five_promises(request: pytest.FixtureRequest) -> Iterator[None]:
    """A test of a row of the fault matrix must have looked at each of I1 to I5."""
    LOOKED_AT.clear()
    yield
    if request.node.get_closest_marker("fault") is not None and getattr(request.node, "went_well", False):
        missing = sorted(set(PROMISES) - LOOKED_AT)
        assert not missing, f"this row of the matrix does not look at {', '.join(missing)}"


@pytest.fixture(autouse=True)
def _umask_as_it_was() -> Iterator[None]:
    """The command line closes its files to others for good; the next test starts as open as this one."""
    before = os.umask(0o022)
    os.umask(before)
    yield
    os.umask(before)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(
    item: pytest.Item, call: pytest.CallInfo[None]
) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """Turn a skip into a failure where CI promised that every tool is there."""
    report = yield
    if call.when == "call":
        item.went_well = report.passed  # type: ignore[attr-defined]
    if report.skipped and not hasattr(report, "wasxfail") and os.environ.get("CI") == "true":
        reason = report.longrepr[2] if isinstance(report.longrepr, tuple) else str(report.longrepr)
        if not reason.removeprefix("Skipped: ").startswith(ALLOWED):
            report.outcome = "failed"
            report.longrepr = f"skipped in CI, where nothing may be missing: {reason}"
    return report
