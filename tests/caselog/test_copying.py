"""The quick copy says what the standard one says, for every class of the folded case."""

from __future__ import annotations

import dataclasses
import inspect

import pytest

from labcheck.caselog import case as case_parts
from labcheck.caselog.case import Case
from labcheck.caselog.copying import replace
from tests.debrief.cases import TWO, played

KINDS = [
    kind
    for _, kind in inspect.getmembers(case_parts, inspect.isclass)
    if dataclasses.is_dataclass(kind) and kind.__module__ == case_parts.__name__
]


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
def test_every_class_of_the_folded_case_holds_nothing_but_its_fields(kind: type) -> None:
    assert not hasattr(kind, "__post_init__")
    assert all(one.init for one in dataclasses.fields(kind))


def test_a_copy_with_each_field_changed_is_what_the_standard_copy_is() -> None:
    case = played(TWO)
    assert replace(case) == case
    assert replace(case) is not case
    for one in dataclasses.fields(Case):
        changed = {one.name: object()}
        assert replace(case, **changed) == dataclasses.replace(case, **changed)  # type: ignore[arg-type]
    assert replace(case.visits[0], end=None) == dataclasses.replace(case.visits[0], end=None)


def test_the_value_that_was_copied_stays_as_it_was() -> None:
    case = played(TWO)
    before = dataclasses.replace(case)
    replace(case, seal=None, log=())
    assert case == before


def test_a_field_that_is_not_there_is_refused() -> None:
    with pytest.raises(TypeError, match="Case has no field colour"):
        replace(played(TWO), colour="red")  # type: ignore[call-arg]
