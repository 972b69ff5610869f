"""Case keys and press ids."""

from __future__ import annotations

import itertools
import random
import re
from collections import Counter

import pytest

from labcheck.caselog.events import Event
from labcheck.ledger.keys import LETTERS, new_case_key, new_press


def test_a_key_fits_the_events_and_has_nothing_to_misread() -> None:
    pattern = Event.model_fields["case"].metadata[0].pattern
    for seed in range(200):
        key = new_case_key(random.Random(seed).randbytes, lambda _: False)
        assert re.fullmatch(pattern, key)
        assert not set(key) & set("IO01AEUY")


def test_a_taken_key_is_drawn_again() -> None:
    source = random.Random(7).randbytes
    first = new_case_key(random.Random(7).randbytes, lambda _: False)
    assert new_case_key(source, lambda key: key == first) != first


def test_a_broken_source_of_randomness_ends_instead_of_hanging() -> None:
    with pytest.raises(RuntimeError, match="randomness"):
        new_case_key(lambda n: bytes(n), lambda _: True)


def test_every_letter_is_equally_likely() -> None:
    # All 256 byte values twice over: the last four would favour the first letters, so they are drawn again.
    drawn = itertools.cycle(range(256))
    seen: Counter[str] = Counter()
    for _ in range(len(LETTERS) * 18 // 6):
        seen.update(new_case_key(lambda n: bytes([next(drawn)]), lambda _: False).replace("-", ""))
    assert seen == dict.fromkeys(LETTERS, 18)


def test_a_press_id_is_thirty_two_hex_digits() -> None:
    assert re.fullmatch(r"[0-9a-f]{32}", new_press(random.Random(1).randbytes))
