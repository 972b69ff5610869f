"""The sheet of any case whatever: random presses, then the debrief."""

from __future__ import annotations

from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from labcheck.debrief.lines import WIDTH
from labcheck.debrief.page.document import page
from labcheck.debrief.screen import screen_lines
from labcheck.debrief.sheet import sheet
from labcheck.debrief.timeline import timeline
from tests.caselog.driving import Driver
from tests.caselog.test_machine import FIELDS
from tests.debrief.reading_pages import drawings, overlaps, read

INTENTS = st.sampled_from(sorted(FIELDS)).flatmap(
    lambda do: st.tuples(st.just(do), st.fixed_dictionaries(FIELDS[do]))
)


@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
)
@given(st.lists(st.tuples(INTENTS, st.integers(min_value=0, max_value=600)), max_size=25))
def test_any_case_has_a_sheet_that_leaves_no_entry_out(
    presses: list[tuple[tuple[str, dict[str, Any]], int]],
) -> None:
    driver = Driver("left", "right")
    for (do, fields), seconds in presses:
        driver.now_us += seconds * 1_000_000
        driver.press(do, **fields)
    case = driver.case
    lines = sheet(case, "f" * 64, len(case.log))
    assert all(line.isprintable() and len(line) <= WIDTH for line in lines)
    told = timeline(case)
    seen = " ".join(f"{line.seq} {line.words} {' '.join(line.notes)}" for line in told)
    numbers = seen.replace("[", " ").replace("]", " ").split()
    assert all(str(event.seq) in numbers for event in case.log)
    assert len({line.seq for line in told}) == len(told)


@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
)
@given(st.lists(st.tuples(INTENTS, st.integers(min_value=0, max_value=600)), max_size=25))
def test_any_case_has_a_page_without_overlapping_words_and_a_screen(
    presses: list[tuple[tuple[str, dict[str, Any]], int]],
) -> None:
    driver = Driver("left", "right")
    for (do, fields), seconds in presses:
        driver.now_us += seconds * 1_000_000
        driver.press(do, **fields)
    case = driver.case
    found = page(case, "f" * 64, len(case.log))
    assert read(found).elements
    assert all(overlaps(svg) == [] for svg in drawings(found))
    lines = screen_lines(case, 80, 24)
    assert len(lines) == 24
    assert all(len(line) <= 80 for line in lines)
