"""What the commands print: plain text in which no character can steer the terminal."""

from __future__ import annotations

import sys

_STEERING = frozenset(
    [
        *range(0x09), *range(0x0B, 0x20), *range(0x7F, 0xA0),
        0x061C, *range(0x200B, 0x2010), *range(0x2028, 0x202F), *range(0x2066, 0x206A), 0x2060, 0xFEFF,
        *range(0xE0000, 0xE0080),
    ]
)  # fmt: skip
"""Control characters but tab and newline, direction marks and letters without width."""


class CommandError(Exception):
    """A fault of use or input: one line that says what, where and what to do; ``status`` is for the exit."""

    def __init__(self, text: str, status: int = 2) -> None:
        super().__init__(text)
        self.status = status


def clean(text: str) -> str:
    """``text`` with every character that could steer a terminal written out as its number."""
    return "".join(f"\\u{ord(c):04x}" if ord(c) in _STEERING else c for c in text)


def say(text: str = "") -> None:
    """Print to stdout, cleaned; lines stay lines."""
    print(clean(text))


def complain(text: str) -> None:
    """Print one line to stderr, cleaned."""
    one_line = " ".join(clean(text).split())
    print(f"labcheck: {one_line}", file=sys.stderr)
