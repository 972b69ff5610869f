"""A series of cases: counts checked against the cases themselves."""

from __future__ import annotations

from dataclasses import replace

from labcheck.debrief.lines import WIDTH
from labcheck.debrief.series import series_lines, sparkline
from labcheck.debrief.summary import Summary
from tests.debrief.cases import ONE, TWO, history_like, played, summary


def cases(n: int = 12) -> list[Summary]:
    return history_like(replace(summary(played(TWO)), rehearsal=False), n, (2, 5))


def told(found: list[Summary]) -> str:
    return " ".join(" ".join(series_lines(found)).split())


def test_no_line_is_wider_than_a_remote_shell() -> None:
    assert max(map(len, series_lines(cases(60)))) <= WIDTH


def test_successes_are_counted_over_leaflets_and_over_cases() -> None:
    said = told(cases())
    assert "target leaflets modified: 20 of 24 (95 % interval" in said
    assert "cases with technical success at exit from the room: 10 of 12 (95 % interval" in said


def test_bailouts_are_counted_by_case() -> None:
    found = cases()
    found[0] = replace(found[0], rescues=())
    found[1] = replace(found[1], rescues=found[1].rescues * 2)
    said = told(found)
    assert "cases without any: 1 of 12" in said
    assert "Coronary obstruction: 11 of 12" in said


def test_how_the_record_was_made_is_what_the_log_says() -> None:
    log = played(TWO).log
    late = sum(1 for e in log if e.mode == "late")
    said = told(cases())
    assert f"entries {12 * len(log)}: live" in said
    assert f"late {12 * late}, transcribed 0" in said
    lags = sorted(e.lag_us // 1_000_000 for e in log if e.mode == "late" and e.seq not in played(TWO).voided)
    middle = lags[len(lags) // 2] if len(lags) % 2 else (lags[len(lags) // 2 - 1] + lags[len(lags) // 2]) / 2
    assert f"lag of late entries: median {int(middle // 60)}:{int(middle % 60):02d}" in said


def test_completeness_counts_steps_without_an_answer() -> None:
    one = summary(played(ONE)).whole
    two = summary(played(TWO)).whole
    assert two.unanswered > 0
    assert one.steps > one.unanswered
    assert f"steps without an answer: {12 * two.unanswered} of {12 * two.steps}" in told(cases())


def test_a_sparkline_rises_with_the_values() -> None:
    drawn = sparkline([1.0, 2.0, 4.0, 8.0])
    assert list(drawn) == sorted(drawn)
    assert len(set(drawn)) == 4
    assert len(sparkline([5.0] * 500)) <= 48


def test_rehearsals_say_so() -> None:
    found = [replace(one, rehearsal=True) for one in cases()]
    assert "REHEARSALS, NOT REAL CASES" in series_lines(found)[0]
    assert "REHEARSAL" not in series_lines(cases())[0]
