"""What a panel says before it records: the range that was tested, the line for paper, all that is to be read back."""

from __future__ import annotations

from decimal import Decimal

import pytest

from labcheck.caselog.telling import tell
from labcheck.checklist.plan import Plan
from labcheck.console.panels import drug, reading
from labcheck.console.panels.pick import FEW, Item, Pick
from labcheck.console.plan_form import first_values, plan_from
from labcheck.ledger.chain import short_head
from tests.caselog.driving import small
from tests.console.desk import TestDesk
from tests.console.zones.scenes import CHECKLIST as ELECTROSURGICAL

SMALL_PANEL = (80, 13)
"""What an 80x24 terminal leaves for a panel."""


def shipped() -> TestDesk:
    desk = TestDesk("left", "right", checklist=ELECTROSURGICAL.read_bytes())
    desk.press("enter")
    return desk


def seen(desk: TestDesk) -> str:
    assert desk.panel is not None
    return " ".join(desk.panel.draw(*SMALL_PANEL).plain.split())


def ask(desk: TestDesk, reading_id: str, typed: str) -> None:
    desk.panel = reading.start(desk, reading_id)
    desk.press(*typed, "enter")


def accept(desk: TestDesk) -> None:
    """A second Enter, late enough to be an answer."""
    desk.panel.opened_at = desk.now_us / 1e6 - 1  # type: ignore[union-attr]
    desk.press("enter")


def test_a_dose_outside_its_range_is_asked_about_with_that_range_and_no_advice() -> None:
    desk = shipped()
    desk.panel = drug.start(desk, "heparin")
    desk.press(*"50", "enter")
    assert "Heparin 50 is outside 500 to 20000 IU" in seen(desk)
    assert "no advice on a dose" in seen(desk)


def test_a_reading_outside_its_range_is_asked_about_with_where_the_range_comes_from() -> None:
    desk = shipped()
    ask(desk, "act", "21")
    assert "is outside 70 to 999 s" in seen(desk)
    assert "that range: " in seen(desk)
    assert "verify locally" in seen(desk)


def test_two_counters_that_do_not_fit_are_doubted_and_no_range_is_named() -> None:
    desk = shipped()
    ask(desk, "kap", "120")
    ask(desk, "air_kerma", "1")
    assert "no range was passed" in seen(desk)
    accept(desk)
    assert (desk.case.readings[-1].what.reading, desk.case.readings[-1].what.outside) == ("air_kerma", True)
    assert "doubted, accepted" in tell(desk.case, desk.case.log[-1])


def test_a_counter_that_fell_is_recorded_as_reset_when_that_is_said() -> None:
    desk = shipped()
    ask(desk, "kap", "120")
    ask(desk, "kap", "3")
    assert "the counter was reset" in seen(desk)
    assert len(desk.case.readings) == 1
    accept(desk)
    assert (desk.case.readings[-1].what.value, desk.case.readings[-1].what.reset) == (3, True)


@pytest.mark.parametrize("typed", ["12,500", "1,250", "1,250,000"])
def test_a_number_that_could_be_thousands_or_a_decimal_is_not_taken(typed: str) -> None:
    desk = shipped()
    ask(desk, "kap", typed)
    assert not desk.case.readings
    assert f"type {typed.replace(',', '')}, or a point for decimals" in seen(desk)


@pytest.mark.parametrize(("typed", "value"), [("12,5", "12.5"), ("12,50", "12.50"), ("12.500", "12.500")])
def test_a_decimal_comma_is_a_decimal_point(typed: str, value: str) -> None:
    desk = shipped()
    ask(desk, "kap", typed)
    assert desk.case.readings[-1].what.value == Decimal(value)


def test_the_line_for_paper_stays_that_of_the_seal_whatever_is_added() -> None:
    desk = TestDesk()
    desk.press("enter")
    desk.wait(1200)
    desk.press("o")
    for _ in range(20):
        if desk.case.seal is None:
            desk.press("down", "enter") if "close the case" in desk.text() else desk.press("1", "1")
    assert desk.case.seal is not None
    paper = f"{short_head(desk.head_hex)} with {desk.case.seal.seq} entries"
    assert paper in seen(desk)
    desk.press("1", *short_head(desk.head_hex), "enter")
    assert desk.case.log[-1].kind == "seal.attested"
    desk.press("o")
    assert paper in seen(desk)
    desk.press("1", *paper.split()[0], "enter")
    assert [event.kind for event in desk.case.log[-2:]] == ["seal.attested"] * 2


def test_everything_to_be_read_back_at_a_handover_can_be_seen_and_the_field_stays() -> None:
    desk = shipped()
    for number in ("1", "2", "3", "4", "7"):
        desk.press("b", number)
        if desk.panel is not None:
            desk.press("1")
    desk.press("f7", "f8", "f2", "f2", "f2", "h")
    assert desk.panel is not None
    lead = desk.panel.lead  # type: ignore[attr-defined]
    assert len(lead) > 10
    text = ""
    for _ in range(4):
        assert "next recorder's tag" in seen(desk)
        text += seen(desk)
        desk.press("pagedown")
    assert [line for line in lead if " ".join(line.split()) not in text] == []


@pytest.mark.parametrize("items", [1, 3, 9, 14])
@pytest.mark.parametrize("said", [0, 1, 5, 12, 40])
def test_however_much_is_said_above_a_list_some_of_it_stays_to_pick_from(items: int, said: int) -> None:
    picked: list[int] = []
    lines = [Item(f"item {n}", lambda _press, n=n: picked.append(n)) for n in range(items)]  # type: ignore[misc]
    panel = Pick(TestDesk(), "LIST", lines, [f"said {n}" for n in range(said)])
    for width, height in (SMALL_PANEL, (120, 20)):
        drawn = panel.draw(width, height).plain
        shown = sum(f"item {n} " in drawn for n in range(items))
        assert shown >= min(items, FEW) - 1
        assert len(drawn.split("\n")) <= height
        if said:
            assert "said " in drawn


@pytest.mark.parametrize("tag", ["night nurse 2", "N1234567890", "Zoë"])
def test_a_recorders_tag_is_never_changed_into_another(tag: str) -> None:
    values = {**first_values(small()), "recorder": tag}
    assert f'not "{tag}"' in str(plan_from(small(), values))
    assert isinstance(plan_from(small(), {**values, "recorder": "N2"}), Plan)
