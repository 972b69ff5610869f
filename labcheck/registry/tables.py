"""All tables of one case: the one walk over the folded case that feeds every format."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from labcheck.ledger.chain import Head
from labcheck.registry.columns import Row
from labcheck.registry.deriving import endpoints, log, outcome, stages, values
from labcheck.registry.deriving.frame import Frame
from labcheck.registry.deriving.vocabulary import only_known
from labcheck.registry.rows.endpoints import EndpointRow
from labcheck.registry.rows.log import EventRow
from labcheck.registry.rows.outcome import BailoutRow, CaseRow, DeviationRow, IntervalRow, TotalRow
from labcheck.registry.rows.stages import AttemptRow, BurstRow, VisitRow
from labcheck.registry.rows.values import ClockRow, DecisionRow, DoseRow, ReadingRow, RunRow, StepRow

ROWS: Mapping[str, type[Row]] = {
    "cases": CaseRow,
    "events": EventRow,
    "stages": VisitRow,
    "attempts": AttemptRow,
    "bursts": BurstRow,
    "runs": RunRow,
    "readings": ReadingRow,
    "doses": DoseRow,
    "steps": StepRow,
    "decisions": DecisionRow,
    "bailouts": BailoutRow,
    "intervals": IntervalRow,
    "totals": TotalRow,
    "endpoints": EndpointRow,
    "deviations": DeviationRow,
    "clocks": ClockRow,
}
"""Every table by its file name, in the order in which they are written."""


@dataclass(frozen=True, slots=True)
class Tables:
    """The rows of one case, table by table; ``frame`` says under which names they leave."""

    frame: Frame
    rows: Mapping[str, Sequence[Row]]


def tables(frame: Frame, head: Head) -> Tables:
    """Every table of one case. Outside the hospital words that a person typed stand as ``other`` already here."""
    rows = _rows(frame, head)
    return Tables(frame, rows if frame.profile == "hospital" else only_known(rows, frame.case))


def _rows(frame: Frame, head: Head) -> dict[str, Sequence[Row]]:
    return {
        "cases": (outcome.case_row(frame, head),),
        "events": tuple(log.event_rows(frame)),
        "stages": tuple(stages.visit_rows(frame)),
        "attempts": tuple(stages.attempt_rows(frame)),
        "bursts": tuple(stages.burst_rows(frame)),
        "runs": tuple(stages.run_rows(frame)),
        "readings": tuple(values.reading_rows(frame)),
        "doses": tuple(values.dose_rows(frame)),
        "steps": tuple(values.step_rows(frame)),
        "decisions": tuple(values.decision_rows(frame)),
        "bailouts": tuple(outcome.bailout_rows(frame)),
        "intervals": tuple(outcome.interval_rows(frame)),
        "totals": tuple(outcome.total_rows(frame)),
        "endpoints": tuple(endpoints.endpoint_rows(frame)),
        "deviations": tuple(outcome.deviation_rows(frame)),
        "clocks": tuple(values.clock_rows(frame)),
    }
