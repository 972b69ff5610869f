"""The log itself: one row per entry, as first written, with flags that say which were corrected later."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from pydantic import Field

from labcheck.caselog.stamps import Basis, Mode
from labcheck.registry.columns import Column, Count, Id, Offset, Row, Seconds, Time, clock, free, inside
from labcheck.registry.rows.fields import (
    AtRel,
    CaseId,
    CuspColumn,
    Late,
    NoteText,
    OstiumColumn,
    Reason,
    ReasonCode,
    Unit,
)


class EventRow(Row):
    """One entry of the log, as first written."""

    case_id: CaseId
    event_id: Annotated[
        Id, Column("E- and the entry's own id, the same in every export; loading twice adds nothing.")
    ]
    seq: Annotated[int, Field(ge=1), Column("Place in the log. This, not time, is the order.")]
    kind: Annotated[str, Column("What kind of entry it is.")]
    fact_kind: Annotated[str | None, Column("For addendum.added: the kind of the fact that was added.")]
    occurred_at: Annotated[Time, clock("Clock time at which it happened.")]
    recorded_at: Annotated[Time, clock("Clock time at which it was entered.")]
    utc_offset: Annotated[Offset, clock("Offset from UTC in force when it happened.")]
    t_rel_s: AtRel
    t_rel_basis: Annotated[Basis | None, Column("Clock that t_rel_s was measured with: boot, or wall.")]
    lag_s: Annotated[Seconds, Column("Entered minus happened, by the wall clock.", "s")]
    mode: Annotated[Mode, Column("How it was entered: live, late, amended or transcribed from paper.")]
    precision_s: Annotated[Count, Column("How finely the happened time is known; 0 for a key press.", "s")]
    time_quality: Annotated[
        Literal["measured", "estimated", "unsynchronized"],
        Column(
            "measured by this console's clocks at the press; estimated by a person; unsynchronized: not from "
            "this console's clock at all (paper)."
        ),
    ]
    late: Late
    late_over_20_min: Annotated[
        bool, Column("Whether it was entered more than 20 minutes after it happened.")
    ]
    voided: Annotated[bool, Column("Whether a later entry says that this one does not count.")]
    voided_by: Annotated[int | None, Column("seq of the entry that voids it.")]
    amended: Annotated[bool, Column("Whether a later entry changes a field of this one.")]
    amended_by: Annotated[str | None, Column("seqs of the entries that amend it, as E1;E2.")]
    refers_to: Annotated[int | None, Column("seq of the entry that this one ends, answers or corrects.")]
    stage: Annotated[str | None, Column("Stage it belongs to, by its id in the checklist.")]
    visit: Annotated[Count | None, Column("Which visit to that stage, from 1.")]
    cusp: CuspColumn
    ostium: OstiumColumn
    attempt: Annotated[
        Count | None, Column("Number of the attempt it belongs to, on that cusp in that stage.")
    ]
    code: Annotated[
        str | None,
        Column(
            "What it is about, by its id: the reading, drug, device, fault, bailout, step, decision, hold, prompt, "
            "clock, notice, item, field or checklist that an entry of this kind names (see Kinds of entry)."
        ),
    ]
    choice: Annotated[
        str | None,
        Column(
            "Its choice, answer, outcome, action, how or why (see Kinds of entry); of a step, the option."
        ),
    ]
    leads_to: Annotated[str | None, Column("Where a closed rescue leads.")]
    value: Annotated[Seconds | None, Column("The number, in the unit beside it.")]
    unit: Unit
    value_text: Annotated[str | None, free("The value where it is not one number, as entered.")]
    text: NoteText
    reason_code: ReasonCode
    reason: Reason
    late_reason: Annotated[str | None, free("Why it was entered after the fact.")]
    recorder: Annotated[str, inside("Tag of the person at the keys.")]

    KEY: ClassVar[tuple[str, ...]] = ("case_id", "seq")
