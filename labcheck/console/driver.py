"""The terminal driver, made deaf to what would end the program or turn into a key nobody pressed.

Textual 8.2 ends the program on any byte that is not UTF-8 and on a mouse report of the old form, which
terminals send after a reattach even when the mouse is off; and it reads the codes of F13 and up, and any
unknown numbered key, as printable characters. Here such bytes are dropped before they are read.
"""

from __future__ import annotations

import os
import re
import selectors
import sys
from codecs import getincrementaldecoder
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from textual.driver import Driver

OLD_MOUSE = re.compile(rb"\x1b\[M.{3}", re.DOTALL)
"""A mouse report of the old form: three raw bytes, of any value, follow."""

NUMBERED = re.compile(rb"\x1b\[(\d+)(?:;[\d:;]*)?~")
"""A numbered key. Known are 1 to 24 (editing keys, F1 to F12) and the brackets of a paste."""

PASTE = (200, 201)
UNFINISHED = re.compile(rb"\x1b\[(?:M.{0,2}|\d{0,3}(?:;[\d:;]{0,12})?)\Z", re.DOTALL)
"""The beginning of something that the next read may complete; a lone Escape is a key."""


ESCAPE = b"\x1b[27u"
"""The Escape key as a key of its own, in the form that cannot be taken for the beginning of something."""

HELD_S, REST_S, RECENT = 0.1, 0.4, 10
"""Seconds to wait for bytes: while a part of a sequence may be held back, and when no key has come for a while
(so many rounds). A key ends the wait at once; only leaving the program waits for its end."""

LONE = re.compile(rb"\x1b(?![\[\]OP_^X\\]|\Z)")
"""An Escape that what follows does not belong to: Textual would join the two, and one of the keys would be lost."""


def apart(data: bytes, more: bytes) -> tuple[bytes, bytes]:
    """Escape and the key pressed right after it as two keys; an Escape at the end waits for what comes next."""
    data = LONE.sub(ESCAPE, data)
    if data.endswith(b"\x1b") and not more:
        return data[:-1], b"\x1b"
    return data, more


def clean(data: bytes) -> tuple[bytes, bytes]:
    """What may be read as keys, and a tail to be put before the next bytes."""
    data = OLD_MOUSE.sub(b"", data)
    data = NUMBERED.sub(lambda found: found[0] if _known(int(found[1])) else b"", data)
    cut = UNFINISHED.search(data)
    if cut is None:
        return data, b""
    return data[: cut.start()], data[cut.start() :]


def _known(number: int) -> bool:
    return 1 <= number <= 24 or number in PASTE


def console_driver(base: type[Driver]) -> type[Driver]:
    """The platform's driver with the guarded reading; only the one for Linux and macOS reads bytes itself."""
    if sys.platform == "win32" or base.__name__ != "LinuxDriver":
        return base
    from textual._xterm_parser import XTermParser
    from textual.drivers.linux_driver import LinuxDriver

    class ConsoleDriver(LinuxDriver):
        """Reads as LinuxDriver does, but from cleaned bytes; starts afresh if the parser fails or it was stopped."""

        def _sigcont_application(self, *_: object) -> None:
            # Stopped from outside, the terminal was not given back first. Starting on top of what still runs
            # would leave two threads that share the keys between them: letters where a paste or a key was meant.
            if self._auto_restart and not self._must_signal_resume:
                self.suspend_application_mode()
                self._must_signal_resume = True
            super()._sigcont_application()

        def run_input_thread(self) -> None:
            selector = selectors.SelectSelector()
            selector.register(self.fileno, selectors.EVENT_READ)
            parser = XTermParser(self._debug)
            decode = getincrementaldecoder("utf-8")(errors="replace").decode
            held, recent = b"", RECENT
            try:
                while not self.exit_event.is_set():
                    # Something may still be held back, or waited for, shortly after keys have come; else rest longer.
                    ready = selector.select(HELD_S if held or recent else REST_S)
                    recent = RECENT if ready else max(0, recent - 1)
                    data = os.read(self.fileno, 4096) if ready else b""
                    if ready and not data:
                        break
                    if data:
                        whole, held = apart(*clean(held + data))
                    else:
                        whole, held = ESCAPE if held == b"\x1b" else held, b""
                    try:
                        # Nothing but broken bytes leaves no text; the parser would take that for the end.
                        if text := decode(whole).replace("\ufffd", ""):
                            for message in parser.feed(text):
                                self.process_message(message)
                        for message in parser.tick():
                            self.process_message(message)
                    except Exception:
                        # Whatever the terminal sent, the keyboard must live on.
                        parser = XTermParser(self._debug)
            finally:
                selector.close()

    return ConsoleDriver
