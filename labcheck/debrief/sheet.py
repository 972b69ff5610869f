"""The debrief as plain text: facts in order, the intervals, what went another way, and room to write.

The same case gives the same lines, whenever and wherever they are made.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import chain

from labcheck.caselog.case import Case
from labcheck.caselog.deviations import Deviation, Kind, deviations
from labcheck.debrief.comparing import compared, own_words, place_words
from labcheck.debrief.facts import (
    ATTEMPT_HEAD,
    BAILOUT_HEAD,
    CAUTION,
    KINDS,
    about_lines,
    attempt_rows,
    bailout_rows,
    deviation_lines,
    interval_rows,
    record_lines,
    row_cells,
    signout_lines,
    stage_rows,
    tally_lines,
)
from labcheck.debrief.history import History
from labcheck.debrief.lines import bullets, heading, inert, table, wrapped
from labcheck.debrief.notes import Debriefing
from labcheck.debrief.outcomes import chart_words, failure_chart, leaflets, technical
from labcheck.debrief.timeline import timeline
from labcheck.reference.figures import Reason


def sheet(
    case: Case, head: str, count: int, history: History | None = None, notes: Debriefing | None = None
) -> list[str]:
    """The debrief of a case, one string a line, at most 80 columns.

    ``head``: the digest of the case's last entry; ``count``: how many entries the ledger holds for it.
    ``history``: own earlier cases; ``notes``: what an earlier debrief of this case wrote down.
    """
    found = deviations(case)
    parts: tuple[Callable[[], list[str]], ...] = (
        lambda: _title(case),
        lambda: _intervals(case),
        lambda: _own(case, history),
        lambda: [*heading("Attempts"), *table(ATTEMPT_HEAD, attempt_rows(case))],
        lambda: [*heading("Bailouts"), *table(BAILOUT_HEAD, bailout_rows(case))],
        *(_deviation_part(found, kind, title) for kind, title in KINDS),
        lambda: [*heading("Tallies at the end"), *bullets(tally_lines(case))],
        lambda: [*heading("Sign-out items settled by a reason"), *bullets(signout_lines(case))],
        lambda: [*heading("The record itself"), *bullets(record_lines(case))],
        lambda: _timeline(case),
        lambda: _notes(notes),
        lambda: _blanks(),
        lambda: _foot(case, head, count),
    )
    return [inert(line) for part in parts for line in part()]


def _deviation_part(found: tuple[Deviation, ...], kind: Kind, title: str) -> Callable[[], list[str]]:
    def part() -> list[str]:
        lines = deviation_lines(found, kind)
        return [*heading(f"{title} ({len(lines)})"), *bullets(lines)]

    return part


def _title(case: Case) -> list[str]:
    reality = "  REHEARSAL, NOT A REAL CASE" if case.rehearsal else ""
    about = chain.from_iterable(wrapped(line) for line in about_lines(case))
    return [f"DEBRIEF  {case.key}{reality}", *wrapped(case.checklist.title), *about, "", *wrapped(CAUTION)]


def _intervals(case: Case) -> list[str]:
    """The checklist's intervals, then every stage, with its visits where there were several."""
    out = heading("Intervals")
    out += table(("from", "to", "time", "interval"), [row_cells(r) for r in interval_rows(case)])
    out += heading("Stages")
    return out + table(("from", "to", "time", "stage"), [row_cells(r) for r in stage_rows(case)])


def _own(case: Case, history: History | None) -> list[str]:
    """Today beside own earlier cases."""
    if history is None:
        return []
    said = [f"{len(history.earlier)} comparable earlier cases"]
    said += [f"left out, {why}: {n}" for why, n in history.left_out]
    for row in interval_rows(case):
        one = compared(history, row.id, row.title)
        where = place_words(one)
        if one.today is not None:
            said.append(f"{row.title}: {own_words(one)}{f'; today {where}' if where else ''}")
    said.append(f"before today, {leaflets(history.earlier).what}: {leaflets(history.earlier).text()}")
    said.append(f"before today, {technical(history.earlier).what}: {technical(history.earlier).text()}")
    rates = history.agreed.rates_of(history.present.technique)
    chart = failure_chart((*history.earlier, history.present), rates, history.present.case)
    said.append(
        f"failure chart: {chart.text}"
        if isinstance(chart, Reason)
        else "failure chart: " + " ".join(chart_words(chart))
    )
    return [*heading("Beside own earlier cases"), *bullets(said)]


def _timeline(case: Case) -> list[str]:
    out = heading("Timeline (entry, time, since access began)")
    for line in timeline(case):
        words = "  ".join(part for part in (line.mark, line.late, line.words) if part)
        out += wrapped(words, f"{line.seq:>5}  {line.time}  {line.since:>9}  ")
        for note in line.notes:
            out += wrapped(note, " " * 26 + "^ ")
    return out


def _notes(notes: Debriefing | None) -> list[str]:
    if notes is None or not (notes.learned or notes.actions):
        return []
    out = heading("Written down at an earlier debrief, beside the sealed log")
    return [*out, *bullets([*(n.words for n in notes.learned), *(a.words for a in notes.actions)])]


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
