"""A real pseudo-terminal with the real program in it, and the screen as a person would see it.

Keys go in as the bytes a terminal sends; a terminal emulator (pyte) draws the output. Nothing here knows
the program's inside; waiting is always for something that can be read on the screen.
"""

from __future__ import annotations

import os
import re
import signal
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

import pexpect
import pyte

PATIENCE = 20.0
"""Seconds to wait for something to appear; far above what it takes, because test machines are shared."""

KEYS: Mapping[str, bytes] = {
    "enter": b"\r", "space": b" ", "escape": b"\x1b", "tab": b"\t", "backspace": b"\x7f",
    "up": b"\x1b[A", "down": b"\x1b[B", "right": b"\x1b[C", "left": b"\x1b[D",
    "home": b"\x1b[H", "end": b"\x1b[F", "pageup": b"\x1b[5~", "pagedown": b"\x1b[6~", "delete": b"\x1b[3~",
    "f1": b"\x1bOP", "f2": b"\x1bOQ", "f4": b"\x1bOS", "f5": b"\x1b[15~", "f6": b"\x1b[17~",
    "f7": b"\x1b[18~", "f8": b"\x1b[19~", "f9": b"\x1b[20~", "f12": b"\x1b[24~",
    "ctrl+q": b"\x11", "ctrl+z": b"\x1a", "ctrl+c": b"\x03",
}  # fmt: skip

# pyte draws the tail of these as text: the kitty keyboard protocol, mode reports and the pixel-size query.
_NOT_DRAWN = re.compile(rb"\x1b\[[<>=?][0-9;]*u|\x1b\[\?[0-9;]*\$p|\x1b\[>[0-9;]*[a-zA-Z]|\x1b\[[0-9]*t")


LOOK_S = 0.25
"""The longest that one look may count against the patience: a machine that stood still itself has shown nothing."""


class Patience:
    """How long to go on looking, in seconds of time in which there was something to look at."""

    def __init__(self, seconds: float = PATIENCE) -> None:
        self._left = seconds
        self._at = time.monotonic()

    def lasts(self) -> bool:
        """To be asked at every look; False once the patience is at an end."""
        now = time.monotonic()
        self._left -= min(now - self._at, LOOK_S)
        self._at = now
        return self._left > 0


class NotSeenError(AssertionError):
    """What was waited for did not appear; the message holds the screen as it was."""


class Terminal:
    """One program in one pseudo-terminal of ``columns`` x ``rows`` cells."""

    def __init__(
        self,
        arguments: Sequence[str],
        *,
        size: tuple[int, int] = (120, 40),
        env: Mapping[str, str] | None = None,
        cwd: Path | None = None,
    ) -> None:
        self.columns, self.rows = size
        self.screen = pyte.Screen(self.columns, self.rows)
        self._stream = pyte.ByteStream(self.screen)
        self._tail = b""
        self.received = 0
        self.output = bytearray()
        """Every byte that the program wrote."""
        self._hung_up = False
        self.child = pexpect.spawn(
            arguments[0],
            list(arguments[1:]),
            dimensions=(self.rows, self.columns),
            env={**_plain_environment(), **(env or {})},
            cwd=str(cwd) if cwd else None,
            timeout=PATIENCE,
        )
        self.child.delaybeforesend = None

    # --- keys ------------------------------------------------------------------------------------------

    def press(self, *keys: str, gap: float = 0.0) -> None:
        """Press named keys, or single letters, one after the other."""
        for key in keys:
            self.child.send(KEYS.get(key, key.encode()))
            if gap:
                self.pump(gap)

    def type(self, text: str) -> None:
        """Type text letter by letter."""
        self.child.send(text.encode())

    def raw(self, sent: bytes) -> None:
        """Send bytes as they are."""
        self.child.send(sent)

    # --- the screen ------------------------------------------------------------------------------------

    def pump(self, seconds: float = 0.05) -> None:
        """Read and draw what the program writes for so long."""
        until = time.monotonic() + seconds
        while (left := until - time.monotonic()) > 0:
            if not self._read(min(left, 0.05)):
                return

    def _read(self, timeout: float) -> bool:
        """Draw one chunk; False once the program has closed its terminal."""
        try:
            chunk = self.child.read_nonblocking(65536, timeout)
        except pexpect.TIMEOUT:
            return True
        except pexpect.EOF:
            return False
        self.received += len(chunk)
        self.output += chunk
        # A sequence may be cut by the chunk's end: keep an unfinished one for the next round.
        whole = self._tail + chunk
        cut = whole.rfind(b"\x1b")
        if (
            cut >= 0
            and len(whole) - cut < 24
            and not re.match(rb"\x1b(\[[0-9;?<>=$]*[@-~]|[^\[])", whole[cut:])
        ):
            whole, self._tail = whole[:cut], whole[cut:]
        else:
            self._tail = b""
        self._stream.feed(_NOT_DRAWN.sub(b"", whole))
        return True

    def text(self) -> str:
        """The screen as lines of text, without trailing blanks."""
        return "\n".join(line.rstrip() for line in self.screen.display)

    def wait(self, seen: Callable[[str], bool], what: str, patience: float = PATIENCE) -> str:
        """Wait until ``seen`` says yes to the screen's text, and give that text. Raises ``NotSeenError``."""
        left = Patience(patience)
        while True:
            text = self.text()
            if seen(text):
                return text
            if not left.lasts() or not self._read(0.05):
                self.pump(0.05)
                if seen(self.text()):
                    return self.text()
                raise NotSeenError(f"waited for {what}; the screen was:\n{self.text()}")

    def wait_for(self, wanted: str, patience: float = PATIENCE) -> str:
        """Wait for words on the screen, wherever the line breaks fall."""
        flat = " ".join(wanted.split())
        return self.wait(lambda text: flat in " ".join(text.split()), repr(wanted), patience)

    def settle(self, quiet_s: float = 0.06, at_most_s: float = 1.0) -> None:
        """Read until nothing has come for so long: the screen is painted in several writes."""
        until = time.monotonic() + at_most_s
        while time.monotonic() < until:
            before = self.received
            self._read(quiet_s)
            if self.received == before:
                return

    def resize(self, columns: int, rows: int) -> None:
        """Change the window's size as a person drags its corner."""
        self.columns, self.rows = columns, rows
        self.screen.resize(rows, columns)
        self.child.setwinsize(rows, columns)

    # --- the end ---------------------------------------------------------------------------------------

    def kill(self) -> None:
        """SIGKILL: no chance to tidy up."""
        os.kill(self.child.pid, signal.SIGKILL)
        self.child.wait()
        self.child.close()

    def status(self) -> int | None:
        """Wait for the program's end and give its exit status (negative: the signal)."""
        left = Patience()
        while self.child.isalive() and left.lasts():
            self._read(0.05)
        if self.child.isalive():
            raise NotSeenError(f"the program did not end; the screen was:\n{self.text()}")
        self.child.close()
        status: int | None = -self.child.signalstatus if self.child.signalstatus else self.child.exitstatus
        return status

    def hang_up(self) -> bool:
        """Close the terminal under the program, as a window that is shut; True once the program has ended."""
        self._hung_up = True
        os.close(self.child.fileno())
        left = Patience()
        while left.lasts():
            ended, _ = os.waitpid(self.child.pid, os.WNOHANG)
            if ended:
                return True
            time.sleep(0.05)
        os.kill(self.child.pid, signal.SIGKILL)
        return False

    def close(self) -> None:
        """End the program whatever it is doing."""
        if self._hung_up:
            return
        if self.child.isalive():
            self.child.kill(signal.SIGKILL)
        self.child.close(force=True)

    def __enter__(self) -> Terminal:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def labcheck(*arguments: str) -> list[str]:
    """The command line of the program under test, in this Python."""
    return [sys.executable, "-m", "labcheck", *arguments]


def _plain_environment() -> dict[str, str]:
    kept = {
        key: os.environ[key] for key in ("PATH", "HOME", "PYTHONPATH", "VIRTUAL_ENV") if key in os.environ
    }
    return {
        **kept,
        "TERM": "xterm-256color",
        "COLORTERM": "truecolor",
        "LANG": "C.UTF-8",
        "LC_ALL": "C.UTF-8",
    }
