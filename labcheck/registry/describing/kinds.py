"""Every kind of entry: its fields, the columns of ``events`` they stand in, and the words of fixed lists."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import get_args

from pydantic import BaseModel

from labcheck.caselog.corrections import AMENDABLE, TIMED_ONLY
from labcheck.caselog.events import AFTER_SEAL, Payload
from labcheck.registry.deriving.log import CHOICE, CODE, ENDS, IN_MICROSECONDS, WORDS
from labcheck.registry.describing.sentences import docstring, listed

JSON_ONLY = "JSON only"

PLACES: Mapping[str, str] = {
    **dict.fromkeys(CODE, "code"),
    **dict.fromkeys(CHOICE, "choice"),
    **dict.fromkeys(ENDS, "refers_to"),
    **dict.fromkeys(WORDS, "text"),
    **dict.fromkeys(IN_MICROSECONDS, "value, s"),
    **dict.fromkeys(("stage", "visit", "cusp", "ostium", "unit", "recorder"), ""),
    **dict.fromkeys(("checklist_revision", "checklist_digest", "rehearsal"), "cases"),
    **dict.fromkeys(("judged_by", "judge", "reset"), "readings"),
    **dict.fromkeys(("resolution_us", "uncertainty_us"), "clocks"),
    "amount": "value",
    "before": "before columns",
    "lead": "leads_to",
    "mode": "bursts",
    "number": "attempt",
    "plan": "cases, in part",
    "rate": "value",
    "reason": "reason_code, reason",
    "run": "code",
    "sample": "refers_to",
    "value": "value",
    "watts": "value",
    "fact": "fact_kind and its own columns",
}
"""Where a field stands, by its name: a column of ``events`` (empty: the one of that name) or another table."""

ELSEWHERE: Mapping[tuple[str, str], str] = {
    ("case.opened", "checklist_id"): "cases, code",
    ("run.stopped", "run"): "refers_to",
    ("step.answered", "value"): "choice, value or value_text",
    ("event.amended", "value"): "choice, value, value_at, unit or value_text",
    ("reading.taken", "outside"): "readings",
}
"""The same for fields whose name means something else in one kind."""


def kinds() -> str:
    """The section on kinds of entry."""
    lines = [
        "## Kinds of entry",
        "",
        "Column `kind` of `events`, and the fields of `stored.what` in the JSON document. Amounts are decimals in",
        "quotes there, so that no digit is lost. Behind a field stands the column of `events`, or the table, that has",
        f"it where that has another name; *{JSON_ONLY}*: no table has it, only the hospital's JSON document.",
        "",
        "| kind | fields, and where they are | meaning |",
        "|---|---|---|",
        *(_kind(model) for model in get_args(get_args(Payload)[0])),
        "",
        f"After the seal only these may follow: {listed(AFTER_SEAL)}.",
        "",
        *_amending(),
    ]
    return "\n".join(lines)


def place(kind: str, field: str) -> str:
    """Where a field of a kind of entry is to be found; empty: in the column of its own name."""
    return ELSEWHERE.get((kind, field), PLACES.get(field, JSON_ONLY))


def _kind(model: type[BaseModel]) -> str:
    kind = model.model_fields["kind"].default
    return f"| `{kind}` | {', '.join(_fields(kind, model))} | {docstring(model)} |"


def _fields(kind: str, model: type[BaseModel]) -> Iterator[str]:
    for name in model.model_fields:
        if name != "kind":
            where = place(kind, name)
            yield f"`{name}`" if where in ("", name) else f"`{name}` ({where})"


STANDS_IN: Mapping[str, str] = {
    "attempt.closed": "`attempts`",
    "attempt.opened": "`attempts`",
    "bailout.closed": "`bailouts`",
    "bailout.opened": "`bailouts`",
    "clock.compared": "`clocks`",
    "cusp.abandoned": "`stages` (its reason, for a stage of that cusp that was never opened)",
    "decision.made": "`decisions`",
    "dose.given": "`doses`",
    "energy.started": "`bursts`",
    "energy.stopped": "`bursts`",
    "reading.taken": "`readings`",
    "run.started": "`runs`",
    "run.stopped": "`runs`",
    "sample.sent": "`readings`, once the reading is there",
    "stage.closed": "`stages`",
    "stage.opened": "`stages`",
    "stage.skipped": "`stages` (its reason)",
    "step.answered": "`steps`",
}
"""The table that shows what such an entry says after its amendments."""

ONLY_EVENTS = "`events` alone: the last `event.amended` that counts"


def _amending() -> Iterator[str]:
    yield "What can be amended, and which table shows what stands now:"
    yield ""
    yield "| kind | fields | table |"
    yield "|---|---|---|"
    for kind in (*sorted(AMENDABLE), *sorted(TIMED_ONLY)):
        fields = listed(("happened", *sorted(AMENDABLE.get(kind, ()))))
        yield f"| `{kind}` | {fields} | {STANDS_IN.get(kind, ONLY_EVENTS)} |"
    yield ""


FIXED: Mapping[str, Mapping[str, str]] = {
    "answer": {
        "done": "done, as read out",
        "not_done": "said not to be done; the reason may say why",
        "not_applicable": "said not to apply to this case",
        "value": "answered with what the step asks for",
    },
    "how": {
        "done": "finished as called",
        "left": "left for another stage; it will be needed again",
        "abandoned": "given up with its cusp",
    },
    "why": {
        "decision": "a decision of the checklist skips it",
        "call": "the operator called it",
    },
    "action": {
        "opened": "taken out of its pack",
        "placed": "put into the patient or onto its place",
        "changed": "changed for another",
        "removed": "taken out of the patient",
        "failed": "did not do what it should",
    },
    "lead": {
        "carry_on": "the case went on",
        "abandon_cusp": "nothing more was tried on that cusp",
        "jump": "the case went on at the stage that the checklist names for it",
        "convert": "the case went on to open surgery",
    },
    "notice": {
        "resumed": "the record was opened again; nobody could record for so long. No clock was changed",
        "step": "the wall clock was set at one stroke, by so much (negative: back)",
        "drift": "the wall clock was moved in small parts, by so much together",
        "suspend": "the machine slept for so long",
        "reboot": "the machine was started anew; so long, by the wall clock, since the last sign of life",
        "stalled": "the program stood still for so long while the machine was awake",
    },
    "basis": {
        "boot": "the amount was measured with the steady clock",
        "wall": "only the wall clock was left to measure it",
    },
    "mode": {
        "live": "at the press",
        "late": "afterwards, with the time that was told",
        "amended": "written anew by a correction (moved to the other cusp), with the time of the first",
        "transcribed": "copied from paper",
    },
}
"""The words of every fixed list in the log; a test compares them with the models."""

COLUMN_OF: Mapping[str, str] = {
    "answer": "`answer` in steps; choice of step.answered",
    "how": "choice of stage.closed (`state` in stages says more)",
    "why": "choice of stage.skipped",
    "action": "choice of device.used",
    "lead": "`leads_to`",
    "notice": "code of clock.noticed, `value` in s",
    "basis": "clock.noticed, in the JSON document",
    "mode": "`mode` in events",
}


def fixed_words() -> str:
    """Every word that the log itself fixes, whatever the checklist."""
    lines = [
        "## Words that every checklist shares",
        "",
        "| column | word | meaning |",
        "|---|---|---|",
        *(
            f"| {COLUMN_OF[field]} | `{word}` | {says} |"
            for field, words in FIXED.items()
            for word, says in words.items()
        ),
        "",
    ]
    return "\n".join(lines)
