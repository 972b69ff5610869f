"""What the console does by itself once a case is sealed."""

from __future__ import annotations

from pathlib import Path

from labcheck.console.presses import keep_summary
from labcheck.debrief.kept import read_line, read_lines
from labcheck.debrief.summary import summarise
from tests.caselog.driving import Driver


def test_a_sealed_cases_figures_are_kept_for_the_next_debrief(tmp_path: Path) -> None:
    driver = Driver()
    for line in driver.refused("case.seal").unmet:
        driver.do("signout.settle", item=line.hold, reason="test")
    driver.do("case.seal")
    head = "ab" * 32
    keep_summary(driver.case, head, tmp_path)
    kept = read_lines(tmp_path)
    assert read_line(kept[driver.case.key], driver.case.key, head) == summarise(driver.case, head)
    assert read_line(kept[driver.case.key], driver.case.key, "cd" * 32) is None
