"""What is worked out from the log: endpoints, the meaning of rescues, deviations."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from labcheck.registry.describing.sentences import listed
from labcheck.registry.rows.endpoint_words import (
    ENDPOINTS,
    INTERVENTION_WORDS,
    EndpointWords,
    as_because,
    reasons,
)

ENDPOINTS_SAY = """## Endpoints

Column `endpoint` of `endpoints`. What a log cannot know when the patient leaves the room is `pending`, never `no`;
an answer that is missing below is never given. Steps are named STAGE.STEP, rescues by what they mean (`endpoint` in
`bailouts`). Entries that were voided do not count. Definitions are partly from memory: verify locally.

Steps, findings and outcomes are found by the ids of the shipped checklists. Where a local checklist has no such
step, the answer is `pending`; but an outcome or a finding with an id of its own is taken at its word: an outcome that
is not among the ids below counts as an intervention, and a flow that is not called `normal` is not normal.
"""


def endpoints() -> str:
    """The section on endpoints."""
    lines = [ENDPOINTS_SAY, INTERVENTION_WORDS, ""]
    for name, words in ENDPOINTS.items():
        lines += _endpoint(name, words)
    return "\n".join(lines)


def _endpoint(name: str, words: EndpointWords) -> Iterator[str]:
    yield f"### `{name}`"
    yield ""
    yield f"{words.means} One row for each {words.each}."
    yield ""
    for answer, when in (("yes", words.yes), ("no", words.no), ("pending", words.pending)):
        if when:
            yield f"- `{answer}`: {when}."
    if words.source:
        yield f"- Worked out from: {words.source}."
    yield f"- `value`: {words.value or 'always empty'}."
    found = [as_because(text) for text in reasons(name)]
    yield f"- `because`: {'any of ' + listed(found) if found else 'always empty'}."
    yield f"- `definition`: {listed(words.definitions)}."
    yield ""


RESCUES: Mapping[str, str] = {
    "coronary_obstruction": "a coronary is blocked, or feared to be",
    "conversion": "open surgery",
    "structural": "injury of heart, aorta or valve",
    "vascular": "injury of the access or another vessel",
    "neurological": "a stroke is suspected",
    "conduction": "block or another disorder of rhythm that needs pacing",
    "circulatory": "collapse, arrest or support of the circulation; no endpoint here is worked out from it",
    "second_valve": "a second valve",
    "device_fault": "a generator or device does not work; no endpoint here is worked out from it",
    "none": "the rescue by itself means nothing for an endpoint",
}
"""What a rescue can mean for endpoints: the list of the checklist's model."""


def rescues() -> str:
    """The section on what rescues mean."""
    lines = [
        "## What a rescue means",
        "",
        "Column `endpoint` of `bailouts`, and `counts_as` of a rescue in the codebook.",
        "",
        "| meaning | the rescue is for |",
        "|---|---|",
        *(f"| `{name}` | {says} |" for name, says in RESCUES.items()),
        "",
    ]
    return "\n".join(lines)


DEVIATIONS: Mapping[str, tuple[str, str]] = {
    "missing": (
        "one for each stage (and cusp) that was overtaken without a record and a decision, and in a closed case one "
        "for each that was never opened, left and not finished, or never closed, optional stages apart; one for each "
        "step without an answer in a stage that was opened, once that stage is no longer open or the case is closed",
        "empty",
    ),
    "skipped": (
        "one for each stage (and cusp) skipped by a decision or a call; one for each step answered not_done in a stage "
        "that was opened; one for each abandoned cusp",
        "the entry that says so",
    ),
    "inverted": (
        "one for each stage that was first opened before or after another against the checklist, compared within one "
        "cusp, because the order of the cusps is free; one for each killer step first answered out of order within "
        "its stage. Of several that changed places the fewest are named",
        "the opening, or the answer",
    ),
    "rework": ("one for each stage (and cusp) with two or more visits", "the opening of the second visit"),
    "late_step": (
        "one for each step first answered, done or with a value, after a stage had begun whose hold needs it (one for "
        "each such stage); else one for each step so answered after its own stage had ended",
        "the answer",
    ),
    "hold_passed": ("one for each hold that was passed with a reason", "the passing"),
    "late_entry": (
        "one for each **key press** whose entries were made late (`mode` = `late`) and count, so often fewer than "
        "`late_entries` in `cases`, which counts entries; all entries copied from paper together are one. Entries of "
        "mode `amended` are none",
        "the last entry of that press; of paper the first",
    ),
    "correction": (
        "one for each **key press** that voided or amended, so often fewer than the entries voided; one that was "
        "itself voided is still one",
        "the first void or amendment of that press",
    ),
}
"""What each deviation counts, and the entry that its row names."""


def deviations() -> str:
    """The section on deviations."""
    lines = [
        "## Deviations",
        "",
        "Column `deviation` of `deviations`. Facts, never a score. Entries that were voided do not count, but for",
        "corrections themselves.",
        "",
        "| deviation | there is | `seq` |",
        "|---|---|---|",
        *(f"| `{name}` | {says} | {seq} |" for name, (says, seq) in DEVIATIONS.items()),
        "",
    ]
    return "\n".join(lines)
