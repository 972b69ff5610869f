"""Endpoints of the other techniques, as their rehearsals come to them."""

from __future__ import annotations

from functools import cache

import pytest

from labcheck.caselog.endpoints import Endpoint, endpoints, interventions
from tests.caselog.test_rehearsals import played


@cache
def answers(name: str) -> dict[tuple[str, str | None], Endpoint]:
    return {(one.name, one.cusp or one.ostium): one for one in endpoints(played(name))}


def test_wiring_a_coronary_modifies_no_leaflet() -> None:
    assert not [name for name, _ in answers("coronary-protection") if name == "leaflet_modified"]


def test_a_planned_stent_that_was_deployed_is_told_apart_from_a_rescue() -> None:
    found = answers("coronary-protection")
    assert found["planned_stent", "left"].answer == "yes"
    assert found["planned_stent", "right"].answer == "no"
    assert found["rescue_stent", "left"].answer == "no"
    assert found["technical_success", None].answer == "yes"


def test_a_flow_that_was_slow_for_a_while_is_not_denied() -> None:
    found = answers("coronary-protection")
    assert found["coronary_flow_normal", "left"].answer == "yes"
    assert found["coronary_obstruction_in_room", "left"].answer == "yes"
    assert found["coronary_obstruction_in_room", "left"].value == "partial"
    assert found["coronary_obstruction_in_room", "right"].answer == "no"


@pytest.mark.parametrize(
    ("name", "cusp", "value"),
    [
        ("splitter-one-cusp", "left", "split"),
        ("splitter-two-cusps", "left", "partial"),
        ("anterior-mitral", "anterior_mitral", "cut"),
        ("fused-leaflet", "fused", "cut"),
    ],
)
def test_a_leaflet_split_in_the_end_is_modified(name: str, cusp: str, value: str) -> None:
    found = answers(name)["leaflet_modified", cusp]
    assert (found.answer, found.value) == ("yes", value)


def test_filling_and_drugs_are_no_intervention() -> None:
    assert interventions(played("anterior-mitral")) == ()


def test_a_covered_stent_at_the_access_is_an_intervention() -> None:
    found = answers("fused-leaflet")["technical_success", None]
    assert found.answer == "no"
    assert any("intervention" in why for why in found.because)
