"""A late entry: first when it happened, then what it was. "Now" is never offered as the time.

After the time is chosen every panel works as always, but what it records carries the earlier time. The times
count back from the press that chose them, however long the rest takes.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import ClassVar

from labcheck.caselog.case import Case
from labcheck.caselog.intents import (
    INTENT_MODELS,
    AnswerStep,
    Claim,
    CloseAttempt,
    EnergyOff,
    EnergyOn,
    Intent,
    OpenStage,
)
from labcheck.caselog.prompts import Suggestion, likely_missing
from labcheck.caselog.stamps import Stamp, span
from labcheck.caselog.telling import clock_words
from labcheck.checklist import finding
from labcheck.console.panels import addendum, attempt, bailout, drug, reading, things
from labcheck.console.panels.asking import Ask
from labcheck.console.panels.panel import Desk, Panel, Press, record
from labcheck.console.panels.pick import Item, Pick

MINUTE = 60_000_000
DAY = 86_400_000_000
BACK = (1, 2, 3, 5)
EXACT = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2}))?")


@dataclass(frozen=True, slots=True)
class When:
    """When it is said to have happened, as counted at the press that said so."""

    words: str
    claim: Claim
    said: Stamp


class LateDesk:
    """A desk whose entries happened earlier: it adds the claim to every intent that is sent over it."""

    def __init__(self, desk: Desk, when: When) -> None:
        self._desk = desk
        self._when = when
        self.reason: str | None = None

    @property
    def case(self) -> Case:
        return self._desk.case

    @property
    def head_hex(self) -> str:
        return self._desk.head_hex

    def press_id(self) -> str:
        return self._desk.press_id()

    def now(self) -> Stamp:
        return self._desk.now()

    def turn(self, panel: Panel | None) -> None:
        self._desk.turn(panel)

    def tell(self, words: str) -> None:
        self._desk.tell(words)

    def send(self, intent: Intent, stamp: Stamp) -> None:
        claim = self._when.claim
        if claim.ago_us is not None:
            # It happened so long before the digit that said so; what came in between is added.
            since = max(0, stamp.boot_us - self._when.said.boot_us) if stamp.boot_id == self._when.said.boot_id else 0
            claim = claim.model_copy(update={"ago_us": claim.ago_us + since})
        if self.reason is not None:
            claim = claim.model_copy(update={"reason": self.reason})
        late = intent.model_copy(update={"claim": claim})
        self._desk.send(addendum.after_seal(self._desk.case, late), stamp)


def open_panel(desk: Desk) -> Panel | None:
    """When was it? One, two, three, five minutes before now, an exact time, or a mark."""
    case, now = desk.case, desk.now()
    age_us = span(case.opened, now.moment()).us if case.opened is not None else 0
    within = [back for back in BACK if back * MINUTE <= age_us]
    items = [Item(f"{back} min ago", _ago(desk, back), clock_words(_earlier(now, back)), str(back)) for back in within]
    items.append(Item("an exact time, typed", lambda _press: desk.turn(_exact(desk)), digit="0"))
    marks = [mark for mark in case.marks if mark.what is None][-4:]
    for digit, mark in zip("6789", marks, strict=False):
        items.append(Item(f"at mark {mark.seq}", _marked(desk, mark.seq), clock_words(mark.at), digit))
    lead = []
    if len(within) < len(BACK) and case.opened is not None:
        lead = [f"the case was opened at {clock_words(case.opened)}: no time before that is offered"]
    return Pick(desk, "LATE ENTRY  when did it happen", items, lead, panel_id="late")


def _earlier(now: Stamp, minutes: int) -> Stamp:
    return now.model_copy(update={"wall_us": max(0, now.wall_us - minutes * MINUTE)})


def _ago(desk: Desk, minutes: int) -> Callable[[Press], None]:
    def chosen(press: Press) -> None:
        claim = Claim(ago_us=minutes * MINUTE, precision_s=60)
        desk.turn(_what(desk, When(f"{minutes} min ago", claim, press.stamp)))

    return chosen


def _marked(desk: Desk, mark: int) -> Callable[[Press], None]:
    def chosen(press: Press) -> None:
        desk.turn(_what(desk, When(f"at mark {mark}", Claim(mark=mark, precision_s=0), press.stamp)))

    return chosen


def _exact(desk: Desk) -> Panel:
    def done(text: str, press: Press) -> str:
        if not EXACT.fullmatch(text):
            return f'"{text}" is not a time such as 14:05 or 14:05:30'
        wall = wall_time(text, press.stamp)
        if wall is None:
            return f"there is no time {text}"
        claim = Claim(wall_us=wall, precision_s=1 if text.count(":") == 2 else 60)
        desk.turn(_what(desk, When(f"at {text}", claim, press.stamp)))
        return ""

    lead = ["the room's own time of day; a time later than now means yesterday"]
    return Ask(
        desk, "LATE ENTRY  when", "time hh:mm or hh:mm:ss", done,
        panel_id="late", lead=lead, limit=8, allowed="0123456789:", foot="Enter, then say what it was",
    )  # fmt: skip


def wall_time(text: str, now: Stamp) -> int | None:
    """UTC microseconds of the last moment, not later than now, at which a room clock showed this time."""
    found = EXACT.fullmatch(text)
    if found is None:
        return None
    hours, minutes, seconds = int(found[1]), int(found[2]), int(found[3] or 0)
    if hours > 23 or minutes > 59 or seconds > 59:
        return None
    local_now = now.wall_us + now.off_s * 1_000_000
    wanted = local_now - local_now % DAY + ((hours * 60 + minutes) * 60 + seconds) * 1_000_000
    if wanted > local_now:
        wanted -= DAY
    wall = wanted - now.off_s * 1_000_000
    return wall if wall >= 0 else None


WHAT = (
    "a digit; or Enter the expected call, A result, Space energy, R reading, D drug, V device, X fault, "
    "B bailout, N note"
)


class What(Pick):
    """What it was: a digit for what is likely, Enter for the expected call, a letter for everything else."""

    LETTERS: ClassVar[Mapping[str, Callable[[Desk], Panel | None]]] = {
        "a": attempt.open_panel, "r": reading.open_panel, "d": drug.open_panel, "v": things.device_panel,
        "x": things.fault_panel, "b": bailout.open_panel, "n": things.note_panel, "y": things.decision_panel,
    }  # fmt: skip

    def __init__(self, late: LateDesk, title: str, items: Sequence[Item]) -> None:
        super().__init__(late, title, items, panel_id="late")
        self.late = late
        self._why()

    def _why(self) -> None:
        self.lead = (WHAT, f"why late: {self.late.reason or 'not said'} (Tab changes)")

    def _next_reason(self) -> None:
        reasons = [None, *(r.text for r in finding.reasons_for(self.desk.case.checklist, "late"))]
        now = reasons.index(self.late.reason) if self.late.reason in reasons else 0
        self.late.reason = reasons[(now + 1) % len(reasons)]
        self._why()

    def key(self, press: Press) -> bool:
        if press.key == "tab":
            self._next_reason()
            return True
        if press.key == "enter" and self.at is None:
            record(self.desk, press, OpenStage)
            return True
        letter = press.key.lower() if len(press.key) == 1 else "b" if press.key == "f4" else ""
        opener = self.LETTERS.get(letter)
        if opener is not None:
            panel = opener(self.desk)
            if panel is not None:
                panel.title = f"LATE  {panel.title}"
                self.desk.turn(panel)
            return True
        if press.key in ("space", "f6"):
            record(self.desk, press, EnergyOff if self.desk.case.burst else EnergyOn)
            return True
        return super().key(press)


def _what(desk: Desk, when: When) -> Panel:
    late = LateDesk(desk, when)
    items = [Item(words, do) for words, do in _likely(late, desk)][:10]
    return What(late, f"LATE ENTRY  {when.words}: what", items)


def _likely(late: LateDesk, desk: Desk) -> list[tuple[str, Callable[[Press], None]]]:
    case = desk.case
    found = [(s.words, _suggested(late, s)) for s in likely_missing(case, desk.now())]
    visit = case.visit
    stage = finding.stage(case.checklist, visit.stage) if visit else None
    if stage is not None and stage.attempts is not None and case.attempt is None:
        found += [(f"attempt: {o.text}", _outcome(late, o.id)) for o in stage.attempts.outcomes]
    return found


def _outcome(desk: Desk, outcome: str) -> Callable[[Press], None]:
    return lambda press: record(desk, press, CloseAttempt, outcome=outcome)


def _suggested(desk: Desk, suggestion: Suggestion) -> Callable[[Press], None]:
    def chosen(press: Press) -> None:
        fields = dict(suggestion.fields)
        if suggestion.do == "reading.take":
            desk.turn(reading.start(desk, fields["reading"]))
            return
        model = INTENT_MODELS[suggestion.do]
        if model is AnswerStep:
            record(desk, press, AnswerStep, answer="done", **fields)
        else:
            record(desk, press, model, **fields)

    return chosen


