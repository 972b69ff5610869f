"""Making the ``View``: what changes with an entry is made once per entry, what changes with time once a second.

A case of a thousand entries must not be scanned for every repaint, so each part is kept until the entry
count or its own time step changes.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from labcheck.caselog.case import Bailout, Case, Visit
from labcheck.caselog.entry_words import cusp_of, joined, ostium_of
from labcheck.caselog.figures import BigClock, Figure, big_watch, figures
from labcheck.caselog.holds import unmet
from labcheck.caselog.limit_words import unmet_words
from labcheck.caselog.progress import call_words, next_slot, next_words, stage_title
from labcheck.caselog.prompts import Prompt, prompt, silent_words
from labcheck.caselog.stamps import Moment, Stamp, span
from labcheck.caselog.steps import StepLine, bailout_lines, number_of, step_lines
from labcheck.caselog.telling import clock_words, late_words, tell
from labcheck.caselog.trace import Trace, trace
from labcheck.checklist import finding
from labcheck.checklist.unfolding import Slot
from labcheck.console.view import Expected, FooterKey, Save, TailLine, View

if TYPE_CHECKING:
    from labcheck.caselog.events import Event

TAIL_LINES = 24
SECOND = 1_000_000
STEP_US = {"expected": 5 * SECOND, "figures": 2 * SECOND, "prompt": 5 * SECOND, "trace": 30 * SECOND, "big": SECOND}
"""How often a part is made again while nothing is entered, microseconds. The clocks are not among them."""
IN_SECONDS = ("bailout:", "run:", "sample:", "watch:")
"""Figures that count seconds, by the beginning of their ids."""
MINUTES_STEP_US = 10 * SECOND


class Viewing:
    """Keeps the parts of the last view and makes only those that are stale."""

    def __init__(self, *, plain: bool = False, mono: bool = False) -> None:
        self.plain = plain
        self.mono = mono
        self._kept: dict[str, tuple[tuple[Any, ...], Any]] = {}

    def view(
        self,
        case: Case,
        now: Stamp,
        *,
        save: Save,
        step_at: int = 0,
        answer: str = "",
        keys: tuple[FooterKey, ...] = (),
        panel: str | None = None,
        hurry: bool = False,
    ) -> View:
        """The case as it stands at ``now``. In a ``hurry`` the trace and the figures may be those of a moment ago:
        they take longer than all the rest together, and a press is waiting to be acknowledged.
        """
        visit = case.visit
        title, lines = self.steps(case)
        stage = finding.stage(case.checklist, visit.stage) if visit else None
        quiet = bool(stage and stage.quiet)
        return View(
            case=case,
            now=now,
            technique=case.checklist.title,
            stage_title=stage_title(case, visit.stage, visit.cusp) if visit else "no stage open",
            stage_big=stage.big if stage else "",
            stage_us=max(0, span(visit.start, now.moment()).us) if visit else None,
            since_access_us=self._since_access(case, now),
            big=self._part("big", case, now, lambda: big_watch(case, now)),
            expected=self._part("expected", case, now, lambda: _expected(case, now)),
            steps_title=title,
            steps=lines,
            step_at=step_at,
            figures=self._slow("figures", case, now, hurry, quiet, lambda: figures(case, now)),
            prompt=None if quiet else self._prompt(case, now),
            silent=silent_words(case, now) or "",
            trace=self._slow("trace", case, now, hurry, quiet, lambda: trace(case, now)),
            tail=self._by_entry("tail", case, lambda: _tail(case)),
            save=save,
            answer=answer,
            keys=keys,
            panel=panel,
            quiet=quiet,
            plain=self.plain,
            mono=self.mono,
        )

    def steps(self, case: Case) -> tuple[str, tuple[StepLine, ...]]:
        """The steps in hand: those of the rescue opened last while it runs, else the open stage's."""
        found: tuple[str, tuple[StepLine, ...]] = self._by_entry("steps", case, lambda: _steps(case))
        return found

    def _prompt(self, case: Case, now: Stamp) -> Prompt | None:
        found: Prompt | None = self._part("prompt", case, now, lambda: prompt(case, now))
        return found

    def _since_access(self, case: Case, now: Stamp) -> int | None:
        start: Moment | None = self._by_entry("access", case, lambda: _access(case))
        return max(0, span(start, now.moment()).us) if start is not None else None

    def _slow(self, name: str, case: Case, now: Stamp, hurry: bool, quiet: bool, make: Callable[[], Any]) -> Any:
        """A part that takes long: not made in a hurry, and in a quiet stage only once after each entry."""
        kept = self._kept.get(name)
        if kept is not None and kept[0][0] == case.key and (hurry or (quiet and kept[0][1] == case.head_seq)):
            return kept[1]
        return self._part(name, case, now, make)

    def _by_entry(self, name: str, case: Case, make: Callable[[], Any]) -> Any:
        return self._keep(name, (case.key, case.head_seq), make)

    def _part(self, name: str, case: Case, now: Stamp, make: Callable[[], Any]) -> Any:
        return self._keep(name, (case.key, case.head_seq, now.boot_us // self._step_us(name)), make)

    def _step_us(self, name: str) -> int:
        """How often the part is made: figures that all speak of minutes need no making every other second."""
        kept = self._kept.get(name)
        if name != "figures" or kept is None or any(f.id.startswith(IN_SECONDS) for f in kept[1]):
            return STEP_US[name]
        return MINUTES_STEP_US

    def _keep(self, name: str, stands: tuple[Any, ...], make: Callable[[], Any]) -> Any:
        kept = self._kept.get(name)
        if kept is None or kept[0] != stands:
            kept = self._kept[name] = (stands, make())
        return kept[1]


def _expected(case: Case, now: Stamp) -> Expected | None:
    slot = next_slot(case)
    words = next_words(case)
    if not words or case.seal is not None:
        return None
    if slot is None:
        visit: Visit | None = case.visit
        return Expected(visit.slot, words) if visit else None
    waits = tuple(replace(one, text=unmet_words(case, slot.stage, one)) for one in unmet(case, slot, now))
    return Expected(slot, words, waits, _then(case, slot))


def _then(case: Case, slot: Slot) -> str:
    """The call after the expected one, roughly: the slot that follows it in the unfolded order."""
    if slot not in case.slots:
        return ""
    after = case.slots[case.slots.index(slot) + 1 :]
    following = next((s for s in after if s not in case.skipped and s.cusp not in case.abandoned), None)
    return call_words(case, following) if following else ""


def _steps(case: Case) -> tuple[str, tuple[StepLine, ...]]:
    rescue = next((b for b in reversed(case.bailouts) if b.end is None), None)
    if rescue is not None:
        lines = bailout_lines(case, rescue.seq)
        if lines:
            return _rescue_title(case, rescue), lines
    visit = case.visit
    if visit is None:
        return "", ()
    return stage_title(case, visit.stage, visit.cusp), step_lines(case, visit.slot)


def _rescue_title(case: Case, rescue: Bailout) -> str:
    """Which rescue it is: its place and number first, since a narrow screen cuts the end."""
    number = number_of(case, rescue)
    nth = f"number {number}" if number > 1 else None
    place = joined([cusp_of(rescue.what.cusp), ostium_of(rescue.what.ostium), nth])
    path = finding.bailout(case.checklist, rescue.what.bailout)
    return f"bailout{' ' if place else ''}{place}: {path.title if path is not None else rescue.what.bailout}"


def _access(case: Case) -> Moment | None:
    stage = case.checklist.access_stage
    return next((v.start for v in case.visits if v.stage == stage), None)


def _tail(case: Case) -> tuple[TailLine, ...]:
    return tuple(tail_line(case, event) for event in case.log[-TAIL_LINES:])


def tail_line(case: Case, event: Event) -> TailLine:
    """One entry as a line, with what became of it."""
    mark = "void" if event.seq in case.voided else "amended" if event.seq in case.amended else ""
    return TailLine(event.seq, clock_words(event.happened), tell(case, event), late_words(event), mark)  # type: ignore[arg-type]


__all__ = ["BigClock", "Figure", "Trace", "Viewing", "tail_line"]
