"""The quick look must never settle what a close look would complain about."""

from __future__ import annotations

import json
import random
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labcheck.caselog.events import (
    AddendumAdded,
    CaseSealed,
    DecisionMade,
    MarkSet,
    NoteWritten,
    StepAnswered,
)
from labcheck.ledger import envelope
from labcheck.ledger.canonical import decode
from labcheck.ledger.chain import FIRST_PREV, Record, digest, link
from labcheck.ledger.checking import Walk
from labcheck.ledger.envelope import settled
from tests.ledger.making import Maker


def examples() -> list[Record]:
    maker = Maker()
    presses = [
        maker.opening(targets=("left", "right")),
        maker.note("dextrose is connected"),
        maker.void(2),
        maker.lease(),
        maker.mark(),
        maker.press(MarkSet(), StepAnswered(stage="traversal", step="snare", answer="done"), from_mark=5),
        maker.note("late", late_reason="was scrubbed", mode="late"),
        maker.press(DecisionMade(decision="neuroprotection", choice="used")),
        maker.press(CaseSealed(entries=8, signed_by="N1")),
    ]
    return [link(event, FIRST_PREV) for press in presses for event in press]


def test_ordinary_entries_are_settled_by_the_quick_look() -> None:
    assert [record.kind for record in examples() if not settled(record)] == []


def test_a_kind_seen_before_is_judged_as_one_seen_for_the_first_time() -> None:
    """One pattern is kept for each kind that passed; it must say the same as the look it was made from."""
    for record in examples():
        envelope._learnt.clear()
        first = settled(record), settled(record._replace(target=4)), settled(record._replace(seq=99))
        again = settled(record), settled(record._replace(target=4)), settled(record._replace(seq=99))
        assert first == again == (True, False, False)


@given(st.text(st.characters(max_codepoint=127), max_size=30))
def test_every_escape_is_settled_only_in_its_canonical_spelling(text: str) -> None:
    maker = Maker()
    maker.opening()
    (event,) = maker.note(text)
    record = link(event, FIRST_PREV)
    assert settled(record)
    decode(record.body)
    assert not settled(record._replace(body=record.body.replace(b'"text":"', b'"text":"\\u0041')))


@given(st.text(max_size=12))
def test_letters_beyond_ascii_are_settled_in_their_normal_form_only(text: str) -> None:
    maker = Maker()
    maker.opening()
    (event,) = maker.note("étude")
    record = link(event, FIRST_PREV)
    assert settled(record)
    spoken = json.dumps(text, ensure_ascii=False).encode("utf-8", "surrogatepass")
    changed = record._replace(body=record.body.replace('"étude"'.encode(), spoken))
    if settled(changed):
        decode(changed.body)


def test_letters_that_are_not_composed_are_not_settled() -> None:
    maker = Maker()
    maker.opening()
    (event,) = maker.note("étude")
    record = link(event, FIRST_PREV)
    assert not settled(record._replace(body=record.body.replace("é".encode(), "e\u0301".encode())))
    assert not settled(record._replace(body=record.body.replace("é".encode(), b"\xe9")))


@given(st.integers(0, 10), st.randoms(use_true_random=False))
def test_no_changed_body_is_settled_unless_a_close_look_agrees(which: int, chance: random.Random) -> None:
    record = chance.choice(examples())
    body = bytearray(record.body)
    for _ in range(1 + which % 3):
        at = chance.randrange(len(body))
        choice = chance.random()
        if choice < 0.4:
            body[at] = chance.choice(b'0123456789"{}[]:,abnull \\.-e\x00\xc3')
        elif choice < 0.7:
            del body[at]
        else:
            body.insert(at, chance.choice(b' "0,19.\\'))
    changed = record._replace(body=bytes(body), hash=digest(bytes(body)))
    if settled(changed):
        value = decode(changed.body)
        assert list(Walk(record.case)._columns(changed, value)) == []


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (b'"cusp":null,"kind":"note.written"', b'"kind":"note.written","cusp":null'),
        (b'"seq":2,', b'"seq":02,'),
        (b'"wall_us":1772000001000000', b'"wall_us":9999999999999999'),
        (b'"cusp":null', b'"cusp":1.5'),
        (b'"cusp":null', b'"cusp":9007199254740993'),
        (b'"cusp":null', b'"cusp": null'),
        (b'"cusp":null', b'"cusp":null,"cusp":null'),
        (b'"mode":"live"', b'"mode":"live","more":1'),
        (b'"seq":2,', b'"seq":3,'),
        (b'"epoch":1', b'"epoch":2'),
        (b'"kind":"note.written"', b'"kind":"mark.set"'),
    ],
)
def test_other_spellings_and_other_facts_are_not_settled(old: bytes, new: bytes) -> None:
    record = examples()[1]
    assert settled(record)
    assert old in record.body
    assert not settled(record._replace(body=record.body.replace(old, new)))


@pytest.mark.parametrize("column", ["case", "seq", "event_id", "epoch", "kind", "target", "prev"])
def test_every_column_is_held_against_the_body(column: str) -> None:
    other: dict[str, Any] = {
        "case": "AAAA-AA",
        "seq": 9,
        "event_id": "x",
        "epoch": 9,
        "kind": "mark.set",
        "target": 1,
        "prev": b"x" * 32,
    }
    record = examples()[1]
    assert not settled(record._replace(**{column: other[column]}))


def test_text_cannot_pass_for_a_column() -> None:
    maker = Maker()
    maker.opening()
    (event,) = maker.note(
        '},"id":"x","late_reason":,"seq":9,"v":1,"what":{,"epoch":7,"from_mark":"kind":"mark.set"'
    )
    record = link(event, FIRST_PREV)
    assert settled(record)
    assert not settled(record._replace(seq=9))
    assert not settled(record._replace(epoch=7))
    assert not settled(record._replace(event_id="x"))
    assert not settled(record._replace(kind="mark.set"))


def test_a_kind_within_a_kind_is_not_taken_for_it() -> None:
    maker = Maker()
    maker.opening()
    (event,) = maker.press(AddendumAdded(fact=NoteWritten(text="pacing was tested"), reason="forgotten"))
    record = link(event, FIRST_PREV)
    assert settled(record)
    assert not settled(record._replace(kind="note.written"))
