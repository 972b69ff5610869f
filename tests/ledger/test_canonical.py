"""Canonical bytes against an independent encoder and the vectors of RFC 8785."""

from __future__ import annotations

import json
import math
import unicodedata
from typing import Any

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from labcheck.caselog.stamps import SAFE
from labcheck.ledger.canonical import NotCanonical, decode, encode

ascii_keys = st.text(st.characters(max_codepoint=127), max_size=8)
nfc_text = st.text(max_size=20).map(lambda text: unicodedata.normalize("NFC", text))
values = st.recursive(
    st.none() | st.booleans() | st.integers(-SAFE, SAFE) | nfc_text,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(ascii_keys, inner, max_size=4),
    max_leaves=12,
)
profile = st.dictionaries(ascii_keys, values, max_size=6)


@given(profile)
def test_the_bytes_are_those_of_an_independent_encoder(value: dict[str, Any]) -> None:
    assert encode(value) == rfc8785.dumps(value)


@given(profile)
def test_canonical_bytes_read_back_to_the_same_value(value: dict[str, Any]) -> None:
    assert decode(encode(value)) == value


def test_strings_are_escaped_as_in_rfc_8785_section_3_2_2() -> None:
    # RFC 8785 (Rundgren, Jordan, Erdtman, 2020), the "string" member of the example in 3.2.2 and 3.2.3.
    value = {"string": "\u20ac$\u000f\u000aA'\u0042\u0022\u005c\\\"\u002f"}
    expected = '{"string":"\u20ac$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}'
    assert encode(value) == expected.encode("utf-8")


def test_members_are_sorted_at_every_depth() -> None:
    assert encode({"b": {"d": 1, "c": 2}, "a": [{"z": None, "y": True}]}) == (
        b'{"a":[{"y":true,"z":null}],"b":{"c":2,"d":1}}'
    )


@pytest.mark.parametrize(
    ("value", "complaint"),
    [
        ({"a": 1.5}, "a: float"),
        ({"a": math.nan}, "a: float"),
        ({"a": SAFE + 1}, "safe whole number"),
        ({"a": -SAFE - 1}, "safe whole number"),
        ({"é": 1}, "ASCII"),
        ({1: 1}, "ASCII"),
        ({"a": ["x", {"b": "e\u0301"}]}, r"a\[1\]\.b: text is not in NFC"),
        ({"a": "\ud800"}, "surrogate"),
        ({"a": b"x"}, "bytes"),
    ],
)
def test_what_lies_outside_the_profile_is_refused_and_named(value: Any, complaint: str) -> None:
    with pytest.raises(NotCanonical, match=complaint):
        encode(value)


@pytest.mark.parametrize(
    "body",
    [
        b'{"a": 1}',
        b'{"b":1,"a":2}',
        b'{"a":1,"a":1}',
        b'{"a":1.0}',
        b'{"a":"\\u0041"}',
        b"[1]",
        b"",
        b"{",
        b"\xff",
    ],
)
def test_other_spellings_of_the_same_value_are_refused(body: bytes) -> None:
    with pytest.raises(NotCanonical):
        decode(body)


def test_the_largest_safe_number_keeps_its_digits() -> None:
    assert json.loads(encode({"a": SAFE}))["a"] == 9_007_199_254_740_991
