"""What sheet, page and screen show at small numbers: the gates hold wherever a figure can appear."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from labcheck.debrief.comparing import compared, own_words, place_words, trend_words
from labcheck.debrief.history import History, own_history
from labcheck.debrief.page.document import page
from labcheck.debrief.screen import screen_pages
from labcheck.debrief.series import series_lines
from labcheck.debrief.sheet import sheet
from labcheck.debrief.summary import Summary
from tests.debrief.cases import HEAD, ONE, history_like, played, summary
from tests.debrief.reading_pages import words

CASE = played(ONE)
ALLOWED = (r"\(\d+ % interval [\d.]+ to [\d.]+ %\)", r"[\d.]+ % interval of the median")
FROM_FIVE = ("median", "quartiles", "slowest", "fastest", "% interval")
FROM_EIGHT = ("run of 8 on one side", "limits")


def history(n: int) -> History:
    own = summary(CASE)
    return own_history(own, history_like(own, n, (1,)), rehearsals=True)


def told(n: int) -> dict[str, str]:
    """Everything that is said with so many earlier cases, by where it is said; the medical words of tallies apart."""
    beside = history(n)
    lines = sheet(CASE, HEAD, len(CASE.log), beside)
    start = lines.index("Beside own earlier cases")
    own = lines[start : lines.index("Attempts", start)]
    screens = [p for p in screen_pages(CASE, 80, 24, beside) if p.title in ("intervals", "trend")]
    said = words(page(CASE, HEAD, len(CASE.log), beside))
    intervals = said[said.index("Compared with") : said.index("Published series")]
    return {
        "sheet": " ".join(" ".join(own).split()),
        "screen": " ".join(" ".join(line for p in screens for line in p.lines).split()),
        "page": intervals,
    }


def bare(text: str) -> str:
    """The text without the intervals, in which alone a per cent sign may stand."""
    for allowed in ALLOWED:
        text = re.sub(allowed, "", text)
    return text


@pytest.mark.parametrize("n", range(7))
def test_no_percentage_ever_stands_without_its_interval(n: int) -> None:
    for where, said in told(n).items():
        assert "%" not in bare(said), where


@pytest.mark.parametrize("n", range(5))
def test_below_five_earlier_cases_there_are_values_and_counts_only(n: int) -> None:
    for where, said in told(n).items():
        found = [word for word in FROM_FIVE if word in said.replace("A value on the median", "")]
        assert found == [], where


@pytest.mark.parametrize("n", range(1, 5))
def test_below_five_earlier_cases_every_value_is_given(n: int) -> None:
    beside = history(n)
    one = compared(beside, "access_to_exit", "x")
    assert len(one.earlier) == n
    assert own_words(one).startswith(f"{n} earlier: ")
    assert own_words(one).count(",") == n - 1
    assert place_words(one) == ""
    assert trend_words(one) == ""


@pytest.mark.parametrize("n", range(7))
def test_below_eight_earlier_cases_there_is_no_run_chart_and_no_limit(n: int) -> None:
    for where, said in told(n).items():
        assert [word for word in FROM_EIGHT if word in said] == [], where


@pytest.mark.parametrize(("n", "has"), [(5, False), (6, True)])
def test_the_median_has_an_interval_from_six_cases(n: int, has: bool) -> None:
    # Order statistics: no 95 % interval of a median exists for five values or fewer.
    for where, said in told(n).items():
        assert ("% interval of the median" in said) is has, where


@pytest.mark.parametrize(
    ("n", "standing"), [(8, "no limits below"), (12, "provisional limits"), (20, "firm limits")]
)
def test_limits_say_how_far_they_may_be_trusted(n: int, standing: str) -> None:
    one = compared(history(n), "access_to_exit", "x")
    assert standing in trend_words(one)


@pytest.mark.parametrize("n", range(1, 7))
def test_a_series_keeps_to_the_same_gates(n: int) -> None:
    own = replace(summary(CASE), rehearsal=False)
    said = " ".join(" ".join(series_lines(history_like(own, n, (1,)))).split())
    assert "%" not in bare(said)
    assert "run of 8" not in said
    if n < 5:
        assert "% interval" not in said
        assert "quartiles" not in said


@pytest.mark.parametrize(
    ("today", "said"),
    [
        (1000.0, "slowest of 7 with today (if nothing changed, 1 chance in 7)"),
        (0.5, "fastest of 7"),
        (None, ""),
    ],
)
def test_the_slowest_is_never_said_without_its_chance(today: float | None, said: str) -> None:
    own = summary(CASE)
    past = history_like(own, 6)
    times = tuple(
        t._replace(us=round(today * 60_000_000)) if today is not None else t
        for t in own.times
        if today is not None
    )
    present: Summary = replace(own, times=times)
    one = compared(own_history(present, past, rehearsals=True), "access_to_exit", "x")
    assert place_words(one).startswith(said)
    assert (place_words(one) == "") is (today is None)
