"""Canonical bytes: RFC 8785 (JSON Canonicalization Scheme) for the narrow profile the ledger uses.

The profile: keys in ASCII, strings in NFC, whole numbers within 2**53 - 1, true, false and null.
Floats are refused, because their shortest form is where encoders differ. Inside the profile the standard
library's encoder writes the same bytes as a full RFC 8785 encoder; the tests hold both against each other.
"""

from __future__ import annotations

import json
import unicodedata
from collections.abc import Mapping
from typing import Any

from pydantic_core import to_json

from labcheck.caselog.stamps import SAFE

_ENCODER = json.JSONEncoder(sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


class NotCanonical(ValueError):  # noqa: N818 (reads as a fact)
    """A value lies outside the profile; the message names where."""


def encode(value: Mapping[str, Any]) -> bytes:
    """The canonical UTF-8 bytes of a JSON object. Raises ``NotCanonical`` outside the profile."""
    try:
        # The everyday value, asked at every save: in order and inside the profile beyond doubt.
        return to_json(_ordered(value))
    except _Doubt:
        _inspect(value, "")
        return _ENCODER.encode(value).encode("utf-8")


def decode(body: bytes) -> dict[str, Any]:
    """Read canonical bytes back. Raises ``NotCanonical`` if ``encode`` would not write exactly them."""
    try:
        value = json.loads(body)
    except (ValueError, RecursionError) as broken:
        raise NotCanonical(f"not JSON: {broken}") from None
    if not isinstance(value, dict):
        raise NotCanonical("not a JSON object")
    if encode(value) != body:
        raise NotCanonical("bytes are not in canonical form")
    return value


class _Doubt(Exception):  # noqa: N818 (reads as a fact)
    """Perhaps outside the profile, or text that takes the other encoder."""


def _ordered(value: Any) -> Any:
    """The value with its keys in order, if it is inside the profile beyond doubt."""
    kind = type(value)
    if kind is str:
        if not value.isascii():
            raise _Doubt
    elif kind is int:
        if not -SAFE <= value <= SAFE:
            raise _Doubt
    elif kind is dict:
        if not all(type(key) is str and key.isascii() for key in value):
            raise _Doubt
        return {key: _ordered(value[key]) for key in sorted(value)}
    elif kind is list:
        return [_ordered(inner) for inner in value]
    elif value is not None and kind is not bool:
        raise _Doubt
    return value


def _inspect(value: Any, where: str) -> None:
    """Find and name what lies outside the profile."""
    if isinstance(value, str):
        _inspect_text(value, where)
    elif value is None or isinstance(value, bool):
        return
    elif isinstance(value, int):
        if not -SAFE <= value <= SAFE:
            raise NotCanonical(f"{where or 'value'}: {value} is not a safe whole number (2**53 - 1)")
    elif isinstance(value, Mapping):
        for key, inner in value.items():
            if not isinstance(key, str) or not key.isascii():
                raise NotCanonical(f"{where or 'value'}: key {key!r} is not ASCII text")
            _inspect(inner, f"{where}.{key}" if where else key)
    elif isinstance(value, list | tuple):
        for place, inner in enumerate(value):
            _inspect(inner, f"{where}[{place}]")
    else:
        raise NotCanonical(f"{where or 'value'}: {type(value).__name__} has no canonical form here")


def _inspect_text(text: str, where: str) -> None:
    if text.isascii():
        return
    if not unicodedata.is_normalized("NFC", text):
        raise NotCanonical(f"{where or 'value'}: text is not in NFC")
    if any("\ud800" <= letter <= "\udfff" for letter in text):
        raise NotCanonical(f"{where or 'value'}: text holds half of a surrogate pair")
