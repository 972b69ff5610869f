"""A console without a screen, in a process of its own: it does what it is told on standard input.

One word and its arguments a line; one line of JSON back for each.
"""

from __future__ import annotations

import contextlib
import json
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

from labcheck.ledger.chain import Head
from labcheck.ledger.errors import LedgerError
from labcheck.ledger.lease import Lease
from labcheck.ledger.store import open_ledger
from labcheck.ledger.writer import Writer
from tests.ledger.making import CASE, CHECKLIST, Maker

ROOT = Path(__file__).parents[2]
BEAT_S = 0.01


class Child:
    """The console's own side."""

    def __init__(self, folder: Path, name: str, start: int) -> None:
        self.ledger = open_ledger(folder)
        self.writer = Writer(self.ledger, side_folder=folder)
        self.lease = Lease(folder, name)
        self.maker = Maker(start=start)

    def open(self) -> dict[str, Any]:
        """Open the case if nobody has; otherwise look who has it."""
        head = self.ledger.head(CASE)
        if not self.lease.acquire(CASE, head.epoch, since_us=1_000):
            holder = self.lease.held_by(CASE, head.epoch)
            known = {"held_by": holder.console, "since_us": holder.since_us} if holder else {}
            return {"read_only": True, **known}
        self._at(head)
        if head.seq == 0:
            self.ledger.keep_checklist(CHECKLIST)
            return self._send(self.maker.opening())
        return {"entries": head.seq}

    def take_over(self) -> dict[str, Any]:
        """Take the case over, whoever has it."""
        head = self.ledger.head(CASE)
        if not self.lease.take_over(CASE, head.epoch, since_us=2_000):
            return {"read_only": True}
        self._at(head)
        return self._send(self.maker.lease())

    def note(self, text: str) -> dict[str, Any]:
        """Write a note."""
        return self._send(self.maker.note(text))

    def again(self, text: str) -> dict[str, Any]:
        """Press once, send twice: what a doubled key or a resend comes to."""
        press = self.maker.note(text)
        both = [self.writer.submit(press), self.writer.submit(press)]
        return {"seqs": [future.result(30).seqs for future in both], "entries": self.ledger.head(CASE).seq}

    def retry(self) -> dict[str, Any]:
        """Send what is unsaved again."""
        return self._answer(self.writer.retry())

    def unsaved(self) -> dict[str, Any]:
        """What this console could not save."""
        return {
            "unsaved": [event.what.model_dump()["text"] for press in self.writer.unsaved for event in press]
        }

    def _at(self, head: Head) -> None:
        self.maker.seq, self.maker.epoch = head.seq, max(1, head.epoch)

    def _send(self, press: Any) -> dict[str, Any]:
        return self._answer(self.writer.submit(press))

    def _answer(self, future: Any) -> dict[str, Any]:
        beats = 0
        while not future.done():
            time.sleep(BEAT_S)
            beats += 1
        try:
            ack = future.result()
            return {"saved": list(ack.seqs), "head": ack.head_hex, "beats": beats, "state": self.writer.state}
        except LedgerError as error:
            return {
                "error": type(error).__name__,
                "text": str(error),
                "beats": beats,
                "state": self.writer.state,
            }


class Console:
    """The test's side of it."""

    def __init__(self, folder: Path, name: str, *, start: int = 0, before: tuple[str, ...] = ()) -> None:
        self.acknowledged: dict[int, str] = {}
        """Entry number to head, of all it was told is saved."""
        code = [sys.executable, "-m", "tests.faults.second_console", str(folder), name, str(start)]
        self.process = subprocess.Popen(
            [*before, *code], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=ROOT
        )

    def ask(self, *words: str) -> dict[str, Any]:
        """Tell it to do something and wait for the answer."""
        self.tell(*words)
        return self.answer()

    def tell(self, *words: str) -> None:
        """Tell it to do something."""
        assert self.process.stdin is not None
        self.process.stdin.write(json.dumps(words) + "\n")
        self.process.stdin.flush()

    def answer(self) -> dict[str, Any]:
        """The next answer."""
        assert self.process.stdout is not None
        line = self.process.stdout.readline()
        found: dict[str, Any] = json.loads(line)
        if "saved" in found:
            self.acknowledged[found["saved"][-1]] = found["head"]
        return found

    def end(self) -> None:
        """Let it finish."""
        if self.process.stdin is not None:
            with contextlib.suppress(BrokenPipeError):
                self.process.stdin.close()
        self.process.wait(30)
        if self.process.stdout is not None:
            self.process.stdout.close()


def main() -> None:
    """Do what is asked until the input ends."""
    child = Child(Path(sys.argv[1]), sys.argv[2], int(sys.argv[3]))
    for line in sys.stdin:
        word, *arguments = json.loads(line)
        print(json.dumps(getattr(child, word)(*arguments)), flush=True)
    child.writer.close()
    child.ledger.close()


if __name__ == "__main__":
    main()
