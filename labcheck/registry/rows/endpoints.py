"""What the log can say about the endpoints that registries ask for, when the patient leaves the room."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, ClassVar, Literal

from pydantic import Field

from labcheck.registry.columns import Column, Row
from labcheck.registry.rows.fields import CaseId, CuspColumn, OstiumColumn

ENDPOINTS: Mapping[str, str] = {
    "technical_success": "VARC-3 technical success at exit from the room: alive; access, delivery and retrieval "
    "successful; one valve, in the correct position; no unplanned surgery or intervention. "
    "pending for techniques whose valve is not aortic.",
    "death_in_room": "Died before leaving the room.",
    "procedural_death": "VARC-3 procedural death: certain when it happened in the room, else judged later.",
    "device_success": "VARC-3 device success, at 30 days.",
    "early_safety": "VARC-3 early safety, at 30 days.",
    "acute_kidney_injury": "VARC-3 acute kidney injury, within 7 days.",
    "haemoglobin_drop": "Fall of haemoglobin after the procedure.",
    "bleeding_type": "VARC-3 bleeding type.",
    "neurological_disability": "Disability after a stroke, at 90 days.",
    "permanent_pacemaker": "New permanent pacemaker.",
    "leaflet_modified": "Whether this target leaflet was cut or split, as its last attempt says; `value` is the "
    "outcome.",
    "coronary_flow_normal": "Last recorded flow of this ostium; `value` is the finding. pending: never recorded.",
    "coronary_obstruction_in_room": "A coronary rescue was opened for this ostium and needed treatment. no only "
    "when the case is closed and the last flow was normal; late obstruction is not excluded.",
    "rescue_stent": "A stent was placed in this coronary as a rescue.",
    "planned_stent": "A stent was placed in this coronary as planned before the case.",
    "conversion_to_surgery": "The case went on to open surgery.",
    "second_valve": "A second valve was implanted as a rescue.",
    "stroke_suspected_in_room": "The stroke rescue was opened. Never no: a stroke can show later.",
}
"""What each endpoint means, in this file and in the data dictionary."""

Because = Annotated[str, Field(pattern=r"^[a-z0-9_:;.]{1,800}$")]


class EndpointRow(Row):
    """One endpoint. What a log cannot know is pending, never no."""

    case_id: CaseId
    place: Annotated[int, Field(ge=1), Column("Number of the row within the case.")]
    endpoint: Annotated[str, Column("The endpoint, by its name in this dictionary.")]
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
        Column("The criteria that decided it, separated by ;, each met, not_met or not_recorded."),
    ]
    definition: Annotated[
        Literal["varc_3", "varc_3_planned_stent_is_no_failure", "log"],
        Column(
            "Whose definition: varc_3 (Généreux 2021, partly from memory, verify); the same in the reading that a "
            "planned protective stent is no failure and a rescue stent is; log: what the log itself says."
        ),
    ]

    KEY: ClassVar[tuple[str, ...]] = ("case_id", "place")
