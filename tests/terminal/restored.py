"""Whether a program gave its terminal back: read from the bytes it wrote and from the line settings it left."""

from __future__ import annotations

import re
import termios
from typing import Any

MODE = re.compile(rb"\x1b\[\?([0-9;]+)([hl])")
KITTY = re.compile(rb"\x1b\[([<>])[0-9;]*u")
USUAL = {7, 25}
"""Lines that wrap and a visible cursor: the modes that are on before and afterwards."""


def left_on(output: bytes) -> set[int]:
    """The private modes that the output left otherwise than it found them; 0 stands for the keyboard protocol."""
    modes: dict[int, bool] = {}
    for numbers, sign in MODE.findall(output):
        for number in numbers.split(b";"):
            modes[int(number)] = sign == b"h"
    wrong = {number for number, on in modes.items() if on != (number in USUAL)}
    pushed = sum(1 if sign == b">" else -1 for sign in KITTY.findall(output))
    return wrong | ({0} if pushed > 0 else set())


def line_settings(descriptor: int) -> Any:
    """Echo, line editing and signals as they stand, without the characters that programs may not change."""
    input_, output, control, local, *_ = termios.tcgetattr(descriptor)
    return input_, output, control, local & (termios.ECHO | termios.ICANON | termios.ISIG | termios.IEXTEN)
