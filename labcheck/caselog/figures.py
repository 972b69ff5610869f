"""Tallies and watches as short sentences, recomputed every second: "ACT 274 s, 12 min ago, due in 18 min".

They say what is; they advise nothing. A figure that holds a clinical level names where the level comes from.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from labcheck.caselog.case import Case
from labcheck.caselog.clinical_figures import clinical_figures
from labcheck.caselog.clockwords import ago_words, span_with_basis
from labcheck.caselog.coronaries import coronary_figures
from labcheck.caselog.entry_words import bailout_title, cusp_of, joined, reading_title, run_title
from labcheck.caselog.levels import level_words, source_line
from labcheck.caselog.stamps import Moment, Span, Stamp, span
from labcheck.caselog.tallies import Total, number_words, totals
from labcheck.caselog.watches import Level, covers, recheck_words, running_watches, watch_words
from labcheck.checklist.model import Reading


@dataclass(frozen=True, slots=True)
class Figure:
    """One short sentence. ``source`` is empty, or names the source of the level in it and "verify locally".

    The id begins with what it is: ``bailout:``, ``run:``, ``sample:`` and the entry; ``watch:``, ``tally:``,
    ``reading:`` and the checklist's id. ``view:``, ``flow:``, ``late_watch:``, ``ratio:protamine`` and
    ``alignment`` are computed.
    """

    id: str
    words: str
    level: Level
    source: str = ""


@dataclass(frozen=True, slots=True)
class BigClock:
    """The watch that takes the large clock's place while it runs. ``seq`` is the entry it counts from.

    ``provisional``: it counts from a burst whose attempt has no outcome yet.
    """

    id: str
    title: str
    seq: int
    span: Span
    level: Level
    provisional: bool
    words: str


def figures(case: Case, now: Stamp) -> tuple[Figure, ...]:
    """Every figure worth a line now: what is running first, then watches, what the present stage is about, then
    tallies in checklist order and what is computed from them. After the seal time stands still.
    """
    at = case.seal.at if case.seal is not None else now.moment()
    computed = tuple(_computed(case, at))
    return (
        *_bailouts(case, at),
        *_runs(case, at),
        *_samples(case, at),
        *_watches(case, at),
        *(figure for figure in computed if _of_this_stage(figure)),
        *_tallies(case, at),
        *_rechecks(case, at),
        *(figure for figure in computed if not _of_this_stage(figure)),
    )


def _of_this_stage(figure: Figure) -> bool:
    return figure.id.partition(":")[0] in ("view", "late_watch")


def _computed(case: Case, at: Moment) -> Iterator[Figure]:
    for told in (*clinical_figures(case, at), *coronary_figures(case, at)):
        yield Figure(told.id, told.words, "notice" if told.notice else "plain", told.source)


def _bailouts(case: Case, at: Moment) -> Iterator[Figure]:
    for b in case.bailouts:
        if b.end is None:
            since = span_with_basis(span(b.start, at))
            yield Figure(f"bailout:{b.seq}", f"BAILOUT {bailout_title(case, b.what)} {since}", "notice")


def _runs(case: Case, at: Moment) -> Iterator[Figure]:
    for s in case.spells:
        if s.end is None:
            title = joined([f"{run_title(case, s.run)} ON", cusp_of(s.cusp)])
            yield Figure(f"run:{s.seq}", f"{title} {span_with_basis(span(s.start, at))}", "notice")


def _samples(case: Case, at: Moment) -> Iterator[Figure]:
    for s in case.samples:
        if s.answered is None:
            ago = span_with_basis(span(s.sent, at))
            words = f"{reading_title(case, s.reading)} sent {ago} ago, no result yet"
            yield Figure(f"sample:{s.seq}", words, "plain")


def _watches(case: Case, at: Moment) -> Iterator[Figure]:
    rechecked = {r.id for r in case.checklist.reading if r.recheck_min is not None}
    for running in running_watches(case, at):
        if running.watch.start.event == "sample" or covers(running.watch) in rechecked:
            continue  # the figure of the sample, or of the reading, says it
        source = source_line(case, running.watch.source) if running.watch.due_min is not None else ""
        yield Figure(f"watch:{running.watch.id}", watch_words(running), running.level, source)


def big_watch(case: Case, now: Stamp) -> BigClock | None:
    """The big watch that runs, such as the time since laceration; of several the one that began last."""
    big = [r for r in running_watches(case, now.moment()) if r.watch.big]
    if not big:
        return None
    running = min(big, key=lambda r: r.span.us)
    return BigClock(
        running.watch.id,
        running.watch.title,
        running.seq,
        running.span,
        running.level,
        running.provisional,
        watch_words(running),
    )


def _tallies(case: Case, at: Moment) -> Iterator[Figure]:
    by_id = {r.id: r for r in case.checklist.reading}
    for total in totals(case, at):
        if total.value is None and not total.left_out:
            continue
        reading = by_id.get(total.tally.reading or "")
        if total.tally.kind == "latest" and reading is not None:
            yield _latest(case, f"tally:{total.tally.id}", total, reading, at)
        else:
            words, level, source = _tally(case, total)
            yield Figure(f"tally:{total.tally.id}", words, level, source)


def _tally(case: Case, total: Total) -> tuple[str, Level, str]:
    words, reached, source = level_words(case, total)
    value = _value(total)
    counted = total.tally.kind == "count"
    parts = ", ".join(
        f"{name} {number_words(part) if counted else _amount(total, part)}" for name, part in total.parts
    )
    split = f" ({parts})" if len(total.parts) > 1 or (total.parts and len(case.order) > 1) else ""
    lacking = "of unknown length" if total.tally.kind == "seconds" else "without amount"
    missing = f"{total.left_out} {lacking}" if total.left_out else None
    sentence = joined(
        [
            f"{total.tally.title} {value}{split}",
            per_kg_words(case, total),
            missing,
            words or None,
        ]
    )
    return sentence, "notice" if reached else "plain", source


def _value(total: Total) -> str:
    return "not known" if total.value is None else _amount(total, total.value)


def _amount(total: Total, value: Decimal) -> str:
    if total.tally.kind == "seconds":
        return f"{value:.1f} {total.unit}"
    unit = "" if total.unit in total.tally.title.split() else total.unit
    return f"{number_words(value)} {unit}".strip()


def per_kg_words(case: Case, total: Total) -> str | None:
    """The sum over the weight of the plan, "80.0 IU/kg"."""
    weight = case.plan.weight_kg if case.plan is not None else None
    if not total.tally.per_kg or total.value is None:
        return None
    if weight is None:
        return "per kg not known: weight is not recorded"
    return f"{total.value / weight:.1f} {total.unit}/kg"


def _latest(case: Case, id: str, total: Total, reading: Reading, at: Moment) -> Figure:  # noqa: A002
    words, level, source = _tally(case, total)
    if total.at is None:
        return Figure(id, words, level, source)
    since = span(total.at, at)
    parts = [words, ago_words(since)]
    if reading.target_low is not None and total.value is not None and total.value < reading.target_low:
        parts.append(f"below {number_words(reading.target_low)} {total.unit}")
        level, source = "notice", source or source_line(case, reading.source)
    due = recheck_words(case, reading, at)
    if due is not None:
        parts.append(due[0])
        level = due[1] if due[1] != "plain" else level
        source = source or source_line(case, reading.source)
    return Figure(id, joined(parts), level, source)


def _rechecks(case: Case, at: Moment) -> Iterator[Figure]:
    """Readings that are due again and that no tally shows."""
    shown = {t.reading for t in case.checklist.tally if t.kind == "latest"}
    for reading in case.checklist.reading:
        if reading.recheck_min is None or reading.id in shown:
            continue
        due = recheck_words(case, reading, at)
        if due is not None:
            source = source_line(case, reading.source)
            yield Figure(f"reading:{reading.id}", f"{reading.title} {due[0]}", due[1], source)
