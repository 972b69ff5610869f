"""Which cases a case may be compared with, and which comparisons are refused."""

from __future__ import annotations

import inspect
from dataclasses import replace
from decimal import Decimal

import pytest

from labcheck.checklist.complaint import ChecklistError
from labcheck.debrief import agreed as agreed_file
from labcheck.debrief.agreed import Agreed, Join, read_agreed
from labcheck.debrief.comparing import compared, own_words
from labcheck.debrief.history import given_history, grouped, own_history, series
from labcheck.debrief.summary import Summary
from labcheck.reference.figures import Reason
from tests.debrief.cases import ONE, TWO, history_like, played, summary


def present() -> Summary:
    """A real case of one cusp."""
    return replace(summary(played(ONE)), rehearsal=False)


def earlier(n: int = 6) -> list[Summary]:
    return history_like(present(), n)


JOINED = Agreed(join=(Join(checklist="electrosurgical", revisions=("1", "2"), reason="wording only"),))


def test_the_present_case_is_never_in_its_own_history() -> None:
    found = own_history(present(), [*earlier(), present()])
    assert present().case not in [one.case for one in found.earlier]
    assert len(found.earlier) == 6


def test_earlier_cases_stand_in_the_order_in_which_they_were_opened() -> None:
    opened = [one.opened_us for one in own_history(present(), reversed(earlier())).earlier]
    assert opened == sorted(opened)


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"technique": "mechanical_splitter"}, "another technique (mechanical splitter)"),
        ({"cusps": ("left", "right")}, "another number of cusps (2 and not 1)"),
        ({"rehearsal": True}, "a rehearsal"),
        ({"sealed": False}, "not sealed"),
        ({"revision": "2", "digest": "f" * 64}, "another revision of the checklist (2, not joined)"),
        ({"digest": "f" * 64}, "another text of checklist revision 1, not joined"),
        ({"checklist": "local"}, "another checklist (local)"),
        ({"opened_us": 2**52}, "opened later"),
    ],
)
def test_what_cannot_be_compared_is_left_out_and_counted(change: dict[str, object], why: str) -> None:
    cases = earlier()
    odd = replace(cases[2], **change)  # type: ignore[arg-type]
    found = own_history(present(), [*cases[:2], odd, *cases[3:]])
    assert len(found.earlier) == 5
    assert found.left_out == ((why, 1),)


WRONG: list[tuple[dict[str, object], str]] = [
    ({"technique": "mechanical_splitter"}, "another technique"),
    ({"cusps": ("left", "right")}, "another number of cusps"),
    ({"revision": "2", "digest": "f" * 64}, "another revision of the checklist (2, not joined)"),
    ({"digest": "f" * 64}, "another text of checklist revision 1, not joined"),
    ({"checklist": "local"}, "another checklist"),
    ({"rehearsal": True}, "a rehearsal"),
    ({"sealed": False}, "not sealed"),
]


@pytest.mark.parametrize(("change", "why"), WRONG)
@pytest.mark.parametrize("place", [0, 3, 5])
def test_a_mixed_history_that_was_asked_for_is_refused_with_the_case_and_the_reason(
    change: dict[str, object], why: str, place: int
) -> None:
    cases = earlier()
    cases[place] = replace(cases[place], **change)  # type: ignore[arg-type]
    found = given_history(present(), cases)
    assert isinstance(found, Reason)
    assert cases[place].case in found.text
    assert why in found.text
    assert "leave it out" in found.text


@pytest.mark.parametrize(("change", "why"), WRONG)
def test_a_mixed_series_is_refused_with_both_cases_and_the_reason(
    change: dict[str, object], why: str
) -> None:
    cases = earlier()
    cases[2] = replace(cases[2], **change)  # type: ignore[arg-type]
    found = series(cases)
    assert isinstance(found, Reason)
    assert cases[2].case in found.text
    assert why in found.text
    assert "look at them apart" in found.text
    assert not isinstance(series(earlier()), Reason)


def test_the_present_case_in_a_history_that_was_asked_for_is_refused() -> None:
    found = given_history(present(), [*earlier(), present()])
    assert isinstance(found, Reason)
    assert "its own history" in found.text


def test_a_case_named_twice_is_refused() -> None:
    cases = earlier()
    assert isinstance(given_history(present(), [*cases, cases[0]]), Reason)
    assert isinstance(series([*cases, cases[0]]), Reason)


def test_joined_revisions_are_one_history() -> None:
    cases = [replace(one, revision="2", digest="f" * 64) for one in earlier()]
    assert own_history(present(), cases).earlier == ()
    assert len(own_history(present(), cases, JOINED).earlier) == 6


def test_two_texts_of_one_revision_are_one_history_only_where_that_is_agreed() -> None:
    cases = [replace(one, digest="f" * 64) for one in earlier()]
    alone = Agreed(join=(Join(checklist="electrosurgical", revisions=("1",), reason="a spelling"),))
    assert own_history(present(), cases).earlier == ()
    assert len(own_history(present(), cases, alone).earlier) == 6


def test_a_rehearsal_is_compared_with_rehearsals_only_when_asked() -> None:
    rehearsed = summary(played(ONE))
    others = history_like(rehearsed, 6)
    assert own_history(rehearsed, others).earlier == ()
    assert len(own_history(rehearsed, others, rehearsals=True).earlier) == 6
    assert own_history(rehearsed, earlier(), rehearsals=True).earlier == ()
    assert own_history(present(), earlier(), rehearsals=True).earlier == ()


def test_a_series_of_mixed_techniques_is_refused() -> None:
    two = replace(summary(played(TWO)), rehearsal=False, technique="mechanical_splitter")
    found = series([*earlier(), two])
    assert isinstance(found, Reason)
    assert "another technique" in found.text
    assert isinstance(series([]), Reason)


def test_all_cases_fall_into_comparable_series_and_nothing_is_lost() -> None:
    two = replace(summary(played(TWO)), rehearsal=False)
    cases = [*earlier(), *history_like(two, 3), replace(present(), sealed=False)]
    groups, left = grouped(cases)
    assert [len(group) for group in groups] == [6, 3]
    assert left == (("not sealed", 1),)


def test_the_example_in_the_docstring_is_a_sound_agreement() -> None:
    text = inspect.getdoc(agreed_file) or ""
    found = read_agreed(text.partition("::")[2].replace("\n    ", "\n"), "debrief.toml")
    assert found.joined("electrosurgical", "1", "2")
    rates = found.rates_of("electrosurgical")
    assert rates is not None
    assert (rates.acceptable, rates.unacceptable) == (Decimal("0.05"), Decimal("0.15"))


def test_times_known_by_the_wall_clock_only_are_counted_out_loud() -> None:
    past = earlier(8)
    past[2] = replace(past[2], times=tuple(one._replace(wall=True) for one in past[2].times))
    one = compared(own_history(present(), past), "access_to_exit", "x")
    assert own_words(one).endswith("1 of them by the wall clock only")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("format = 2", "format"),
        ('[[join]]\nchecklist = "a"\nrevisions = []\nreason = "x"', "revisions"),
        (
            '[[rates]]\ntechnique = "a"\nacceptable = 0.2\nunacceptable = 0.1\nagreed = "2031-01-01"\nreason = "x"',
            "below",
        ),
        ('[[rates]]\ntechnique = "a"\nacceptable = 0.1\nunacceptable = 0.2\nreason = "x"', "agreed"),
        ("surprise = 1", "surprise"),
    ],
)  # fmt: skip
def test_a_faulty_agreement_is_refused_with_its_key(text: str, said: str) -> None:
    with pytest.raises(ChecklistError, match=said):
        read_agreed(text, "debrief.toml")
