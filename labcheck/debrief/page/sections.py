"""The parts of the page, each with the table that says the same as its drawing."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from labcheck.caselog.case import Case
from labcheck.caselog.deviations import deviations
from labcheck.caselog.trace import LETTERS
from labcheck.debrief.comparing import Compared, compared, median_words, own_words, place_words, trend_words
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
from labcheck.debrief.notes import Debriefing
from labcheck.debrief.outcomes import Outcomes, chart_words, failure_chart, leaflets, technical
from labcheck.debrief.page.charts import count_picture, failure_picture, run_chart, strip
from labcheck.debrief.page.markup import Markup, bullets, el, table, text, time
from labcheck.debrief.page.swim import drawings
from labcheck.debrief.timeline import Line, timeline
from labcheck.ledger.chain import short_head
from labcheck.reference.figures import Reason
from labcheck.reference.published import COUNTS, TIMES, Spread, Technique
from labcheck.reference.statistics import gates

TECHNIQUES: Mapping[str, Technique] = {
    "electrosurgical": Technique.ELECTROSURGICAL,
    "mechanical_splitter": Technique.SPLITTER,
    "coronary_protection": Technique.PROTECTION,
    "anterior_mitral": Technique.MITRAL,
}
"""The shipped techniques that published series are about."""

LETTER_WORDS = (
    "E energy, R reading, S sample sent, D drug, V device, F fault, N note, M mark, B bailout, A cusp abandoned, "
    "O order changed, C decision, H hold passed, P handover, K clock, x undone or voided, ~ amended, + added "
    "after the seal, Z sealed. A hollow dot was corrected, a square was entered late, hatched was left or abandoned."
)


def title(case: Case) -> Markup:
    """Which case this is, and the caution."""
    parts = [el("h1", None, f"Debrief {case.key}")]
    if case.rehearsal:
        parts.append(el("p", {"class": "rehearsal"}, "REHEARSAL, NOT A REAL CASE"))
    parts.append(el("p", None, el("strong", None, case.checklist.title)))
    parts += [
        el("p", {"class": "warn" if line.startswith("NOT SEALED") else "quiet"}, line)
        for line in about_lines(case)
    ]
    parts.append(el("p", {"class": "caution"}, CAUTION))
    return el("header", None, *parts)


def lanes(case: Case) -> Markup:
    """The swim lanes, with the details of dense stretches."""
    key = el("p", {"class": "quiet"}, LETTER_WORDS)
    return el("section", None, el("h2", None, "What happened"), *drawings(case), key)


def intervals(case: Case, history: History) -> Markup:
    """Today's intervals against own history, then the stages."""
    rows: list[tuple[Markup | str, ...]] = []
    for n, row in enumerate(interval_rows(case)):
        one = compared(history, row.id, row.title)
        start, end, lasted, noted = row_cells(row)
        when = el("div", {"class": "quiet time"}, f"{start} to {end}") if row.start else Markup("")
        place = el("div", None, place_words(one) or _below(one))
        rows.append((text(noted) + when, time(lasted), _own(one), strip(f"strip{n}", one) + place))
    head = ("interval", "today", "own earlier cases", "earlier cases (strokes) and today (diamond)")
    stages: list[tuple[Markup | str, ...]] = []
    for row in stage_rows(case):
        one = compared(history, row.id, row.title)
        start, end, lasted, noted = row_cells(row)
        own = own_words(one, interval=False) if row.kind == "stage" and one.earlier else ""
        stages.append((noted, time(lasted), time(f"{start} to {end}"), own))
    return el(
        "section",
        None,
        el("h2", None, "Intervals"),
        *(el("p", {"class": "quiet"}, line) for line in history_lines(history)),
        table("Intervals of the checklist, today and in own earlier cases", head, rows, "wrap"),
        table("Stages", ("stage", "today", "from, to", "own earlier cases"), stages, "wrap"),
    )


def _own(one: Compared) -> Markup:
    interval = one.against.median_interval if one.against is not None else None
    said = el("div", None, own_words(one, interval=False))
    if interval is None:
        return said
    return said + el("div", {"class": "quiet"}, median_words(interval))


def _below(one: Compared) -> str:
    n = len(one.earlier)
    return "values only, below five" if 0 < n < gates.HISTORY_FROM else ""


def history_lines(history: History) -> list[str]:
    """What the comparison is with, and what it is not with."""
    n = len(history.earlier)
    kind = "rehearsal" if history.rehearsals else "case"
    present = history.present
    same = f"same technique, {len(present.cusps)} {'cusp' if len(present.cusps) == 1 else 'cusps'}, same checklist"
    lines = [
        f"Compared with {n} earlier {kind}{'' if n == 1 else 's'} ({same}). The present case is not among them."
    ]
    if n < gates.HISTORY_FROM:
        lines.append(
            "Below five earlier cases only their values are shown, and nothing is computed from them."
        )
    if history.left_out:
        left = "; ".join(f"{why}: {count}" for why, count in history.left_out)
        lines.append(f"Left out: {left}.")
    lines += [
        f"Revisions {', '.join(join.revisions)} of the checklist are compared as one: {join.reason}."
        for join in history.agreed.join
        if join.checklist == present.checklist and present.revision in join.revisions
    ]
    lines.append("Quartiles are linear (type 7).")
    return lines


def trends(case: Case, history: History) -> Markup:
    """Run charts of the intervals that have enough earlier cases."""
    figures = []
    few = []
    for n, row in enumerate(interval_rows(case)):
        one = compared(history, row.id, row.title)
        if not one.chartable:
            few.append(f"{row.title} ({len(one.earlier)})")
            continue
        words = el("figcaption", None, trend_words(one))
        figures.append(
            el("figure", None, el("h3", None, row.title), run_chart(f"run{n}", one, history.earlier), words)
        )
    parts: list[Markup] = [el("h2", None, "Over time")]
    if figures:
        parts.append(
            el(
                "p",
                {"class": "quiet"},
                "Limits are computed on the logarithms of the times, from the earlier "
                f"cases alone: provisional from {gates.LIMITS_PROVISIONAL_FROM} cases, firm from "
                f"{gates.LIMITS_FIRM_FROM}. A value on the median ends a run.",
            )
        )
        parts.append(el("div", {"class": "pair"}, *figures))
    if few:
        parts.append(
            el(
                "p",
                {"class": "quiet"},
                f"No run chart below {gates.RUN_CHART_FROM} earlier cases: {', '.join(few)}.",
            )
        )
    return el("section", None, *parts)


def success(history: History) -> Markup:
    """Counts with their interval before today, today's result, the failure chart, and published series."""
    parts: list[Markup] = [el("h2", None, "How often it went as meant")]
    for n, found in enumerate((leaflets(history.earlier), technical(history.earlier))):
        parts.append(_outcomes(f"count{n}", found))
    today = [
        f"{one.cusp.replace('_', ' ')}: {_result(one.answer, one.value)}" for one in history.present.leaflets
    ]
    technical_today = "not known yet" if history.present.technical == "pending" else history.present.technical
    parts.append(
        el(
            "p",
            None,
            f"Today: {'; '.join(today) or 'no target'}; technical success at exit: {technical_today}.",
        )
    )
    parts.append(el("h3", None, "Are failures accumulating?"))
    rates = history.agreed.rates_of(history.present.technique)
    chart = failure_chart((*history.earlier, history.present), rates, history.present.case)
    if isinstance(chart, Reason):
        parts.append(el("p", None, f"No failure chart: {chart.text}."))
    else:
        figure = (
            el("figure", {"class": "half"}, failure_picture("cusum", chart)) if chart.tries else Markup("")
        )
        parts += [figure, *(el("p", None, line) for line in chart_words(chart))]
    return el("section", None, *parts, _published(history.present.technique))


def _result(answer: str, value: str) -> str:
    said = {"yes": "modified", "no": "not modified"}.get(answer, "not known")
    return f"{said} ({value.replace('_', ' ')})" if value else said


def _outcomes(name: str, found: Outcomes) -> Markup:
    said = el("p", None, f"Before today, {found.what}: ", el("strong", None, found.text()))
    if found.success.interval is None:
        return said
    return said + el("figure", {"class": "half"}, count_picture(name, found))


def _published(technique: str) -> Markup:
    """Published series of the technique, as context: never a target, never beside a bare percentage."""
    chosen = TECHNIQUES.get(technique)
    counts = [
        (f"{c.count} of {c.n} {c.per}s", c.what, c.source.line()) for c in COUNTS if c.technique == chosen
    ]
    times = [
        (
            f"{t.minutes:g} min"
            + (f" ({t.low:g} to {t.high:g}, {t.spread.value})" if t.spread is not Spread.NONE else ""),
            f"{t.what}, {f'n={t.n}' if t.n is not None else 'n not known'}",
            t.source.line(),
        )
        for t in TIMES
        if t.technique == chosen
    ]
    if not counts and not times:
        return el("p", {"class": "quiet"}, "No published series of this technique is kept here.")
    rows: list[tuple[Markup | str, ...]] = [*counts, *times]
    return el("h3", None, "Published series, for context only") + table(
        "Other hospitals, other patients, other definitions: context and never a target",
        ("figure", "of what", "source"),
        rows,
        "wrap",
    )


def facts(case: Case) -> Markup:
    """Attempts, bailouts, deviations and the rest, as facts."""
    found = deviations(case)
    parts: list[Markup] = [el("h2", None, "Where it went another way")]
    for kind, name in KINDS:
        lines = deviation_lines(found, kind)
        parts += [el("h3", None, f"{name} ({len(lines)})"), bullets(lines)]
    attempts: list[tuple[Markup | str, ...]] = list(attempt_rows(case))
    bailouts: list[tuple[Markup | str, ...]] = list(bailout_rows(case))
    return el(
        "section",
        None,
        *parts,
        el("h2", None, "Attempts, bailouts, tallies"),
        table("Attempts", ATTEMPT_HEAD, attempts),
        table("Bailouts", BAILOUT_HEAD, bailouts),
        el("h3", None, "Tallies at the end"),
        bullets(tally_lines(case)),
        el("h3", None, "Sign-out items settled by a reason"),
        bullets(signout_lines(case)),
        el("h3", None, "The record itself"),
        bullets(record_lines(case)),
    )


def whole_timeline(case: Case) -> Markup:
    """Every entry, which is also the key of the swim lanes."""
    rows: list[tuple[Markup | str, ...]] = [
        (_number(case, line), time(line.time), time(line.since), _told(line)) for line in timeline(case)
    ]
    head = ("entry", "time", "since access", "what")
    return el(
        "section",
        None,
        el("h2", None, "Timeline"),
        table("Every entry in the order of happening", head, rows, "long"),
    )


def _number(case: Case, line: Line) -> str:
    event = case.event(line.seq)
    letter = LETTERS.get(event.kind, "") if event is not None else ""
    return f"{letter}{line.seq}"


def _told(line: Line) -> Markup:
    words = "  ".join(part for part in (line.mark, line.late, line.words) if part)
    notes = (el("div", {"class": "quiet"}, f"corrected: {note}") for note in line.notes)
    return el("span", None, words) + Markup("".join(note.html for note in notes))


def writing(notes: Debriefing | None) -> Markup:
    """What was written down before, and room for plus, delta and actions: roles and never names."""
    parts: list[Markup] = [el("h2", None, "To be filled in by hand: no names, no ranking")]
    if notes is not None and (notes.learned or notes.actions):
        parts.append(el("h3", None, "Written down at an earlier debrief, beside the sealed log"))
        parts.append(bullets([*(n.words for n in notes.learned), *(a.words for a in notes.actions)]))
    for name in ("What went well (plus)", "What to change (delta)"):
        parts += [
            el("h3", None, name),
            el("div", {"class": "write"}, *(el("p", None, " ") for _ in range(3))),
        ]
    empty: list[tuple[Markup | str, ...]] = [(str(n), "", "", "") for n in (1, 2, 3)]
    parts.append(table("Actions", ("action", "what", "owner's role", "by which date"), empty, "blank"))
    return el("section", None, *parts)


def foot(case: Case, head: str, count: int) -> Markup:
    """Whether this is the whole record."""
    return el("footer", None, el("h2", None, "Whether this is the whole record"), *_foot(case, head, count))


def _foot(case: Case, head: str, count: int) -> Iterator[Markup]:
    yield el(
        "p", None, f"Entries in the ledger: {count}. Head, short form: ", el("strong", None, short_head(head))
    )
    yield el("p", {"class": "digest"}, f"head digest {head}")
    yield el("p", {"class": "digest"}, f"checklist digest {case.checklist_digest or 'none'}")
    if count != len(case.log):
        yield el(
            "p", {"class": "warn"}, f"CAUTION: made from {len(case.log)} entries, the ledger holds {count}."
        )
