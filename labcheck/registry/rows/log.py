"""The log itself: one row per entry, as first written, with flags that say which were corrected later."""

from __future__ import annotations

from typing import Annotated, ClassVar

from pydantic import Field

from labcheck.caselog.stamps import Basis, Mode
from labcheck.registry.columns import Column, Count, Id, Offset, Row, Seconds, Time, clock, free, inside
from labcheck.registry.rows.fields import (
    CaseId,
    Late,
    NoteText,
    OstiumColumn,
    Quality,
    Reason,
    ReasonCode,
)


class EventRow(Row):
    """One entry of the log, as first written.

    Order of entry is ``seq``; order of happening is ``stands_rel_s`` (``stands_at`` where access was never opened),
    ties by ``seq``; count only rows with ``voided`` = ``false``.

    An entry of kind ``event.amended`` names in ``refers_to`` the entry that it changes and in ``code`` the field. The
    new value stands in the column of its form: a number in ``value`` with its ``unit``; an id of the checklist or one
    of a fixed list in ``choice``; typed text in ``value_text``; the field ``unit`` in ``unit``; the field ``happened``
    in ``value_at`` as clock time and in ``value`` as seconds from the opening of the access stage. The value before
    stands in ``before_value``, ``before_unit``, ``before_choice``, ``before_text`` and ``before_at``. All of them empty
    on one side: the field was empty there, or its text stays in the hospital.

    Not in this table but in others: ``judged_by``, ``judge``, ``reset`` and ``outside`` of a reading (``readings``),
    ``resolution_us`` and ``uncertainty_us`` of a compared clock (``clocks``), and of the opening ``plan``,
    ``rehearsal``, ``checklist_revision`` and ``checklist_digest`` (``cases``). Only in the hospital's JSON document:
    ``outgoing``, ``incoming`` and ``open_items`` of a handover, ``entries`` and ``signed_by`` of the seal, ``head`` of
    an attest, ``console`` of a lease, ``unmet`` of a passed hold, ``targets`` of a changed order, ``reading_us`` of a
    compared clock, ``basis`` of a noticed clock, ``outside`` of a dose, ``undo`` of a void, and of every entry
    its ``press``, ``epoch``, ``from_mark`` and boot clock.
    """

    case_id: CaseId
    event_id: Annotated[
        Id,
        Column(
            "E- and the entry's own id, the same in every export under one profile and key; loading twice adds nothing."
        ),
    ]
    seq: Annotated[int, Field(ge=1), Column("Place in the log: the order of entry.")]
    kind: Annotated[str, Column("What kind of entry it is.")]
    fact_kind: Annotated[str | None, Column("For addendum.added: the kind of the fact that was added.")]
    occurred_at: Annotated[Time, clock("Clock time at which it happened, as first written.")]
    recorded_at: Annotated[Time, clock("Clock time at which it was entered.")]
    utc_offset: Annotated[Offset, clock("Offset from UTC in force when it happened.")]
    t_rel_s: Annotated[
        Seconds | None,
        Column(
            "When it happened as first written, counted from the opening of the access stage; negative before it.",
            "s",
        ),
    ]
    t_rel_basis: Annotated[Basis | None, Column("Clock that t_rel_s was measured with: boot, or wall.")]
    stands_at: Annotated[
        Time,
        clock(
            "Clock time at which it happened as it stands: occurred_at, or what the last amendment of it says."
        ),
    ]
    stands_rel_s: Annotated[
        Seconds | None,
        Column(
            "When it happened as it stands, counted from the opening of the access stage: t_rel_s, or what the last "
            "amendment of it that counts made of it.",
            "s",
        ),
    ]
    lag_s: Annotated[Seconds, Column("Entered minus happened, by the wall clock.", "s")]
    mode: Annotated[Mode, Column("How it was entered: live, late, amended or transcribed from paper.")]
    precision_s: Annotated[Count, Column("How finely the happened time is known; 0 for a key press.", "s")]
    time_quality: Annotated[
        Quality,
        Column(
            "Of occurred_at: measured by this console's clocks at the press; estimated by a person; unsynchronized: "
            "not from this console's clock at all (paper). A time that was amended is a person's too."
        ),
    ]
    late: Late
    late_over_20_min: Annotated[
        bool, Column("Whether it was entered more than 20 minutes after it happened.")
    ]
    voided: Annotated[bool, Column("Whether a later entry says that this one does not count.")]
    voided_by: Annotated[int | None, Column("seq of the entry that voids it.")]
    amended: Annotated[bool, Column("Whether a later entry changes a field of this one.")]
    amended_by: Annotated[
        str | None,
        Column(
            "The entries that amend it and count: E and the seq of each, separated by ;, as E58;E61 for the entries 58 "
            "and 61. Not event ids."
        ),
    ]
    refers_to: Annotated[
        int | None,
        Column(
            "seq of the entry that this one ends, answers or corrects, or else of the visit, rescue or attempt that it "
            "belongs to by its own words."
        ),
    ]
    stage: Annotated[
        str | None,
        Column(
            "Stage it belongs to, by its id in the checklist: the one it names, else that of the entry it ends, "
            "answers or corrects, else the one that was open when it was entered."
        ),
    ]
    visit: Annotated[
        Count | None,
        Column(
            "Which visit to that stage, from 1; stage, stage_cusp and visit name one row of stages (its cusp is "
            "stage_cusp). Empty where the entry belongs to no visit, and in a rescue."
        ),
    ]
    stage_cusp: Annotated[
        str | None,
        Column(
            "The leaflet of that visit; empty for stages that are not visited leaflet by leaflet. A pressure read "
            "during work on the left leaflet has left here, and nothing in cusp: it is about no leaflet."
        ),
    ]
    cusp: Annotated[
        str | None,
        Column(
            "The leaflet that the entry itself is about: left, right, noncoronary, fused or anterior_mitral; empty "
            "where about none (see stage_cusp)."
        ),
    ]
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
            "Its choice, answer, outcome, action, how or why (see Kinds of entry); of a step, the option or device; of "
            "event.amended, the new value where it is an id."
        ),
    ]
    leads_to: Annotated[str | None, Column("Where a closed rescue leads.")]
    value: Annotated[
        Seconds | None,
        Column("The number, in the unit beside it; of event.amended, the new number or seconds from access."),
    ]
    unit: Annotated[
        str | None,
        Column("Unit of the value: as entered, or where none is entered the one that the checklist gives."),
    ]
    value_at: Annotated[
        Time | None, clock("Of event.amended for the field happened: the new clock time; else empty.")
    ]
    value_text: Annotated[
        str | None,
        free(
            "The value as entered, of a step in any form; of event.amended only where it is neither a number nor an id "
            "nor a clock time."
        ),
    ]
    before_value: Annotated[
        Seconds | None, Column("Of event.amended: the number before, or seconds from access; else empty.")
    ]
    before_unit: Annotated[str | None, Column("Of event.amended: the unit of the value before; else empty.")]
    before_choice: Annotated[
        str | None, Column("Of event.amended: the value before where it is an id; else empty.")
    ]
    before_at: Annotated[
        Time | None, clock("Of event.amended for the field happened: the clock time before; else empty.")
    ]
    before_text: Annotated[
        str | None, free("Of event.amended: the value before where it is text, as entered; else empty.")
    ]
    text: NoteText
    reason_code: ReasonCode
    reason: Reason
    late_reason_code: Annotated[
        str | None,
        Column(
            "Why it was entered after the fact, by its id in the checklist, where it is one offered there."
        ),
    ]
    late_reason: Annotated[str | None, free("Why it was entered after the fact.")]
    recorder: Annotated[str, inside("Tag of the person at the keys.")]

    KEY: ClassVar[tuple[str, ...]] = ("case_id", "seq")
