"""A raw pseudo-terminal: bytes in, bytes out, and the time until certain bytes have come. Draws nothing."""

from __future__ import annotations

import fcntl
import os
import pty
import select
import signal
import struct
import termios
import time
from collections.abc import Sequence
from types import TracebackType

PATIENCE_S = 30.0
TICKS = os.sysconf("SC_CLK_TCK")


class Raw:
    """One program in one pseudo-terminal."""

    def __init__(self, arguments: Sequence[str], size: tuple[int, int] = (120, 40)) -> None:
        self.started = time.perf_counter()
        self.pid, self.fd = pty.fork()
        if self.pid == 0:
            os.environ.update(TERM="xterm-256color", COLORTERM="truecolor", LANG="C.UTF-8", LC_ALL="C.UTF-8")
            os.execv(arguments[0], list(arguments))
        fcntl.ioctl(self.fd, termios.TIOCSWINSZ, struct.pack("HHHH", size[1], size[0], 0, 0))
        self.seen = b""

    def until(self, marker: bytes) -> float:
        """Read until the marker has come; the time on the clock then. Raises ``TimeoutError``."""
        end = time.perf_counter() + PATIENCE_S
        while marker not in self.seen:
            if not self._read(end - time.perf_counter()):
                raise TimeoutError(f"{marker!r} never came; last: {self.seen[-400:]!r}")
        return time.perf_counter()

    def drain(self, seconds: float) -> int:
        """Read for so long and give the number of bytes."""
        end, before = time.perf_counter() + seconds, len(self.seen)
        while (left := end - time.perf_counter()) > 0 and self._read(left, patient=True):
            continue
        return len(self.seen) - before

    def _read(self, seconds: float, *, patient: bool = False) -> bool:
        ready, _, _ = select.select([self.fd], [], [], max(0.0, seconds))
        if not ready:
            return False
        try:
            chunk = os.read(self.fd, 1 << 16)
        except OSError:
            return False
        self.seen += chunk
        return bool(chunk) or patient

    def forget(self) -> None:
        """Start a new page: markers are looked for in what comes from now on."""
        self.seen = b""

    def send(self, keys: bytes) -> float:
        """Press, and give the time."""
        now = time.perf_counter()
        os.write(self.fd, keys)
        return now

    def cpu_s(self) -> float:
        """Processor seconds used so far."""
        with open(f"/proc/{self.pid}/stat", encoding="ascii") as stat:
            fields = stat.read().rpartition(")")[2].split()
        return (int(fields[11]) + int(fields[12])) / TICKS

    def __enter__(self) -> Raw:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        os.kill(self.pid, signal.SIGKILL)
        os.waitpid(self.pid, 0)
        os.close(self.fd)
