"""The digest and the forms of the head."""

from __future__ import annotations

import base64
import hashlib
import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labcheck.caselog.events import NoteWritten
from labcheck.checklist.plan import Coronary
from labcheck.ledger.canonical import NotCanonical
from labcheck.ledger.chain import FIRST_PREV, digest, link, read_event, same_head, short_head
from tests.ledger.making import Maker

heads = st.binary(min_size=32, max_size=32).map(bytes.hex)


def test_the_digest_covers_the_tag_and_the_body() -> None:
    body = b'{"a":1}'
    assert digest(body) == hashlib.sha256(b"labcheck-event-v1" + b"\x00" + body).digest()
    assert digest(body) != hashlib.sha256(body).digest()


@given(st.text(max_size=60))
def test_an_event_comes_back_whatever_its_text_looks_like(text: str) -> None:
    # The chain's field is cut out of the bytes; text that looks like it must not confuse that.
    (event,) = Maker().note(text)
    try:
        record = link(event, FIRST_PREV)
    except NotCanonical:
        return
    assert read_event(record.body, FIRST_PREV) == event


def test_text_that_imitates_the_chains_field_stays_text() -> None:
    imitation = f',"prev":"{FIRST_PREV.hex()}"'
    (event,) = Maker().note(imitation)
    back = read_event(link(event, FIRST_PREV).body, FIRST_PREV)
    assert back.what == NoteWritten(text=imitation)


def test_an_opening_with_every_measurement_fits_and_a_monster_does_not() -> None:
    coronary = {
        "height_mm": "9.5", "sinus_width_mm": "28.25", "cusp_height_mm": "12", "stj_height_mm": "19",
        "vtc_mm": "2.5", "vtstj_mm": "3", "leaflet_calcium_mm3": "412", "eccentric": True,
    }  # fmt: skip
    both = tuple(
        Coronary.model_validate_json(json.dumps({**coronary, "ostium": side})) for side in ("left", "right")
    )
    (event,) = Maker().opening(coronaries=both, roles=tuple(f"role {n} " + "x" * 180 for n in range(20)))
    assert len(link(event, FIRST_PREV).body) > 4096
    (monster,) = Maker().opening(roles=tuple("y" * 200 for _ in range(100)))
    with pytest.raises(NotCanonical, match="limit is 16384"):
        link(monster, FIRST_PREV)


@given(heads)
def test_the_short_head_is_the_first_eighty_bits(head: str) -> None:
    letters = short_head(head).replace("-", "")
    assert len(letters) == 16
    assert base64.b32decode(letters) == bytes.fromhex(head)[:10]


@given(heads)
def test_a_head_read_from_paper_matches_in_any_spelling(head: str) -> None:
    short = short_head(head)
    for typed in (short, short.lower(), short.replace("-", " "), head, head.upper(), f"  {short} "):
        assert same_head(typed, head)


@given(heads, heads)
def test_another_head_does_not_match(head: str, other: str) -> None:
    if head[:20] != other[:20]:
        assert not same_head(short_head(other), head)
    assert not same_head(short_head(head)[:-1], head)
    assert not same_head("", head)
