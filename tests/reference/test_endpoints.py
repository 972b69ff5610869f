"""What a log can know at room exit, and what it must leave pending."""

from decimal import Decimal

import pytest

from labcheck.reference import anatomy, bleeding
from labcheck.reference.anatomy import Boundaries, LeafletTop, ObstructionType
from labcheck.reference.bleeding import Bleed, Varc3Grade, Varc3Type
from labcheck.reference.endpoints import (
    PENDING_AT_EXIT,
    Answer,
    Intervention,
    RoomExit,
    procedural_death,
    technical_success,
)
from labcheck.reference.figures import Reason
from labcheck.reference.kidney_injury import AkiStage, aki_stage

D = Decimal


def test_an_empty_log_leaves_technical_success_pending_and_names_every_gap() -> None:
    verdict = technical_success(RoomExit())
    assert verdict.answer is Answer.PENDING
    assert len(verdict.because) == 5


def test_one_failed_criterion_decides_even_while_others_are_unknown() -> None:
    verdict = technical_success(RoomExit(valves_implanted=2))
    assert verdict.answer is Answer.NO
    assert verdict.because == ("not met: exactly one valve implanted",)


@pytest.mark.parametrize("valves", [0, 2])
def test_technical_success_needs_exactly_one_valve(valves: int) -> None:
    assert technical_success(RoomExit(True, True, valves, True, ())).answer is Answer.NO


def test_a_planned_stent_beside_a_bailout_stent_does_not_hide_it() -> None:
    stents = (Intervention("stent, left", planned=True), Intervention("stent, right", planned=False))
    assert technical_success(RoomExit(True, True, 1, True, stents)).answer is Answer.NO


@pytest.mark.parametrize(
    ("alive", "answer"), [(False, Answer.YES), (True, Answer.PENDING), (None, Answer.PENDING)]
)
def test_procedural_death_is_never_no_at_room_exit(alive: bool | None, answer: Answer) -> None:
    assert procedural_death(alive).answer is answer


def test_what_a_log_cannot_know_is_listed_as_pending() -> None:
    needed = {"device success", "early safety", "acute kidney injury", "haemoglobin drop"}
    assert needed <= set(PENDING_AT_EXIT)


def test_a_bleed_without_haemoglobin_is_graded_so_far_and_not_final() -> None:
    so_far = bleeding.varc3(Bleed(overt=True, units=D(1)))
    assert isinstance(so_far, Varc3Grade)
    assert (so_far.type, so_far.final) == (Varc3Type.ONE, False)
    severe = bleeding.varc3(Bleed(overt=True, severe=True))
    assert isinstance(severe, Varc3Grade)
    assert (severe.type, severe.final) == (Varc3Type.THREE, True)


def test_kidney_injury_is_not_final_while_a_peak_is_missing_and_a_reason_while_both_are() -> None:
    half = aki_stage(D("1.0"), D("1.1"), None, "mg/dL")
    assert isinstance(half, AkiStage)
    assert (half.stage, half.final) == (0, False)
    assert isinstance(aki_stage(D("1.0"), None, None, "mg/dL"), Reason)


@pytest.mark.parametrize(
    ("heights", "top"),
    [(("10", "10", None), LeafletTop.BELOW_OSTIUM), (("10.1", "10", "20"), LeafletTop.BELOW_STJ),
     (("20", "10", "20"), LeafletTop.BELOW_STJ), (("20.1", "10", "20"), LeafletTop.ABOVE_STJ)],
)  # fmt: skip
def test_a_leaflet_is_above_a_level_only_when_it_is_higher(
    heights: tuple[str, str, str | None], top: LeafletTop
) -> None:
    """Tang, EuroIntervention 2020 (from memory)."""
    cusp, coronary, junction = heights
    assert anatomy.leaflet_top(D(cusp), D(coronary), D(junction) if junction else None) is top


def test_the_boundary_signs_can_be_set() -> None:
    strict = Boundaries(on_vtc_is_narrow=False, on_vtstj_is_narrow=False, level_leaflet_is_above=True)
    assert anatomy.obstruction_type(LeafletTop.BELOW_STJ, D(4), None, strict) is ObstructionType.IIA
    assert anatomy.obstruction_type(LeafletTop.BELOW_STJ, D("3.9"), None, strict) is ObstructionType.IIB
    assert anatomy.obstruction_type(LeafletTop.ABOVE_STJ, D(5), D(2), strict) is ObstructionType.IIIA
    assert anatomy.leaflet_top(D(10), D(10), D(20), strict) is LeafletTop.BELOW_STJ


def features(height: str | None, sinus: str | None, vtc: str | None, vtstj: str | None) -> list[str]:
    given = [D(one) if one else None for one in (height, sinus, vtc, vtstj)]
    return [feature.text for feature in anatomy.high_risk_features(*given)]


def test_the_pair_of_height_and_sinus_needs_both() -> None:
    """Ribeiro, JACC Cardiovasc Interv 2013 (from memory): height below 12 with sinus below 30 mm."""
    assert features("11.9", "29.9", None, None) == ["coronary height below 12 mm with sinus below 30 mm"]
    assert features("12", "29.9", None, None) == []
    assert features("11.9", "30", None, None) == []
    assert features("11.9", None, None, None) == []


def test_single_features_include_their_boundary() -> None:
    """Review of safeguards and pitfalls, Ann Cardiothorac Surg (seen): at most 10, 4 and 2 mm."""
    assert features("10", "35", "4", "2") == [
        "coronary height at most 10 mm",
        "valve-to-coronary distance at most 4 mm",
        "valve-to-sinotubular-junction distance at most 2 mm",
    ]
    assert features("10.1", "35", "4.1", "2.1") == []
