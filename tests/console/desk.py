"""A desk for tests: a real session on a ledger in memory, a hand-moved clock, and keys pressed by name."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from concurrent.futures import Future
from typing import Any

from labcheck.caselog.case import Case
from labcheck.caselog.events import Event
from labcheck.caselog.folding import begin
from labcheck.caselog.intents import INTENT_MODELS, Intent, OpenCase
from labcheck.caselog.prompts import Prompt, prompt
from labcheck.caselog.stamps import Moment, Stamp
from labcheck.caselog.telling import clock_words
from labcheck.checklist.plan import Plan
from labcheck.checklist.reading import read_checklist
from labcheck.checklist.unfolding import Slot
from labcheck.console import presses
from labcheck.console.bound import called
from labcheck.console.dropped import both
from labcheck.console.keys import Where, find
from labcheck.console.panels.panel import Panel, Press
from labcheck.console.session import Refusal, Session
from labcheck.console.viewing import Viewing
from labcheck.ledger.memory import MemoryLedger
from tests.caselog.driving import SMALL, START_US

KEY = "K7Q2-M4"


class PromptWriter:
    """Appends at once. ``fail_next`` makes the next append raise it; ``hold`` keeps presses until ``let_go``."""

    def __init__(self, ledger: MemoryLedger) -> None:
        self.ledger = ledger
        self.fail_next: Exception | None = None
        self.hold = False
        self.held: list[tuple[tuple[Event, ...], Future[Any]]] = []
        self.unsaved: list[tuple[Event, ...]] = []
        self.sent: list[tuple[Event, ...]] = []
        self.kept: list[Any] = []

    def keep(self, press: Sequence[Event]) -> None:
        if tuple(press) not in self.kept:
            self.kept.append(tuple(press))

    def keep_words(self, case: str, words: str, at: Moment) -> None:
        self.kept.append(words)

    def see(self, case: str, keys: Sequence[str]) -> None:
        self.kept.append(tuple(keys))

    def submit(self, events: Sequence[Event]) -> Future[Any]:
        future: Future[Any] = Future()
        if self.hold:
            self.held.append((tuple(events), future))
            return future
        self._append(tuple(events), future)
        return future

    def retry(self) -> Future[Any]:
        future: Future[Any] = Future()
        self._append(self.unsaved.pop(), future)
        return future

    def let_go(self) -> None:
        """Write what was held, in order."""
        self.hold = False
        held, self.held = self.held, []
        for events, future in held:
            self._append(events, future)

    def _append(self, events: tuple[Event, ...], future: Future[Any]) -> None:
        self.sent.append(events)
        if self.fail_next is not None:
            failure, self.fail_next = self.fail_next, None
            self.unsaved.append(events)
            future.set_exception(failure)
        else:
            future.set_result(self.ledger.append(events))


class TestDesk:
    """What a panel is given, and what a nurse has: keys, a clock, one line of answer."""

    __test__ = False

    def __init__(self, *targets: str, checklist: bytes | None = None, rehearsal: bool = True) -> None:
        text = checklist or SMALL.read_bytes()
        self.ledger = MemoryLedger()
        self.writer = PromptWriter(self.ledger)
        self.checklist = read_checklist(text, "small.toml")
        self.numbers = itertools.count(1)
        self.now_us = 0
        self.session = Session(begin(KEY, self.checklist), self.writer, lambda call: call(), clock_words)
        self.session.listeners.append(self)
        self.panel: Panel | None = None
        self.answer = ""
        self.refusals: list[Refusal] = []
        self.read_only = False
        self.viewing = Viewing()
        self.step_at = 0
        plan = Plan.model_validate(
            {"technique": self.checklist.technique, "substrate": "native", "targets": targets or ("left",)}
        )
        digest = self.ledger.keep_checklist(text)
        opening = OpenCase(press=self.press_id(), plan=plan, checklist_digest=digest, rehearsal=rehearsal)
        self.session.send(opening, self.now())
        self.wait(1)

    # --- the desk ---

    @property
    def case(self) -> Case:
        return self.session.case

    @property
    def head_hex(self) -> str:
        return self.session.head_hex

    def press_id(self) -> str:
        return f"{next(self.numbers):032x}"

    def now(self) -> Stamp:
        return Stamp(
            wall_us=START_US + self.now_us, off_s=3600, tz="Test/Zone", boot_us=600_000_000 + self.now_us,
            mono_us=600_000_000 + self.now_us, boot_id="boot-a",
        )  # fmt: skip

    def send(self, intent: Intent, stamp: Stamp) -> None:
        self.session.send(intent, stamp)

    def ask(
        self, make: Callable[[Case], Intent | None], stamp: Stamp, unless: Callable[[Case], str] | None = None
    ) -> None:
        self.session.ask(make, stamp, unless=unless)

    def ask_held(self) -> bool:
        return False

    def shown_call(self, at: float) -> Slot | None:
        return called(self.case)

    def shown_prompt(self) -> Prompt | None:
        return prompt(self.case, self.now()) if self.panel is None else None

    def turn(self, panel: Panel | None) -> None:
        self.panel = panel

    def tell(self, words: str) -> None:
        self.answer = words

    def tell_late(self, words: str) -> None:
        self.answer = both(self.answer, words)

    # --- the listener ---

    def case_changed(self, events: tuple[Event, ...]) -> None:
        presses.after(self, events)  # type: ignore[arg-type]

    def refused(self, refusal: Refusal) -> None:
        self.refusals.append(refusal)
        if refusal.why.needs != "none":
            self.panel = presses.panel_for(self, refusal, None)  # type: ignore[arg-type]
        else:
            presses.not_settled(self)  # type: ignore[arg-type]

    def save_changed(self) -> None:
        if not self.session.waiting:
            presses.not_settled(self)  # type: ignore[arg-type]

    # --- the hand ---

    def wait(self, seconds: float) -> None:
        """Let time pass."""
        self.now_us += round(seconds * 1_000_000)

    def make(self, key: str) -> Press:
        """A press of that key now."""
        character = " " if key == "space" else key if len(key) == 1 else None
        return Press(key, character, self.now(), self.now_us / 1e6)

    def press(self, *keys: str) -> None:
        """Press keys a second apart: the panel first, then the key table, as the screen does."""
        for key in keys:
            self.answer = ""
            press = self.make(key)
            if self.panel is None or not self.panel.key(press):
                where: Where = "case" if self.panel is None else "typing" if self.panel.typing else "list"
                line = find(key, where)
                if line is not None:
                    self._act(line.id, press)
            self.wait(1)

    def _act(self, key_id: str, press: Press) -> None:
        if key_id == "back":
            self.panel = None
        elif key_id in presses.RECORDS:
            presses.RECORDS[key_id](self, press)  # type: ignore[arg-type]
        elif key_id not in ("up", "down", "quit"):
            panel = presses.open_panel(key_id, self)  # type: ignore[arg-type]
            self.panel = panel if panel is not None else self.panel

    def do(self, do: str, **fields: Any) -> None:
        """An intent without a key, for getting a case to where a test begins."""
        before = self.case.head_seq
        self.send(INTENT_MODELS[do](press=self.press_id(), **fields), self.now())
        self.wait(1)
        assert self.case.head_seq > before, self.refusals[-1].why if self.refusals else "nothing was recorded"

    def kinds(self, last: int = 1) -> list[str]:
        """The kinds of the last entries."""
        return [event.kind for event in self.case.log[-last:]]

    def text(self) -> str:
        """What the open panel shows at 80 columns."""
        return self.panel.draw(80, 14).plain if self.panel is not None else ""
