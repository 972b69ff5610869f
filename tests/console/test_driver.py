"""What the terminal may send: old mouse reports, unknown keys and broken UTF-8 never become a key press."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labcheck.console.driver import clean


@pytest.mark.parametrize(
    ("sent", "kept"),
    [
        (b"\r", b"\r"),
        (b"\x1b", b"\x1b"),
        (b"\x1b[A", b"\x1b[A"),
        (b"\x1bOP", b"\x1bOP"),
        (b"\x1b[15~", b"\x1b[15~"),
        (b"\x1b[24~", b"\x1b[24~"),
        (b"\x1b[5~", b"\x1b[5~"),
        (b"\x1b[200~text\x1b[201~", b"\x1b[200~text\x1b[201~"),
        (b"\x1b[<0;3;4M", b"\x1b[<0;3;4M"),
        # F13 to F20 and an unknown key: Textual would read them as printable characters, F18 as Space.
        (b"\x1b[25~", b""),
        (b"\x1b[32~", b""),
        (b"\x1b[34~", b""),
        (b"\x1b[99~", b""),
        (b"\x1b[32;2~", b""),
        # Mouse reports of the old form; the three bytes may be anything, also a Space or a carriage return.
        (b"\x1b[M !!", b""),
        (b"\x1b[M\xff\xfe\r", b""),
        (b"a\x1b[M \r b", b"ab"),
    ],
)
def test_bytes_become_the_keys_they_are_or_nothing(sent: bytes, kept: bytes) -> None:
    assert clean(sent) == (kept, b"")


@pytest.mark.parametrize("report", [b"\x1b[M\xf0 \r", b"\x1b[32~", b"\x1b[201~", b"\x1b[15;2~"])
def test_a_sequence_cut_by_the_end_of_a_read_is_put_together_again(report: bytes) -> None:
    whole, _ = clean(report)
    for cut in range(2, len(report)):
        first, held = clean(report[:cut])
        second, left = clean(held + report[cut:])
        assert (first + second, left) == (whole, b"")


@given(st.binary(max_size=64))
def test_any_bytes_come_out_no_longer_than_they_went_in(data: bytes) -> None:
    whole, held = clean(data)
    assert len(whole) + len(held) <= len(data)
