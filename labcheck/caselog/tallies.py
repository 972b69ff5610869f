"""Running figures: sums of doses, latest and cumulative readings, counts and seconds of runs and bursts."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from labcheck.caselog.case import Case, Timed
from labcheck.caselog.events import ReadingTaken
from labcheck.caselog.ordering import by_happening
from labcheck.caselog.stamps import Moment, known_span
from labcheck.caselog.units import in_own_unit
from labcheck.checklist import finding
from labcheck.checklist.model import Tally
from labcheck.checklist.words import CUSP_WORDS, Cusp


@dataclass(frozen=True, slots=True)
class Total:
    """A tally as it stands. ``value`` in ``unit``, None where nothing was recorded.

    ``parts`` splits it by cusp where that is known. ``left_out`` counts what is not in it: doses whose amount was
    not said, readings in a unit that cannot be converted, seconds of spells over a restart that set the clock back.
    ``seq`` and ``at`` are those of the last entry.
    """

    tally: Tally
    value: Decimal | None
    unit: str
    parts: tuple[tuple[str, Decimal], ...] = ()
    left_out: int = 0
    seq: int | None = None
    at: Moment | None = None


def totals(case: Case, now: Moment) -> tuple[Total, ...]:
    """Every tally of the checklist, in its order."""
    return tuple(total(case, tally, now) for tally in case.checklist.tally)


def total(case: Case, tally: Tally, now: Moment) -> Total:
    """One tally. What is still on counts up to ``now``."""
    if tally.kind == "sum":
        return _sum(case, tally)
    if tally.kind in ("latest", "cumulative"):
        return _reading(case, tally)
    return _switched(case, tally, now)


def number_words(value: Decimal) -> str:
    """A decimal without exponent and without zeros that say nothing."""
    text = f"{value:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _sum(case: Case, tally: Tally) -> Total:
    drug = finding.drug(case.checklist, tally.drug or "")
    unit = tally.unit or (drug.unit if drug else "")
    doses = [d for d in case.doses if d.what.drug == tally.drug]
    known = [d.what.amount for d in doses if d.what.amount is not None and d.what.unit in (None, unit)]
    value = sum(known, Decimal(0)) if known else None
    left_out = len(doses) - len(known)
    last = by_happening(case, ((d.at, d.seq, d) for d in doses))[-1] if doses else None
    return Total(tally, value, unit, (), left_out, last.seq if last else None, last.at if last else None)


def _reading(case: Case, tally: Tally) -> Total:
    reading = finding.reading(case.checklist, tally.reading or "")
    unit = (reading.unit if reading else None) or tally.unit or ""
    taken = in_time(case, (r for r in case.readings if r.what.reading == tally.reading))
    before = latest = None
    left_out = 0
    last: Timed[ReadingTaken] | None = None
    for one in taken:
        value = in_own_unit(reading, one.what.value, one.what.unit) if reading else one.what.value
        if value is None:
            left_out += 1
            continue
        if one.what.reset and latest is not None:
            before = (before or Decimal(0)) + latest
        latest, last = value, one
    whole = latest
    if tally.kind == "cumulative" and latest is not None and before is not None:
        whole = before + latest
    return Total(tally, whole, unit, (), left_out, last.seq if last else None, last.at if last else None)


def in_time(case: Case, taken: Iterable[Timed[ReadingTaken]]) -> list[Timed[ReadingTaken]]:
    """Readings by when they were taken: one entered late is not the latest one, nor one from before a restart."""
    return by_happening(case, ((r.at, r.seq, r) for r in taken))


def latest_reading(case: Case, reading_id: str) -> Timed[ReadingTaken] | None:
    """The reading taken last, by when it was taken."""
    found = in_time(case, (r for r in case.readings if r.what.reading == reading_id))
    return found[-1] if found else None


def _switched(case: Case, tally: Tally, now: Moment) -> Total:
    """Counts and seconds of energy bursts or of the spells of a run."""
    spells: list[tuple[int, Cusp | None, Moment, Moment | None]]
    if tally.energy:
        spells = [(b.seq, b.cusp, b.start, b.end) for a in case.attempts for b in a.bursts]
    else:
        spells = [(s.seq, s.cusp, s.start, s.end) for s in case.spells if s.run == tally.run]
    if not spells:
        return Total(tally, None, tally.unit or ("s" if tally.kind == "seconds" else ""))
    by_cusp: dict[str, Decimal] = {}
    value, left_out = Decimal(0), 0
    for _, cusp, start, end in spells:
        lasted = known_span(start, end or now)
        if tally.kind == "seconds" and lasted is None:
            left_out += 1
            continue
        one = Decimal(1) if tally.kind == "count" or lasted is None else Decimal(lasted.us) / 1_000_000
        value += one
        if cusp is not None:
            by_cusp[CUSP_WORDS[cusp]] = by_cusp.get(CUSP_WORDS[cusp], Decimal(0)) + one
    seq, _, start, _ = spells[-1]
    unit = tally.unit or ("s" if tally.kind == "seconds" else "")
    return Total(tally, value, unit, tuple(by_cusp.items()), left_out, seq, start)
