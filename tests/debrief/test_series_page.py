"""The page of series: real cases only, inert, the same for the same ledger, and readable without its drawings."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from functools import cache

import pytest

from labcheck.debrief.agreed import NOTHING, Agreed
from labcheck.debrief.comparing import lasted_words
from labcheck.debrief.history import grouped, series
from labcheck.debrief.outcomes import FailureChart, failure_chart
from labcheck.debrief.page.series_page import series_page
from labcheck.debrief.series import times_of
from labcheck.debrief.series_facts import accuracy, day_of, quarters, rescue_counts, wholeness
from labcheck.debrief.summary import Summary
from labcheck.reference.figures import Reason
from labcheck.reference.statistics import gates
from tests.debrief.reading_pages import drawings, outside, overlaps, read, words
from tests.debrief.series_of import AGREED, small, varied
from tests.debrief.test_page import PAGE_ATTRIBUTES, PAGE_TAGS, PAYLOADS, shape


def made(cases: Sequence[Summary], agreed: Agreed = AGREED) -> bytes:
    groups, left = grouped(cases, agreed)
    return series_page(groups, agreed, left)


def other(n: int = 3) -> list[Summary]:
    """Cases of one cusp under keys of their own."""
    return [replace(case, case=f"J{case.case[1:]}") for case in small(n)]


def test_the_same_cases_give_the_same_bytes_in_whatever_order_they_are_found() -> None:
    cases = [*varied(20), *other()]
    assert made(cases) == made(list(reversed(cases)))


def test_a_change_in_any_log_changes_the_digest_at_the_foot() -> None:
    cases = varied(9)
    changed = [*cases[:4], replace(cases[4], head="f" * 64), *cases[5:]]
    before, after = (
        re.search(r"digest over their heads ([0-9a-f]{64})", words(made(c))) for c in (cases, changed)
    )
    assert before is not None
    assert after is not None
    assert before[1] != after[1]


def test_a_rehearsal_is_never_on_the_page() -> None:
    cases = varied(9)
    rehearsal = replace(cases[0], case="RRRR-RR", rehearsal=True)
    said = words(made([*cases, rehearsal]))
    assert "RRRR-RR" not in said
    assert "Left out: a rehearsal: 1." in said
    with pytest.raises(ValueError, match="RRRR-RR is a rehearsal"):
        series_page([(*cases, rehearsal)], AGREED)


@pytest.mark.parametrize("n", [1, 4, 6, 8, 13, 44, 130])
def test_no_words_overlap_and_none_leave_the_drawing(n: int) -> None:
    found = drawings(made([*varied(n), *other()]))
    assert found
    for svg in found:
        assert overlaps(svg) == []
        assert outside(svg) == []


def test_every_drawing_has_a_name_and_every_mark_says_what_it_is() -> None:
    page = made([*varied(20), *other(9)])
    found = read(page)
    ids = [attributes["id"] for _, attributes in found.elements if attributes.get("id")]
    assert len(ids) == len(set(ids))
    pictures = [attributes for tag, attributes in found.elements if tag == "svg"]
    # Two series: run charts, two counts, failures, learning, rescues, the record's making, what it lacks.
    assert len(pictures) > 20
    for attributes in pictures:
        assert attributes["role"] == "img"
        assert attributes["aria-labelledby"] in ids
    for svg in drawings(page):
        for group in svg.iter("g"):
            assert group[0].tag == "title"
            assert (group[0].text or "").strip()
    tags = [tag for tag, _ in found.elements]
    assert tags.count("caption") == tags.count("table")
    assert all(attributes.get("scope") for tag, attributes in found.elements if tag == "th")


def test_what_is_told_without_colour_is_told_by_different_fills_and_shapes() -> None:
    page = made(varied(20))
    (making,) = [s for s in drawings(page) if "How the entries were made" in (s[0].text or "")]
    fills = [rect.attrib["fill"] for rect in making.iter("rect")]
    assert {"url(#hatch)"} < set(fills)
    legend = [text.text for text in making.iter("text")]
    assert legend[:4] == ["live", "late", "transcribed", "corrections"]


def test_all_that_the_charts_draw_stands_in_the_tables() -> None:
    cases = varied(70)
    page = made(cases)
    said = words(page)
    times = [one for one in times_of(cases) if not one.id.startswith("stage:")]
    assert "The last 60 of 70 cases in figures" in said
    for case in cases[-60:]:
        cells = [lasted_words(found.minutes) if (found := case.lasted(one.id)) else "-" for one in times]
        late, whole = case.making.modes[1], case.whole
        tail = f"{len(case.rescues)} {late} of {case.entries} {whole.unanswered} of {whole.steps}"
        yes = sum(leaflet.answer == "yes" for leaflet in case.leaflets)
        assert f"{case.case} {day_of(case)} {' '.join(cells)} {yes} of 2 {tail}" in said
    drawn: dict[str, list[float]] = {}
    for svg in drawings(page):
        for mark in svg.iter():
            if "data-value" in mark.attrib:
                drawn.setdefault(mark.attrib["data-n"], []).append(float(mark.attrib["data-value"]))
    assert set(drawn) == {one.id for one in times}
    for one in times:
        assert drawn[one.id] == pytest.approx(one.earlier[-60:], abs=1e-4)


def test_the_parts_of_the_record_are_the_sums_of_the_cases() -> None:
    cases = varied(22)
    said = words(made(cases))
    whole = accuracy(cases)
    assert sum((whole.live, whole.late, whole.transcribed, whole.corrections)) == whole.entries
    for name, some in [("all cases", cases), *quarters(cases)]:
        found = accuracy(some)
        assert (
            f"{name} {found.entries} {found.live} {found.late} {found.transcribed} {found.corrections} "
            f"{found.lag_words} {found.flagged}"
        ) in said
    assert [len(some) for _, some in quarters(cases)] == [5, 6, 5, 6]
    for one in rescue_counts(cases):
        assert f"{one.title} {one.count} of 22 (95 % interval" in said
    assert f"steps without an answer: {wholeness(cases).unanswered} of {wholeness(cases).steps}" in said


def test_a_count_stands_with_both_of_its_intervals() -> None:
    cases = small(37, failed=(4, 20))
    # 35 of 37: Wilson and Clopper-Pearson derived, check values 7 and 8.
    assert (
        "target leaflets modified 35 of 37 (95 % interval 82.3 to 98.5 %) 95 % interval 81.8 to 99.3 %"
    ) in words(made(cases))


def test_the_failed_leaflets_of_the_chart_stand_in_a_table_with_the_sum_after_each() -> None:
    cases = varied(70, failed=tuple(range(0, 70, 4)))
    chart = failure_chart(cases, AGREED.rates[0])
    assert isinstance(chart, FailureChart)
    said = words(made(cases))
    assert "Failed leaflets among the last 120 of 140" in said
    table = said[said.index("Failed leaflets among") : said.index("Past the learning phase?")]
    for at, one in enumerate(chart.tries):
        row = f" {at + 1} {one.case} {one.cusp} {chart.chart.path[at]:.2f} "
        assert (row in f"{table} ") is (one.failed and at >= 20)


ALLOWED = (r"\d+ % interval [\d.]+ to [\d.]+ %", r"[\d.]+ % interval of the median")
FROM_FIVE = ("quartiles", "in the median", "% interval", "median")
FROM_EIGHT = ("run of 8", "firm", "limits 0", "limits 1", "limits 2", "log scale", "half (n=")


@pytest.mark.parametrize("n", range(1, 8))
@pytest.mark.parametrize("agreed", [NOTHING, AGREED], ids=["no rates", "rates agreed"])
def test_small_series_show_nothing_that_the_gates_forbid(n: int, agreed: Agreed) -> None:
    # Late entries have a gate of their own: a case has several of them.
    cases = [replace(case, making=replace(case.making, lags_s=())) for case in small(n)]
    page = made(cases, agreed)
    said = words(page)
    said = said[: said.index("Published series")]
    for allowed in ALLOWED:
        said = re.sub(allowed, "", said) if n >= gates.RATE_INTERVAL_FROM else said
    assert "%" not in said
    if n < gates.HISTORY_FROM:
        assert [word for word in FROM_FIVE if word in said] == []
        for one in times_of(cases):
            if not one.id.startswith("stage:"):
                assert f"{n}: {', '.join(map(lasted_words, one.earlier))}" in said
    if n < gates.RUN_CHART_FROM:
        assert [word for word in FROM_EIGHT if word in said] == []
        assert not any("run chart" in (svg[0].text or "") for svg in drawings(page))
    if n < gates.RATE_INTERVAL_FROM:
        assert not any("interval" in (svg[0].text or "") for svg in drawings(page))
    if agreed is NOTHING:
        assert "No failure chart: the acceptable and the unacceptable failure rate must be agreed" in said
        assert "Past the learning phase?" not in said


def test_late_entries_below_five_are_told_one_by_one() -> None:
    cases = [replace(case, making=replace(case.making, lags_s=(120, 180))) for case in small(2)]
    assert "lag of late entries 2:00, 2:00, 3:00, 3:00" in words(made(cases))
    cases = [replace(case, making=replace(case.making, lags_s=(120, 180))) for case in small(3)]
    assert "lag of late entries median 2:30, n=6" in words(made(cases))


def test_no_cases_are_no_series() -> None:
    assert isinstance(series([]), Reason)
    assert grouped([], AGREED) == ((), ())


def hostile(payload: str) -> bytes:
    """A page with the payload wherever a checklist or an agreement can put words."""
    cases = [
        replace(
            case,
            revision=payload,
            checklist=payload,
            times=tuple(one._replace(title=payload) for one in case.times),
            rescues=tuple(replace(one, title=payload) for one in case.rescues),
            leaflets=tuple(replace(one, value=payload) for one in case.leaflets),
        )
        for case in varied(14)
    ]
    rates = AGREED.rates[0].model_copy(update={"reason": payload, "agreed": payload})
    return series_page([tuple(cases)], Agreed(rates=(rates,)), ((payload, 3),))


@cache
def harmless() -> list[tuple[str, tuple[str, ...]]]:
    return shape(hostile("a harmless line of words"))


@pytest.mark.parametrize("payload", PAYLOADS)
def test_whatever_a_checklist_says_stays_text(payload: str) -> None:
    page = hostile(payload)
    found = read(page)
    for tag, attributes in found.elements:
        assert tag in {name.lower() for name in PAGE_TAGS}
        for name in attributes:
            assert name in PAGE_ATTRIBUTES
    assert found.comments == 0
    assert shape(page) == harmless()


def test_the_page_loads_nothing_and_runs_nothing() -> None:
    said = made(varied(14)).decode("utf-8")
    assert "default-src 'none'" in said
    assert "<script" not in said
    assert not re.findall(r"(?:https?:)?//\w", said)
    assert "url(" not in said.replace("url(#hatch)", "")
