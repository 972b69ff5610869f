"""Faults 14 to 17: the wall clock steps, summer time begins and ends, the machine sleeps, the machine restarts."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import time_machine

from labcheck.caselog.events import ClockNoticed, NoteWritten
from labcheck.caselog.stamps import Stamp, span
from labcheck.ledger import clocks
from labcheck.ledger.clocks import SystemClock
from labcheck.ledger.clockwatch import ClockWatch, since
from labcheck.ledger.store import open_ledger
from tests.faults.invariants import hold
from tests.faults.tracing import ROOT, environment
from tests.ledger.making import CASE, CHECKLIST, Maker

CHILD = [sys.executable, "-m", "tests.faults.clock_child"]


def _faketime() -> str | None:
    for pattern in ("lib/*/faketime", "lib/faketime", "local/lib/faketime", "local/lib/*/faketime"):
        for found in Path("/usr").glob(f"{pattern}/libfaketime.so.1"):
            return str(found)
    return None


needs_faketime = pytest.mark.skipif(_faketime() is None, reason="needs the library libfaketime")


def _may_sleep() -> bool:
    unshare = shutil.which("unshare")
    trial = [str(unshare), "--time", "--boottime", "600", "--fork", "true"]
    return unshare is not None and subprocess.run(trial, capture_output=True, check=False).returncode == 0


needs_time_namespace = pytest.mark.skipif(
    not _may_sleep(), reason="only on Linux with leave to make a time namespace (root): imitates a suspend"
)


@needs_faketime
@pytest.mark.fault(14)
@pytest.mark.parametrize(
    ("offsets", "steps_s"),
    [(["-3600"], [-3600]), (["+7200"], [7200]), (["+3600", "+0"], [3600, -3600]), (["+0.2"], [])],
    ids=["back one hour", "forward two hours", "there and back", "too small to tell"],
)
def test_a_step_of_the_wall_clock_is_noticed_and_intervals_do_not_change(
    tmp_path: Path, offsets: list[str], steps_s: list[int]
) -> None:
    faked = {
        **environment(),
        "LD_PRELOAD": str(_faketime()),
        "FAKETIME_TIMESTAMP_FILE": str(tmp_path / "offset"),
        "FAKETIME_NO_CACHE": "1",
        "FAKETIME_DONT_FAKE_MONOTONIC": "1",
    }
    (tmp_path / "offset").write_text("+0")
    said = subprocess.run(
        [*CHILD, "jump", str(tmp_path / "ledger"), str(tmp_path / "offset"), *offsets],
        capture_output=True,
        text=True,
        check=True,
        cwd=ROOT,
        env=faked,
    )
    found: dict[str, Any] = json.loads(said.stdout)
    assert [notice["notice"] for notice in found["notices"]] == ["step"] * len(steps_s)
    for notice, step_s in zip(found["notices"], steps_s, strict=True):
        assert abs(notice["amount_us"] - step_s * 1_000_000) < 100_000
    assert found["span"]["basis"] == "boot"
    # What the wall says in between, less the step, is what the boot clock says.
    moved = float(offsets[-1]) * 1_000_000
    assert abs(found["wall_us"] - moved - found["span"]["us"]) < 100_000
    # The log itself tells every step, and the intervals between its entries are those of the boot clock.
    ledger = open_ledger(tmp_path / "ledger")
    stored = [event.what for event in ledger.events(CASE)]
    ledger.close()
    assert [what.notice for what in stored if isinstance(what, ClockNoticed)] == ["step"] * len(steps_s)
    hold(tmp_path / "ledger", {int(k): v for k, v in found["acknowledged"].items()}, "step", made=False, extra=0)


@pytest.fixture
def zurich(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setenv("TZ", "Europe/Zurich")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


@pytest.mark.fault(15)
@pytest.mark.usefixtures("zurich")
@pytest.mark.parametrize(
    ("first_utc", "offsets", "shown"),
    [
        (1_792_888_200, (7200, 3600), ("02:30", "02:30")),  # 2026-10-25: the hour that comes twice
        (1_774_744_200, (3600, 7200), ("01:30", "03:30")),  # 2026-03-29: the hour that is missing
    ],
    ids=["autumn", "spring"],
)
def test_the_change_of_summer_time_in_mid_case_leaves_order_and_intervals_right(
    tmp_path: Path, first_utc: int, offsets: tuple[int, int], shown: tuple[str, str]
) -> None:
    clock, maker = SystemClock(), Maker()
    ledger = open_ledger(tmp_path / "ledger")
    ledger.keep_checklist(CHECKLIST)
    acks = [ledger.append(maker.opening())]
    for wall in (first_utc, first_utc + 3600):
        with time_machine.travel(wall, tick=False):
            stamp = clock.stamp()
        # The boot clock cannot be moved in a test; an hour is put onto it where the wall clock jumped.
        boot = stamp.boot_us + (wall - first_utc) * 1_000_000
        stamp = stamp.model_copy(update={"boot_us": boot, "mono_us": boot})
        acks.append(ledger.append(maker.note(str(wall), happened=stamp.moment(), entered=stamp)))
    first, second = (event.happened for event in ledger.events(CASE)[1:])
    ledger.close()
    assert (first.off_s, second.off_s) == offsets
    assert (
        tuple(time.strftime("%H:%M", time.gmtime(m.wall_us // 1_000_000 + m.off_s)) for m in (first, second))
        == shown
    )
    between = span(first, second)
    assert between.basis == "boot"
    assert abs(between.us - 3_600_000_000) < 60_000_000
    assert second.wall_us - first.wall_us == 3_600_000_000
    assert [n.notice for n in _watched(first, second)] == []
    hold(tmp_path / "ledger", {ack.seqs[-1]: ack.head_hex for ack in acks}, "summer time", extra=0)


def _watched(first: Any, second: Any) -> list[Any]:
    watch = ClockWatch()
    stamps = [
        Stamp(wall_us=m.wall_us, off_s=m.off_s, tz=m.tz, boot_us=m.wall_us, mono_us=m.wall_us, boot_id="b")
        for m in (first, second)
    ]
    return [notice for stamp in stamps for notice in watch.notices(stamp)]


def slept(folder: Path, before: Stamp, after: Stamp) -> None:
    """A case with a press before and one after; the notice stands between them, and the interval counts it."""
    maker, watch = Maker(), ClockWatch(before)
    ledger = open_ledger(folder)
    ledger.keep_checklist(CHECKLIST)
    (opened,) = maker.opening()
    acks = [ledger.append([opened.model_copy(update={"happened": before.moment(), "entered": before})])]
    (notice,) = watch.notices(after)
    assert notice.notice == "suspend"
    assert abs(notice.amount_us - 600_000_000) < 100_000
    press = maker.press(notice, NoteWritten(text="awake"), happened=after.moment(), entered=after)
    acks.append(ledger.append(press))
    first, told, last = ledger.events(CASE)
    ledger.close()
    whole = span(first.happened, last.happened)
    assert (told.kind, whole.basis) == ("clock.noticed", "boot")
    assert whole.us >= 600_000_000
    hold(folder, {ack.seqs[-1]: ack.head_hex for ack in acks}, "suspend", made=False, extra=0)


@pytest.mark.fault(16)
@needs_time_namespace
def test_a_suspend_of_ten_minutes_is_noticed_and_counted(tmp_path: Path) -> None:
    before = SystemClock().stamp()
    said = subprocess.run(
        ["unshare", "--time", "--boottime", "600", "--fork", *CHILD, "stamp"],
        capture_output=True,
        text=True,
        check=True,
        cwd=ROOT,
        env=environment(),
    )
    after = Stamp.model_validate_json(said.stdout)
    # The wall clock of a namespace does not move with it, as it would in a real suspend.
    slept(tmp_path / "ledger", before, after.model_copy(update={"wall_us": after.wall_us + 600_000_000}))


@pytest.mark.fault(16)
def test_boot_time_that_grows_past_running_time_is_a_suspend_also_where_no_time_namespace_can_be_made(
    tmp_path: Path,
) -> None:
    before = SystemClock().stamp()
    after = SystemClock().stamp()
    grown = {"boot_us": after.boot_us + 600_000_000, "wall_us": after.wall_us + 600_000_000}
    slept(tmp_path / "ledger", before, after.model_copy(update=grown))


@pytest.mark.fault(17)
def test_after_a_restart_the_case_goes_on_and_the_interval_is_marked_wall_only(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    maker = Maker()
    ledger = open_ledger(tmp_path / "ledger")
    ledger.keep_checklist(CHECKLIST)
    before = SystemClock().stamp()
    (opened,) = maker.opening()
    acks = [ledger.append([opened.model_copy(update={"happened": before.moment(), "entered": before})])]
    ledger.close()

    (tmp_path / "boot_id").write_text("after-the-restart\n")
    monkeypatch.setattr(clocks, "_BOOT_ID_FILE", tmp_path / "boot_id")
    after = SystemClock().stamp()
    after = after.model_copy(update={"boot_us": 30_000_000, "mono_us": 30_000_000})
    ledger = open_ledger(tmp_path / "ledger")
    last = ledger.events(CASE)[-1]
    resumed = since(last.entered, after)
    (reboot,) = ClockWatch(last.entered).notices(after)
    press = maker.press(resumed, reboot, NoteWritten(text="goes on"), entered=after, happened=after.moment())
    acks.append(ledger.append(press))
    first, *_, end = ledger.events(CASE)
    ledger.close()
    assert (resumed.basis, reboot.notice, reboot.basis) == ("wall", "reboot", "wall")
    whole = span(first.happened, end.happened)
    assert whole.basis == "wall"
    assert whole.us == after.wall_us - before.wall_us
    assert before.boot_id != after.boot_id
    hold(tmp_path / "ledger", {ack.seqs[-1]: ack.head_hex for ack in acks}, "restart", made=False, extra=0)
