"""Stamps, rehearsed clocks, and what the clock watch notices."""

from __future__ import annotations

import time
from typing import Any

import pytest
import time_machine

from labcheck.caselog.stamps import Stamp, span
from labcheck.ledger import clocks
from labcheck.ledger.clocks import RehearsalClock, SystemClock, read_boot_id
from labcheck.ledger.clockwatch import ClockWatch, since
from tests.ledger.making import stamp


class StandingClock:
    """A clock that says what it is told."""

    def __init__(self) -> None:
        self.now_us = 1_000_000

    def stamp(self, at_monotonic: float | None = None) -> Stamp:
        mono = self.now_us if at_monotonic is None else round(at_monotonic * 1e6)
        return stamp(0, mono_us=mono, boot_us=mono)


def test_a_stamp_reads_all_clocks_of_this_machine() -> None:
    before = (time.time_ns() // 1000, time.monotonic_ns() // 1000)
    read = SystemClock().stamp()
    after = (time.time_ns() // 1000, time.monotonic_ns() // 1000)
    assert before[0] <= read.wall_us <= after[0]
    assert before[1] <= read.mono_us <= after[1]
    assert read.boot_id
    assert read.off_s == time.localtime().tm_gmtoff


def test_a_press_is_stamped_when_it_was_made_not_when_it_was_handled() -> None:
    clock = SystemClock()
    pressed, before = time.monotonic(), clock.stamp()
    time.sleep(0.05)
    after = clock.stamp(at_monotonic=pressed)
    # The scheduler may stop us between the first two reads, so only that gap is allowed.
    slack = before.mono_us - round(pressed * 1e6) + 1
    for late, early in (
        (before.wall_us, after.wall_us), (before.boot_us, after.boot_us), (before.mono_us, after.mono_us)
    ):  # fmt: skip
        assert -1000 <= late - early <= slack + 1000


def test_a_press_from_the_future_is_stamped_now() -> None:
    clock = SystemClock()
    now = clock.stamp().mono_us
    assert abs(clock.stamp(at_monotonic=time.monotonic() + 60).mono_us - now) < 10_000_000


def test_intervals_of_two_stamps_ignore_a_wall_step() -> None:
    clock = SystemClock()
    with time_machine.travel(1_772_000_000, tick=True):
        first = clock.stamp()
    with time_machine.travel(1_772_007_200, tick=True):
        second = clock.stamp()
    between = span(first.moment(), second.moment())
    assert between.basis == "boot"
    assert 0 <= between.us < 60_000_000
    assert second.wall_us - first.wall_us >= 7_000_000_000


@pytest.mark.parametrize(
    ("utc", "offset"),
    [
        (1_792_888_200, 7200),  # 2026-10-25 00:30 UTC is 02:30 summer time
        (1_792_891_800, 3600),  # 2026-10-25 01:30 UTC is 02:30 again, standard time
        (1_774_747_800, 7200),  # 2026-03-29 01:30 UTC is 03:30: 02:30 did not exist
    ],
)
def test_the_offset_is_the_one_in_force_at_the_press(
    monkeypatch: pytest.MonkeyPatch, utc: int, offset: int
) -> None:
    monkeypatch.setenv("TZ", "Europe/Zurich")
    time.tzset()
    try:
        with time_machine.travel(utc, tick=False):
            read = SystemClock().stamp()
    finally:
        monkeypatch.undo()
        time.tzset()
    assert (read.off_s, read.tz, read.wall_us) == (offset, "Europe/Zurich", utc * 1_000_000)


def test_without_a_boot_id_each_run_is_a_boot_of_its_own(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Any
) -> None:
    monkeypatch.setattr(clocks, "_BOOT_ID_FILE", tmp_path / "absent")
    assert read_boot_id() != read_boot_id()


def test_rehearsed_time_runs_at_its_pace_and_changes_pace_without_a_jump() -> None:
    base = StandingClock()
    clock = RehearsalClock(base, start_us=0, pace=10)
    base.now_us += 1_000_000
    assert clock.stamp().wall_us == 10_000_000
    clock.pace = 2
    assert clock.stamp().wall_us == 10_000_000
    base.now_us += 1_000_000
    assert clock.stamp().wall_us == 12_000_000
    clock.pace = 0
    base.now_us += 60_000_000
    assert clock.stamp().wall_us == 12_000_000


def test_a_press_from_before_a_change_of_pace_counts_at_the_old_pace() -> None:
    base = StandingClock()
    clock = RehearsalClock(base, start_us=0, pace=10)
    base.now_us += 1_000_000
    clock.pace = 1
    assert clock.stamp(at_monotonic=(base.now_us - 100_000) / 1e6).wall_us == 9_000_000


def test_stepped_time_moves_only_when_told_and_only_forward() -> None:
    base = StandingClock()
    clock = RehearsalClock(base, start_us=5_000_000, pace=0)
    clock.step(250_000)
    assert clock.stamp().wall_us == 5_250_000
    clock.step_to(9_000_000)
    clock.step_to(1_000_000)
    assert (clock.stamp().wall_us, clock.stamp().boot_us) == (9_000_000, 4_000_000)
    with pytest.raises(ValueError, match="forward"):
        clock.step(-1)
    with pytest.raises(ValueError, match="pace"):
        clock.pace = -1


def test_a_rehearsal_never_shares_a_boot_with_anything_real() -> None:
    assert RehearsalClock().stamp().boot_id not in (
        SystemClock().stamp().boot_id,
        RehearsalClock().stamp().boot_id,
    )


def told(watch: ClockWatch, *stamps: Stamp) -> list[tuple[str, int, str]]:
    """Everything the watch says about these stamps."""
    return [(n.notice, n.amount_us, n.basis) for s in stamps for n in watch.notices(s)]


def test_an_even_clock_gives_no_notice() -> None:
    jitter = [35, -20, 0, 12]
    even = [stamp(n * 5, wall_us=stamp(n * 5).wall_us + jitter[n % 4]) for n in range(200)]
    assert told(ClockWatch(stall_us=15_000_000), *even) == []


@pytest.mark.parametrize("step_s", [-7200, -3600, -0.5, 0.5, 3600])
def test_a_step_of_the_wall_clock_is_noticed_once_with_its_size(step_s: float) -> None:
    moved = round(step_s * 1_000_000)
    after = [stamp(n, wall_us=stamp(n).wall_us + moved) for n in (10, 15, 20)]
    assert told(ClockWatch(stamp(5)), *after) == [("step", moved, "boot")]


def test_a_slow_slew_is_noticed_each_time_it_reaches_half_a_second() -> None:
    slewed = [stamp(n * 5, wall_us=stamp(n * 5).wall_us + n * 2_000) for n in range(601)]
    notices = told(ClockWatch(), *slewed)
    assert [n[0] for n in notices] == ["drift", "drift"]
    assert sum(n[1] for n in notices) == 1_000_000


def test_a_suspend_is_noticed_and_is_no_step() -> None:
    after = stamp(610, mono_us=stamp(10).mono_us)
    assert told(ClockWatch(stamp(5)), after, stamp(615, mono_us=stamp(15).mono_us)) == [
        ("suspend", 600_000_000, "boot")
    ]


@pytest.mark.parametrize(("slept_s", "noticed"), [(0.999999, []), (1.0, [("suspend", 1_000_000, "boot")])])
def test_a_suspend_counts_from_one_second(slept_s: float, noticed: list[tuple[str, int, str]]) -> None:
    woken = stamp(10 + slept_s, mono_us=stamp(10).mono_us)
    assert told(ClockWatch(stamp(5)), woken) == noticed


def test_a_stamp_is_blurred_from_more_than_a_tenth_of_a_second() -> None:
    for win_us, steps in ((100_000, 1), (100_001, 0)):
        stepped = stamp(10, wall_us=stamp(10).wall_us + 600_000, win_us=win_us)
        assert len(told(ClockWatch(stamp(5)), stepped)) == steps


def test_another_boot_is_noticed_with_the_wall_difference() -> None:
    after = stamp(300, boot_us=20_000_000, mono_us=20_000_000, boot_id="other-boot")
    assert told(ClockWatch(stamp(0)), after) == [("reboot", 300_000_000, "wall")]


def test_a_stall_is_noticed_only_where_a_beat_was_promised() -> None:
    assert told(ClockWatch(stamp(0), stall_us=15_000_000), stamp(30)) == [("stalled", 30_000_000, "boot")]
    assert told(ClockWatch(stamp(0)), stamp(30)) == []
    assert told(ClockWatch(stamp(0), stall_us=15_000_000), stamp(15)) == [("stalled", 15_000_000, "boot")]
    assert told(ClockWatch(stamp(0), stall_us=15_000_000), stamp(14.999999)) == []


def test_a_slew_is_counted_anew_after_a_restart() -> None:
    def slewed(seconds: float, by_us: int, boot: str) -> Stamp:
        return stamp(seconds, wall_us=stamp(seconds).wall_us + by_us, boot_id=boot)

    before = [slewed(0, 0, "one"), slewed(5, 400_000, "one")]
    after = [slewed(60, 0, "two"), slewed(65, 400_000, "two"), slewed(70, 499_999, "two")]
    assert [kind for kind, _, _ in told(ClockWatch(), *before, *after)] == ["reboot"]
    assert [kind for kind, _, _ in told(ClockWatch(), *after, slewed(75, 500_000, "two"))] == ["drift"]


def test_a_press_stamped_before_the_last_sample_says_nothing() -> None:
    assert told(ClockWatch(stamp(10)), stamp(9), stamp(11)) == []


def test_a_blurred_stamp_is_not_trusted_and_the_step_is_still_found() -> None:
    moved = 600_000
    blurred = stamp(10, wall_us=stamp(10).wall_us + moved, win_us=200_000)
    clear = stamp(15, wall_us=stamp(15).wall_us + moved)
    assert told(ClockWatch(stamp(5)), blurred, clear) == [("step", moved, "boot")]


def test_a_resumed_case_says_how_long_nobody_recorded_and_by_which_clock() -> None:
    same = since(stamp(0), stamp(42, wall_us=0))
    assert (same.notice, same.amount_us, same.basis) == ("resumed", 42_000_000, "boot")
    other = since(stamp(0), stamp(42, boot_id="other-boot", boot_us=1))
    assert (other.amount_us, other.basis) == (42_000_000, "wall")
