"""The nurse of the stories: finds lines by their words on the screen and presses the key that stands beside them."""

from __future__ import annotations

import re
import time

from tests.terminal.harness import NotSeenError, Patience, Terminal

BOUNCE_S = 0.45
"""A little over the guards against a second press of the call key: the checklist's after a call, and the console's
after an Enter that closed a panel (both 0.4 s)."""
REPEAT_S = 0.14
"""A little over the console's guard against a key that is held down (0.12 s)."""
AGAIN_S = 0.3
"""The same key again: far enough from that guard for a busy machine, which hears of keys late."""
SAVED = re.compile(r"SAVED (\d+)")
DIGIT = re.compile(r"^[ >]*(\d)  +(.*)$")
MARKED = re.compile(r"^[ │]*>\s+(.*)$", re.MULTILINE)


class Nurse:
    """Drives one console. Every method returns only when the screen says that the press is saved."""

    def __init__(self, terminal: Terminal) -> None:
        self.terminal = terminal
        self._called = 0.0
        self._pressed = 0.0
        self._picked = ""

    # --- what the screen says ----------------------------------------------------------------------------

    @property
    def saved(self) -> int:
        """The number of the last entry the screen calls saved, 0 for none."""
        found = SAVED.findall(self.terminal.text())
        return int(found[-1]) if found else 0

    def saved_after(self, before: int) -> int:
        """Wait until an entry after ``before`` is called saved."""

        def later(text: str) -> bool:
            found = SAVED.findall(text)
            return bool(found) and int(found[-1]) > before

        self.terminal.wait(later, f"an entry after {before} to be saved")
        self.terminal.settle()
        return self.saved

    def sees(self, words: str) -> str:
        """Wait for words on the screen."""
        return self.terminal.wait_for(words)

    @property
    def key(self) -> str:
        """The case's key, from the head of the screen."""
        found = re.search(r"[B-Z2-9]{4}-[B-Z2-9]{2}", self.terminal.text())
        if found is None:
            raise NotSeenError(f"no case key on the screen:\n{self.terminal.text()}")
        return found[0]

    # --- keys that record at once ------------------------------------------------------------------------

    def call(self, words: str) -> int:
        """The expected call, once the screen expects these words."""
        self.sees(f'"{words}"')
        return self.record("enter", wait=True)

    def record(self, *keys: str, wait: bool = False) -> int:
        """Press keys of which the last one records."""
        if wait:
            self._let_the_guard_end()
        before = self.saved
        for key in keys:
            self.press(key)
        number = self.saved_after(before)
        if wait:
            self._called = time.monotonic()
        return number

    def press(self, key: str) -> None:
        """One key, not sooner after the last one than a hand can."""
        self.terminal.pump(max(0.0, self._pressed + REPEAT_S - time.monotonic()))
        self.terminal.press(key)
        self._pressed = time.monotonic()

    def enter_key(self) -> None:
        """Enter, not so soon after another that it is taken for the same press."""
        self._let_the_guard_end()
        self.press("enter")
        self._called = time.monotonic()

    def _let_the_guard_end(self) -> None:
        time.sleep(max(0.0, self._called + BOUNCE_S - time.monotonic()))

    def energy(self, on_s: float = 0.3) -> None:
        """Energy on, and off again."""
        self.record("space")
        self.terminal.pump(on_s)
        self.record("space")

    # --- panels ------------------------------------------------------------------------------------------

    def open(self, key: str, title: str) -> None:
        """Open a panel and wait for its title."""
        self.terminal.press(key)
        self.sees(title)

    def pick(self, words: str) -> None:
        """Press the digit beside a line of the open panel; turn the page, or move down, where there is none."""
        left = Patience()
        while left.lasts():
            self.terminal.pump(0.05)
            self.terminal.settle()
            text = self.terminal.text()
            for line in text.splitlines():
                digit = DIGIT.match(line)
                if digit and " ".join(digit[2].split()).startswith(words):
                    if digit[1] == self._picked:
                        self.terminal.pump(max(0.0, self._pressed + AGAIN_S - time.monotonic()))
                    self._picked = digit[1]
                    self.press(digit[1])
                    return
            if any(line.strip(" >").startswith(words) for line in self._panel(text)):
                self._move_to(words)
                self.enter_key()
                return
            if "more (page" in text:
                self.terminal.press("0")
        raise NotSeenError(f"no line {words!r} to pick:\n{self.terminal.text()}")

    def _panel(self, text: str) -> list[str]:
        """The lines of the open panel, none when no panel is open."""
        lines = text.splitlines()
        top = next((n for n, line in enumerate(lines) if "Esc leaves" in line), len(lines))
        return lines[top + 1 : -1]

    def choose(self, *lines: str) -> int:
        """Pick line after line; the last one records."""
        before = self.saved
        for words in lines:
            self.pick(words)
        return self.saved_after(before)

    def enter(self, text: str) -> int:
        """Type a value and press Enter, which records."""
        before = self.saved
        self.terminal.type(text)
        self.sees(text)
        self.enter_key()
        return self.saved_after(before)

    def reading(self, title: str, value: str) -> int:
        """R, the reading, its value."""
        self.open("r", "READING")
        self.pick(title)
        self.sees(title)
        return self.enter(value)

    def choose_sealing(self) -> None:
        """Close the case from the sign-out list; SAVED gives way to the seal on the screen."""
        self.pick("close the case and seal it")
        self.sees("closed and sealed")

    # --- steps -------------------------------------------------------------------------------------------

    def marked(self) -> str:
        """The marked line."""
        found = MARKED.search(self.terminal.text())
        return found[1] if found else ""

    def _move_to(self, words: str) -> None:
        """Down to the end of the list, then up: the mark may stand below the line that is wanted."""
        for key in ("down", "up"):
            for _ in range(30):
                if words in self.marked():
                    return
                before = self.marked()
                self.terminal.press(key)
                try:
                    self.terminal.wait(lambda _, was=before: self.marked() != was, "a move", 1.5)  # type: ignore[misc]
                except NotSeenError:
                    break  # the end of the list
                self.terminal.settle()
        raise NotSeenError(f"the mark never came to {words!r}:\n{self.terminal.text()}")

    def done(self, *steps: str) -> None:
        """Answer the marked steps, which must be these in this order, as done."""
        for words in steps:
            self.at(words)
            self.record("right")

    def at(self, words: str) -> None:
        """Make sure the mark stands on this step, moving down over steps that stay open."""
        self.terminal.settle()
        self._move_to(words)

    def value(self, words: str, *lines: str) -> None:
        """Answer the marked step with what is picked from its list."""
        self.at(words)
        before = self.saved
        self.press("right")
        for line in lines:
            self.pick(line)
        self.saved_after(before)

    def typed(self, words: str, text: str) -> None:
        """Answer the marked step with a typed value."""
        self.at(words)
        self.press("right")
        self.sees("Esc leaves")
        self.enter(text)
