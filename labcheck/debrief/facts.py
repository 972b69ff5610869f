"""The parts of a debrief as plain words and rows, made once for the sheet, the page and the screen."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from labcheck.caselog.case import Case
from labcheck.caselog.clockwords import (
    UNKNOWN,
    clock_words,
    date_words,
    offset_words,
    seconds_words,
    span_with_basis,
)
from labcheck.caselog.deviations import Deviation, Kind
from labcheck.caselog.entry_words import bailout_title, outcome_words, why
from labcheck.caselog.figures import figures
from labcheck.caselog.intervals import Row, added, interval_table
from labcheck.caselog.progress import stage_title
from labcheck.caselog.stamps import Moment, known_span, span
from labcheck.caselog.steps import bailout_lines
from labcheck.caselog.telling import tell
from labcheck.checklist.words import CUSP_WORDS

CAUTION = (
    "Facts as they were recorded, by this console's clock. No advice and no judgement of anybody: local "
    "protocol and the licensed physician decide. Verify every clinical level locally. For the team's own "
    "learning; not part of the patient's record unless your hospital says so."
)
KINDS: tuple[tuple[Kind, str], ...] = (
    ("missing", "Missing: no record and no decision"),
    ("skipped", "Left out on purpose"),
    ("hold_passed", "Holds passed, with the reason given"),
    ("inverted", "Out of order"),
    ("late_step", "Steps answered late"),
    ("rework", "Stages entered again"),
    ("late_entry", "Late entries"),
    ("correction", "Corrections"),
)


def deviation_lines(found: tuple[Deviation, ...], kind: Kind) -> list[str]:
    """The deviations of one kind, each with the entry it is about."""
    return [f"{d.words}{f'  [{d.seq}]' if d.seq else ''}" for d in found if d.kind == kind]


def about_lines(case: Case) -> list[str]:
    """Which case, checklist and day, and whether it is sealed."""
    lines = [f"checklist {case.checklist.id}, revision {case.checklist.revision}"]
    if case.plan is not None:
        cusps = " then ".join(CUSP_WORDS[c] for c in case.order)
        study = case.plan.study_number or "none"
        lines.append(f"cusps: {cusps}; {case.plan.substrate} valve; study number {study}")
    if case.opened is not None:
        lines.append(
            f"opened {date_words(case.opened)} {clock_words(case.opened)} {offset_words(case.opened)}"
        )
    if case.seal is None:
        lines.append("NOT SEALED: this case is still open, and what follows may change")
    else:
        lines.append(
            f"sealed {date_words(case.seal.at)} {clock_words(case.seal.at)} by {case.seal.signed_by}"
        )
    return lines


def time_words(moment: Moment | None) -> str:
    """The time of day, or a dash where it is not known."""
    return clock_words(moment) if moment is not None else "-"


def interval_rows(case: Case) -> list[Row]:
    """The checklist's own intervals."""
    return [row for row in interval_table(case, None) if row.kind == "interval"]


def stage_rows(case: Case) -> list[Row]:
    """Every stage that was entered, with its visits where there were several."""
    rows = interval_table(case, None)
    out: list[Row] = []
    for stage in (r for r in rows if r.kind == "stage"):
        visits = [r for r in rows if r.kind == "visit" and r.id.rpartition(":")[0] == f"visit:{stage.id[6:]}"]
        out += [stage, *visits] if len(visits) > 1 else [_with_note(stage, visits)]
    return out


def _with_note(stage: Row, visits: list[Row]) -> Row:
    return replace(stage, note=visits[0].note) if visits else stage


def row_cells(row: Row) -> tuple[str, str, str, str]:
    """From, to, how long, and what it is."""
    absent = UNKNOWN if row.state == "done" else row.state
    lasted = span_with_basis(row.span) if row.span is not None else absent
    noted = f"{row.title} ({row.note})" if row.note else row.title
    return time_words(row.start), time_words(row.end), lasted, noted


ATTEMPT_HEAD = ("from", "cusp, number", "bursts", "energy", "result")


def attempt_rows(case: Case) -> Iterator[tuple[str, str, str, str, str]]:
    """Every attempt, under ``ATTEMPT_HEAD``."""
    for a in case.attempts:
        bursts = added(known_span(b.start, b.end) if b.end is not None else None for b in a.bursts)
        spent = seconds_words(bursts.us) if bursts is not None and a.bursts else "-"
        result = outcome_words(case, a.stage, a.outcome) if a.outcome else "NO OUTCOME"
        said = f"{result}: {why(case, a.reason)}" if a.reason else result
        where = f"{CUSP_WORDS[a.cusp]} {a.number}"
        title = stage_title(case, a.stage, None)
        yield time_words(a.start), where, str(len(a.bursts)), spent, f"{title}: {said}"


BAILOUT_HEAD = ("from", "to", "time", "bailout")


def bailout_rows(case: Case) -> Iterator[tuple[str, str, str, str]]:
    """Every rescue, under ``BAILOUT_HEAD``."""
    for b in case.bailouts:
        path = next((p for p in case.checklist.bailout if p.id == b.what.bailout), None)
        option = next((o for o in path.outcomes if o.id == b.outcome), None) if path is not None else None
        result = option.text if option is not None else b.outcome or "STILL OPEN"
        steps = bailout_lines(case, b.seq)
        answered = sum(1 for step in steps if step.state != "open")
        lasted = span_with_basis(span(b.start, b.end)) if b.end is not None else "-"
        said = f"{bailout_title(case, b.what)}: {result}; {answered} of {len(steps)} steps answered"
        yield time_words(b.start), time_words(b.end), lasted, said


def tally_lines(case: Case) -> list[str]:
    """Tallies as they stood at the seal, or at the last entry of a case that is not sealed."""
    last = case.log[-1].entered if case.log else None
    shown = [f for f in figures(case, last) if f.id.startswith("tally:")] if last is not None else []
    return [f"{f.words}{f'  (level: {f.source})' if f.source else ''}" for f in shown]


def signout_lines(case: Case) -> list[str]:
    """Sign-out items that were settled by a reason."""
    out = []
    for event in case.log:
        what = event.what
        if what.kind == "signout.settled" and event.seq not in case.voided:
            out.append(f"{what.text}: {why(case, what.reason)}  [{event.seq}]")
    return out


def record_lines(case: Case) -> list[str]:
    """How the record itself was made."""
    modes = [event.mode for event in case.log]
    counted = ", ".join(f"{mode} {modes.count(mode)}" for mode in ("live", "late", "transcribed", "amended"))
    lines = [f"entries {len(case.log)}: {counted}; voided {len(case.voided)}, amended {len(case.amended)}"]
    lines += [
        f"handover {h.what.outgoing} to {h.what.incoming} at {clock_words(h.at)}" for h in case.handovers
    ]
    for seq in sorted([n.seq for n in case.notices] + [c.seq for c in case.comparisons]):
        event = case.event(seq)
        if event is not None:
            lines.append(f"{clock_words(event.happened)} {tell(case, event)}")
    return lines
