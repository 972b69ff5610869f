"""The one reminder that may be on the screen, and what may have been forgotten after a silence.

A prompt is text, never a sound and never a dialog; it says what is due by the checklist, not what to do.
In a quiet stage there is none. Each can be silenced for the rest of the case.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from labcheck.caselog.case import Case
from labcheck.caselog.clockwords import MINUTE, span_words
from labcheck.caselog.entry_words import attempt_name, outcome_words, reading_title, run_title
from labcheck.caselog.levels import levels, short, source_line
from labcheck.caselog.progress import call_words, next_slot
from labcheck.caselog.stamps import Moment, Stamp, span
from labcheck.caselog.steps import step_lines
from labcheck.caselog.tallies import number_words, totals
from labcheck.caselog.watches import Running, covers, recheck_words, running_watches, watch_words
from labcheck.checklist import finding

NOTICE_SHOWN_US = 5 * MINUTE
"""How long a tally's notice stays a prompt after the entry that reached it; the figure goes on saying it."""

_PROGRAM = frozenset({"clock.noticed", "lease.taken"})
"""Entries the program made by itself: they are no sign that anybody is at the keys."""


@dataclass(frozen=True, slots=True)
class Prompt:
    """One reminder. ``id`` silences it; ``source`` names where a clinical level in it comes from."""

    id: str
    words: str
    source: str = ""


@dataclass(frozen=True, slots=True)
class Suggestion:
    """Something that may have happened without a press. ``do`` and ``fields`` make the intent."""

    words: str
    do: str
    fields: Mapping[str, str] = field(default_factory=dict)


def prompt(case: Case, now: Stamp) -> Prompt | None:
    """The most pressing reminder that nobody has silenced: overdue, due, notices, then silence."""
    visit = case.visit
    stage = finding.stage(case.checklist, visit.stage) if visit is not None else None
    if case.seal is not None or (stage is not None and stage.quiet):
        return None
    return next((p for p in _candidates(case, now.moment()) if p.id not in case.silenced), None)


def _candidates(case: Case, at: Moment) -> Iterator[Prompt]:
    watches = [w for w in running_watches(case, at) if w.level != "plain"]
    for wanted in ("overdue", "due"):
        for running in watches:
            if running.level == wanted:
                source = source_line(case, running.watch.source)
                yield Prompt(f"watch:{running.watch.id}", _watch_prompt(running), source)
    yield from _rechecks(case, at)
    yield from _attempts(case)
    yield from _notices(case, at)
    yield from _silence(case, at)


def _watch_prompt(running: Running) -> str:
    """The checklist's own words for what is due, and since when."""
    watch = running.watch
    if watch.text is None or watch.due_min is None:
        return watch_words(running)
    return f"{watch.text}, since {span_words(running.span.us - int(watch.due_min * MINUTE))}"


def _rechecks(case: Case, at: Moment) -> Iterator[Prompt]:
    watched = {covers(watch) for watch in case.checklist.watch if watch.due_min is not None}
    for reading in case.checklist.reading:
        if reading.recheck_min is None or reading.id in watched:
            continue
        due = recheck_words(case, reading, at)
        if due is not None and due[1] != "plain":
            yield Prompt(
                f"reading:{reading.id}", f"{reading.title} {due[0]}", source_line(case, reading.source)
            )


def _attempts(case: Case) -> Iterator[Prompt]:
    """The number of tries in the open stage, once it passes the checklist's notice."""
    visit = case.visit
    stage = finding.stage(case.checklist, visit.stage) if visit is not None else None
    if visit is None or stage is None or stage.attempts is None or stage.attempts.notice_after is None:
        return
    number = sum(1 for a in case.attempts if a.stage == visit.stage and a.cusp == visit.cusp)
    if number >= stage.attempts.notice_after:
        cusp = f" {visit.cusp}" if visit.cusp else ""
        source = source_line(case, stage.attempts.source or stage.source)
        yield Prompt(
            f"attempts:{visit.stage}:{visit.cusp or ''}", f"{stage.title}{cusp}: {number} attempts", source
        )


def _notices(case: Case, at: Moment) -> Iterator[Prompt]:
    for total in totals(case, at):
        if total.value is None or total.at is None or span(total.at, at).us > NOTICE_SHOWN_US:
            continue
        reached = [level for level in levels(case, total)[0] if level.value <= total.value]
        if reached:
            level = number_words(short(reached[-1].value))
            words = f"{total.tally.title} {number_words(total.value)} {total.unit}: {reached[-1].text}"
            yield Prompt(f"tally:{total.tally.id}:{level}"[:80], words, reached[-1].source)


def _silence(case: Case, at: Moment) -> Iterator[Prompt]:
    us = silent_us(case, at)
    if us is not None and us >= case.checklist.silent_after_min * MINUTE:
        yield Prompt("silence", f"last press {span_words(us)} ago: something not recorded?")


def silent_us(case: Case, at: Moment) -> int | None:
    """Microseconds since the last entry that a person made; None before the first."""
    for event in reversed(case.log):
        if event.kind not in _PROGRAM:
            return max(0, span(event.entered.moment(), at).us)
    return None


def silent_words(case: Case, now: Stamp) -> str | None:
    """The silence count, "last press 4:12"."""
    us = None if case.seal is not None else silent_us(case, now.moment())
    return None if us is None else f"last press {span_words(us)}"


def likely_missing(case: Case, now: Stamp) -> tuple[Suggestion, ...]:
    """What the checklist would expect to have happened by now and the log does not have, likeliest first.

    Only a list to pick from: nothing is recorded by being suggested.
    """
    return tuple(_missing(case, now.moment()))


def _missing(case: Case, at: Moment) -> Iterator[Suggestion]:
    attempt = case.attempt
    if case.burst is not None:
        yield Suggestion(f"energy off, {attempt_name(case, case.burst.attempt)}", "energy.off")
    if attempt is not None:
        stage = finding.stage(case.checklist, attempt.stage)
        for option in stage.attempts.outcomes if stage is not None and stage.attempts else ():
            result = outcome_words(case, attempt.stage, option.id)
            fields = {"outcome": option.id, "stage": attempt.stage, "cusp": attempt.cusp}
            yield Suggestion(f"{attempt_name(case, attempt.seq)}: {result}", "attempt.close", fields)
    slot = next_slot(case)
    if slot is not None:
        opened = {"stage": slot.stage, **({"cusp": slot.cusp} if slot.cusp else {})}
        yield Suggestion(f'"{call_words(case, slot)}"', "stage.open", opened)
    for sample in case.samples:
        if sample.answered is None:
            title = reading_title(case, sample.reading)
            yield Suggestion(f"{title} result", "reading.take", {"reading": sample.reading})
    for reading in case.checklist.reading:
        due = recheck_words(case, reading, at)
        if due is not None and due[1] != "plain":
            do = "sample.send" if reading.sample else "reading.take"
            yield Suggestion(f"{reading.title} again", do, {"reading": reading.id})
    for spell in case.spells:
        if spell.end is None:
            yield Suggestion(f"{run_title(case, spell.run)} off", "run.stop", {"run": spell.run})
    yield from _open_steps(case)


def _open_steps(case: Case) -> Iterator[Suggestion]:
    """Steps of the present stage that a bare "done" would answer, killer steps first."""
    visit = case.visit
    lines = step_lines(case, visit.slot) if visit is not None else ()
    for line in sorted(lines, key=lambda one: not one.step.killer):
        if line.state == "open" and line.step.kind == "done":
            cusp = {"cusp": line.cusp} if line.cusp else {}
            yield Suggestion(
                line.step.say, "step.answer", {"step": line.step.id, "stage": line.stage, **cusp}
            )
