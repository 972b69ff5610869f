"""The debrief as plain text: facts in order, the intervals, what went another way, and room to write.

The same case gives the same lines, whenever and wherever they are made.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from labcheck.caselog.case import Case
from labcheck.caselog.clockwords import clock_words, date_words, offset_words, seconds_words, span_with_basis
from labcheck.caselog.deviations import Deviation, Kind, deviations
from labcheck.caselog.entry_words import bailout_title, outcome_words, why
from labcheck.caselog.figures import figures
from labcheck.caselog.intervals import Row, added, interval_table
from labcheck.caselog.progress import stage_title
from labcheck.caselog.stamps import Moment, span
from labcheck.caselog.steps import bailout_lines
from labcheck.caselog.telling import tell
from labcheck.checklist.words import CUSP_WORDS
from labcheck.debrief.lines import bullets, heading, inert, table, wrapped
from labcheck.debrief.timeline import timeline

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


def sheet(case: Case, head: str, count: int) -> list[str]:
    """The debrief of a case, one string a line, at most 80 columns.

    ``head``: the digest of the case's last entry; ``count``: how many entries the ledger holds for it.
    """
    found = deviations(case)
    parts: tuple[Callable[[], list[str]], ...] = (
        lambda: _title(case),
        lambda: _intervals(case),
        lambda: _attempts(case),
        lambda: _bailouts(case),
        *(_deviation_part(found, kind, title) for kind, title in KINDS),
        lambda: _tallies(case),
        lambda: _signout(case),
        lambda: _record(case),
        lambda: _timeline(case),
        lambda: _blanks(),
        lambda: _foot(case, head, count),
    )
    return [inert(line) for part in parts for line in part()]


def _deviation_part(found: tuple[Deviation, ...], kind: Kind, title: str) -> Callable[[], list[str]]:
    def part() -> list[str]:
        lines = [f"{d.words}{f'  [{d.seq}]' if d.seq else ''}" for d in found if d.kind == kind]
        return [*heading(f"{title} ({len(lines)})"), *bullets(lines)]

    return part


def _title(case: Case) -> list[str]:
    plan = case.plan
    reality = "  REHEARSAL, NOT A REAL CASE" if case.rehearsal else ""
    lines = [f"DEBRIEF  {case.key}{reality}", *wrapped(case.checklist.title)]
    lines.extend(wrapped(f"checklist {case.checklist.id}, revision {case.checklist.revision}"))
    if plan is not None:
        cusps = " then ".join(CUSP_WORDS[c] for c in case.order)
        lines.extend(
            wrapped(f"cusps: {cusps}; {plan.substrate} valve; study number {plan.study_number or 'none'}")
        )
    if case.opened is not None:
        opened = f"{date_words(case.opened)} {clock_words(case.opened)} {offset_words(case.opened)}"
        lines.append(f"opened {opened}")
    lines.append(_sealed(case))
    return [*lines, "", *wrapped(CAUTION)]


def _sealed(case: Case) -> str:
    if case.seal is None:
        return "NOT SEALED: this case is still open, and what follows may change"
    return f"sealed {date_words(case.seal.at)} {clock_words(case.seal.at)} by {case.seal.signed_by}"


def _time(moment: Moment | None) -> str:
    return clock_words(moment) if moment is not None else "-"


def _intervals(case: Case) -> list[str]:
    """The checklist's intervals, then every stage, with its visits where there were several."""
    rows = interval_table(case, None)
    named = [r for r in rows if r.kind == "interval"]
    stages: list[Row] = []
    for stage in (r for r in rows if r.kind == "stage"):
        visits = [r for r in rows if r.kind == "visit" and r.id.rpartition(":")[0] == f"visit:{stage.id[6:]}"]
        stages += [stage, *visits] if len(visits) > 1 else [_with_note(stage, visits)]
    out = heading("Intervals")
    out += table(("from", "to", "time", "interval"), [_cells(r) for r in named])
    out += heading("Stages")
    return out + table(("from", "to", "time", "stage"), [_cells(r) for r in stages])


def _with_note(stage: Row, visits: list[Row]) -> Row:
    return replace(stage, note=visits[0].note) if visits else stage


def _cells(row: Row) -> tuple[str, str, str, str]:
    lasted = span_with_basis(row.span) if row.span is not None else row.state
    return _time(row.start), _time(row.end), lasted, _noted(row)


def _noted(row: Row) -> str:
    return f"{row.title} ({row.note})" if row.note else row.title


def _attempts(case: Case) -> list[str]:
    rows = []
    for a in case.attempts:
        bursts = added(span(b.start, b.end) if b.end is not None else None for b in a.bursts)
        spent = seconds_words(bursts.us) if bursts is not None and a.bursts else "-"
        result = outcome_words(case, a.stage, a.outcome) if a.outcome else "NO OUTCOME"
        said = f"{result}: {why(case, a.reason)}" if a.reason else result
        where = f"{CUSP_WORDS[a.cusp]} {a.number}"
        rows.append(
            (_time(a.start), where, str(len(a.bursts)), spent, f"{stage_title(case, a.stage, None)}: {said}")
        )
    return [*heading("Attempts"), *table(("from", "cusp, number", "bursts", "energy", "result"), rows)]


def _bailouts(case: Case) -> list[str]:
    rows = []
    for b in case.bailouts:
        path = next((p for p in case.checklist.bailout if p.id == b.what.bailout), None)
        option = next((o for o in path.outcomes if o.id == b.outcome), None) if path is not None else None
        result = option.text if option is not None else b.outcome or "STILL OPEN"
        steps = bailout_lines(case, b.seq)
        answered = sum(1 for step in steps if step.state != "open")
        lasted = span_with_basis(span(b.start, b.end)) if b.end is not None else "-"
        said = f"{bailout_title(case, b.what)}: {result}; {answered} of {len(steps)} steps answered"
        rows.append((_time(b.start), _time(b.end), lasted, said))
    return [*heading("Bailouts"), *table(("from", "to", "time", "bailout"), rows)]


def _tallies(case: Case) -> list[str]:
    """Tallies as they stood at the seal, or at the last entry of a case that is not sealed."""
    last = case.log[-1].entered if case.log else None
    shown = [f for f in figures(case, last) if f.id.startswith("tally:")] if last is not None else []
    lines = [f"{f.words}{f'  (level: {f.source})' if f.source else ''}" for f in shown]
    return [*heading("Tallies at the end"), *bullets(lines)]


def _signout(case: Case) -> list[str]:
    out = []
    for event in case.log:
        what = event.what
        if what.kind == "signout.settled" and event.seq not in case.voided:
            out.append(f"{what.text}: {why(case, what.reason)}  [{event.seq}]")
    return [*heading("Sign-out items settled by a reason"), *bullets(out)]


def _record(case: Case) -> list[str]:
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
    return [*heading("The record itself"), *bullets(lines)]


def _timeline(case: Case) -> list[str]:
    out = heading("Timeline (entry, time, since access began)")
    for line in timeline(case):
        words = "  ".join(part for part in (line.mark, line.late, line.words) if part)
        out += wrapped(words, f"{line.seq:>5}  {line.time}  {line.since:>9}  ")
        for note in line.notes:
            out += wrapped(note, " " * 26 + "^ ")
    return out


def _blanks() -> list[str]:
    rule = "  " + "_" * 76
    out = heading("To be filled in by hand: no names, no ranking")
    for title in ("What went well (plus)", "What to change (delta)"):
        out += [title, rule, rule, rule, ""]
    out.append("Actions: what, owner's role, by which date")
    return [*out, rule, rule, rule]


def _foot(case: Case, head: str, count: int) -> list[str]:
    out = heading("Whether this is the whole record")
    out += [f"  entries in the ledger: {count}", "  head digest:", f"    {head}"]
    out += ["  checklist digest:", f"    {case.checklist_digest or 'none'}"]
    if count != len(case.log):
        out += wrapped(
            f"CAUTION: this sheet was made from {len(case.log)} entries, the ledger holds {count}."
        )
    return out
