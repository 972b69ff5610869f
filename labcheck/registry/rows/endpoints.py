"""What the log can say about the endpoints that registries ask for, when the patient leaves the room."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from pydantic import Field

from labcheck.registry.columns import Column, Row
from labcheck.registry.rows.fields import CaseId, CuspColumn, OstiumColumn

Because = Annotated[str, Field(pattern=r"^[a-z0-9_:;.]{1,800}$")]


class EndpointRow(Row):
    """One endpoint. What a log cannot know is pending, never no."""

    case_id: CaseId
    place: Annotated[int, Field(ge=1), Column("Number of the row within the case.")]
    endpoint: Annotated[str, Column("The endpoint, by its name in the list Endpoints of this dictionary.")]
    cusp: CuspColumn
    ostium: OstiumColumn
    answer: Annotated[
        Literal["yes", "no", "pending"],
        Column("yes or no as recorded; pending where the log cannot know it, or not yet."),
    ]
    value: Annotated[
        str | None, Column("The finding behind the answer, by its id in the checklist, where there is one.")
    ]
    because: Annotated[
        Because | None,
        Column(
            "technical_success: its criteria, separated by ;, each with met:, not_met: or not_recorded: before it. "
            "Others: the finding that decided it, or why it is pending, without such a prefix except for what is "
            "not_recorded:. Empty where entries of the log decide alone: the list Endpoints says which."
        ),
    ]
    definition: Annotated[
        Literal["varc_3", "varc_3_planned_stent_is_no_failure", "log"],
        Column(
            "Whose definition: varc_3 (Généreux 2021, partly from memory, verify); the same in the reading that a "
            "planned protective stent is no failure and a rescue stent is; log: what the log itself says."
        ),
    ]

    KEY: ClassVar[tuple[str, ...]] = ("case_id", "place")
