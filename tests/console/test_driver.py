"""What the terminal may send: old mouse reports, unknown keys and broken UTF-8 never become a key press."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from textual import events
from textual._xterm_parser import XTermParser

from labcheck.console.driver import ESCAPE, apart, clean


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


@pytest.mark.parametrize(
    ("sent", "keys"),
    [
        (b"\x1b\r", [("escape", None), ("enter", "\r")]),
        (b"\x1bn", [("escape", None), ("n", "n")]),
        (b"\x1b2", [("escape", None), ("2", "2")]),
        (b"\x1b\x1b[B", [("escape", None), ("down", None)]),
        (b"\x1b\x1bOQ", [("escape", None), ("f2", None)]),
        (b"\x1b[A\x1b ", [("up", None), ("escape", None), ("space", " ")]),
    ],
)
def test_escape_and_a_key_right_after_it_are_two_keys(sent: bytes, keys: list[tuple[str, str | None]]) -> None:
    """Read together Textual 8.2 makes one of them, and the other is lost: Esc, Enter became Enter alone."""
    whole, held = apart(*clean(sent))
    assert held == b""
    messages = list(XTermParser(False).feed(whole.decode()))
    assert [(m.key, m.character) for m in messages if isinstance(m, events.Key)] == keys


def test_an_escape_at_the_end_of_a_read_waits_for_what_comes_next() -> None:
    assert apart(*clean(b"a\x1b")) == (b"a", b"\x1b")
    assert apart(*clean(b"\x1b" + b"[A")) == (b"\x1b[A", b"")
    assert apart(*clean(b"\x1b" + b"\r")) == (ESCAPE + b"\r", b"")
