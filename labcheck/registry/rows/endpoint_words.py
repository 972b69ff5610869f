"""What every endpoint means, when it is yes, no or pending, and from which entries the log works it out.

The words stand beside the code that gives the answers (``labcheck.caselog.endpoints``); a test asks that code for
cases of every kind and fails when it gives an endpoint, an answer, a definition or a reason that is not said here.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from labcheck.caselog.endpoints import INTERVENTION, NOT_AORTIC, NOTHING_DONE, SURGERY
from labcheck.reference.endpoints import (
    PENDING_AT_EXIT,
    Intervention,
    RoomExit,
    death_in_room,
    procedural_death,
    technical_success,
)


@dataclass(frozen=True, slots=True)
class EndpointWords:
    """One endpoint in words. An answer that it never has is empty.

    ``each``: what there is one row for. ``source``: the entries it is worked out from. ``value``: what the column
    of that name holds, empty where it is always empty.
    """

    means: str
    pending: str
    yes: str = ""
    no: str = ""
    source: str = ""
    value: str = ""
    each: str = "case"
    definitions: tuple[str, ...] = ("log",)


VARC: tuple[str, ...] = ("varc_3", "log")
"""VARC-3 is a standard for aortic valves; a mitral technique's rows say ``log``."""

NEVER_KNOWN = "always: the log ends when the patient leaves the room"


def _later(means: str) -> EndpointWords:
    return EndpointWords(means, NEVER_KNOWN, definitions=VARC)


def _list(words: frozenset[str]) -> str:
    return ", ".join(f"`{word}`" for word in sorted(words))


CLOSED = "the case is not closed yet"
OPEN_RESCUE = "such a rescue has no outcome"

ENDPOINTS: Mapping[str, EndpointWords] = {
    "technical_success": EndpointWords(
        "VARC-3 technical success at exit from the room: alive; access, delivery and retrieval successful; one "
        "valve; in the correct position; no unplanned surgery or intervention.",
        yes="all five criteria are met",
        no="one is not met, whatever else is not recorded",
        pending="none is known to fail, one or more are not recorded; always where the valve is not aortic",
        source="step `signout.leaves` (alive, died); step `signout.delivery` (good, failed); step `signout.valve` "
        "(`one_right`: one valve, right place; `one_wrong`: one, wrong place; `more`, `none`: not one, place not "
        f"recorded); rescues whose meaning is {_list(INTERVENTION)}, or that led to `convert` or were closed with "
        f"{_list(SURGERY)}. One that ended in surgery is unplanned; one whose outcome counts as an intervention is "
        f"unplanned unless its own step `planned` says `yes`. The last criterion is not recorded while {CLOSED} or "
        f"{OPEN_RESCUE}, unless an unplanned one is known already",
        definitions=("varc_3_planned_stent_is_no_failure", "log"),
    ),
    "death_in_room": EndpointWords(
        "Died before leaving the room.",
        yes="died",
        no="alive",
        pending="not recorded",
        source="step `signout.leaves`",
    ),
    "procedural_death": EndpointWords(
        "VARC-3 procedural death: within 30 days, or later in the same stay.",
        yes="died in the room",
        pending="alive on leaving it, or not recorded: judged later",
        source="step `signout.leaves`",
        definitions=VARC,
    ),
    "device_success": _later("VARC-3 device success, at 30 days."),
    "early_safety": _later("VARC-3 early safety, at 30 days."),
    "acute_kidney_injury": _later("VARC-3 acute kidney injury, within 7 days."),
    "haemoglobin_drop": _later("Fall of haemoglobin after the procedure."),
    "bleeding_type": _later("VARC-3 bleeding type."),
    "neurological_disability": _later("Disability after a stroke, at 90 days."),
    "permanent_pacemaker": _later("New permanent pacemaker."),
    "leaflet_modified": EndpointWords(
        "Whether this target leaflet was cut or split, wholly or in part (an outcome that the checklist counts as "
        "success; in the shipped ones `partial` is one).",
        yes="an attempt on it succeeded in the last stage of the checklist that has attempts",
        no="none did, every one has its result, and the cusp was abandoned, or the case is closed and no visit to "
        "that stage stands without an attempt",
        pending="none did yet; an attempt has no result; the stage was entered and no attempt is on record; or the "
        "checklist has no such stage",
        source="attempts on this cusp in that stage (`lacerate`, `split`)",
        value="the first outcome that is a success, else the last outcome; `abandoned` where there was none and the "
        "cusp was abandoned; empty where nothing was tried",
        each="target cusp; none in a case of coronary protection",
    ),
    "coronary_flow_normal": EndpointWords(
        "Whether the last recorded flow of this ostium was normal.",
        yes="the last finding is `normal`",
        no="the last finding is another",
        pending="flow of this ostium was never recorded",
        source="readings that are taken for each ostium (`flow`), the last by time of happening",
        value="the finding",
        each="ostium, left and right",
    ),
    "coronary_obstruction_in_room": EndpointWords(
        "Coronary obstruction before leaving the room. Late obstruction is not excluded by a no.",
        yes="flow of this ostium was ever found other than `normal`, or a coronary rescue for it that was not "
        "planned was closed with an outcome other than `no_treatment`",
        no="neither; the case is closed, the last flow was `normal`, no such rescue is without outcome and none but "
        "with `no_treatment` is without its ostium",
        pending="neither, and one of these is wanting",
        source="readings `flow`; rescues whose meaning is `coronary_obstruction`, opened for this ostium or for none",
        value="`complete` if that was ever found, else the last finding that was not `normal`; empty where there "
        "was none",
        each="ostium, left and right",
    ),
    "rescue_stent": EndpointWords(
        "A stent was placed in this coronary as a rescue.",
        yes="a coronary rescue for this ostium was closed `stented` and its step `planned` does not say `yes`",
        no="there is none, none may be, and the case is closed",
        pending=f"there is none, and {CLOSED} or one may be: such a rescue has no outcome, or was closed `stented` "
        "and nobody said for which ostium",
        source="rescues whose meaning is `coronary_obstruction`",
        each="ostium, left and right",
    ),
    "planned_stent": EndpointWords(
        "A stent was placed in this coronary as planned before the case.",
        yes="the plan protects this ostium and the step below says `deployed`, or a coronary rescue for it was "
        "closed `stented` and its step `planned` says `yes`. `coronary.planned_stent` is one answer for both "
        "ostia: where the plan protects both, it counts for both",
        no="neither, neither may be, and the case is closed",
        pending=f"neither, and {CLOSED} or one may be: such a rescue with `planned` `yes` has no outcome, or was "
        "closed `stented` and nobody said for which ostium",
        source="`protection_planned` of the plan; step `coronary.planned_stent`; in a case of coronary protection "
        "step `settle.result` of that side; rescues whose meaning is `coronary_obstruction`",
        each="ostium, left and right",
    ),
    "conversion_to_surgery": EndpointWords(
        "The case went on to open surgery.",
        yes=f"a rescue led to `convert` or was closed with {_list(SURGERY)}, or one whose meaning is `conversion` was "
        "closed with an outcome that counts as an intervention",
        no="neither; the case is closed and no rescue is without outcome",
        pending=f"neither, and {CLOSED} or a rescue has no outcome",
        source="rescues",
    ),
    "second_valve": EndpointWords(
        "The rescue for a second valve ended in an intervention. `signout.valve` = `more` is in technical_success.",
        yes=f"a rescue of that meaning was closed with an outcome that counts as an intervention and is none of "
        f"{_list(SURGERY)}",
        no="none was; the case is closed and no rescue of that meaning is without outcome",
        pending=f"none was, and {CLOSED} or {OPEN_RESCUE}",
        source="rescues whose meaning is `second_valve`",
    ),
    "stroke_suspected_in_room": EndpointWords(
        "A stroke was suspected in the room: its rescue was opened and not called off. A stroke can show later.",
        yes="a rescue of that meaning was closed with an outcome that is none of the ids above",
        pending="none was: never opened, or without such an outcome",
        source="rescues whose meaning is `neurological`",
    ),
}
"""Every endpoint by its name, in the order of the table."""

INTERVENTION_WORDS = (
    "The outcome of a rescue counts as an intervention unless it is one of these ids: "
    f"{_list(NOTHING_DONE)} (column `counts_as` of the codebook)."
)


def reasons(name: str) -> tuple[str, ...]:
    """Every text that ``because`` can hold for that endpoint, asked of the code that gives the answers."""
    return tuple(dict.fromkeys(_reasons(name)))


def _reasons(name: str) -> Iterator[str]:
    if name == "technical_success":
        yield from technical_success(RoomExit(True, True, 1, True, ())).because
        yield from technical_success(RoomExit(False, False, 0, False, (Intervention("any", False),))).because
        yield from technical_success(RoomExit()).because
        yield NOT_AORTIC
    elif name in ("death_in_room", "procedural_death"):
        judge = death_in_room if name == "death_in_room" else procedural_death
        for alive in (True, False, None):
            yield from judge(alive).because
    elif (pending := PENDING_AT_EXIT.get(name.replace("_", " "))) is not None:
        yield from (pending, NOT_AORTIC)


def as_because(text: str) -> str:
    """A reason as the column ``because`` spells it: "met: exactly one valve" is ``met:exactly_one_valve``."""
    head, colon, tail = text.partition(":")
    parts = (head, tail) if colon else (head,)
    return ":".join(re.sub(r"[^a-z0-9]+", "_", part.lower()).strip("_") for part in parts)
