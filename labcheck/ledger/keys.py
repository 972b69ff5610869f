"""Case keys and press ids, from random bytes that the caller hands in."""

from __future__ import annotations

from collections.abc import Callable

LETTERS = "BCDFGHJKLMNPQRSTVWXZ23456789"
"""No I, O, 0, 1 (misread) and no other vowel, so that a key never spells a word."""

FAIR = 256 - 256 % len(LETTERS)


def new_case_key(random_bytes: Callable[[int], bytes], taken: Callable[[str], bool]) -> str:
    """A key like K7Q2-M4 that is not taken: 28**6, about 480 million keys. It says nothing about the patient.

    Raises ``RuntimeError`` if 1,000 draws were all taken (a broken source of randomness).
    """
    for _ in range(1000):
        six = "".join(_letter(random_bytes) for _ in range(6))
        key = f"{six[:4]}-{six[4:]}"
        if not taken(key):
            return key
    raise RuntimeError("no free case key in 1000 draws; the source of randomness is broken")


def new_press(random_bytes: Callable[[int], bytes]) -> str:
    """The id of one key press: 32 hex digits."""
    return random_bytes(16).hex()


def _letter(random_bytes: Callable[[int], bytes]) -> str:
    # Bytes past the last whole multiple would favour the first letters; draw again instead.
    while (drawn := random_bytes(1)[0]) >= FAIR:
        continue
    return LETTERS[drawn % len(LETTERS)]
