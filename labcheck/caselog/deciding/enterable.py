"""What a payload may say: asked when it is entered, when it is amended, and of a fact after the seal.

``amending``: the entry is there already, so that the way out may be to void it.
"""

from __future__ import annotations

from labcheck.caselog import events as ev
from labcheck.caselog.case import Case
from labcheck.caselog.deciding.result import Refused
from labcheck.caselog.units import in_own_unit
from labcheck.checklist import finding
from labcheck.checklist.model import Bailout, Option, Reading, Stage


def among(options: tuple[Option, ...]) -> str:
    """The ids to choose from."""
    return ", ".join(option.id for option in options)


def wrong_reading(case: Case, what: ev.ReadingTaken, *, amending: bool = False) -> Refused | None:
    """Why a reading cannot say that; its soft range is asked about elsewhere."""
    reading = finding.reading(case.checklist, what.reading)
    if reading is None:
        return Refused(f"this checklist has no reading '{what.reading}'")
    wrong = _coded(reading, what, amending) if reading.options else _measured(reading, what, amending)
    if wrong:
        return Refused(f"{reading.title}{wrong}")
    if reading.per == "ostium" and what.ostium is None:
        return Refused(f"{reading.title}: say which ostium, left or right")
    if reading.per == "cusp" and what.cusp not in case.order:
        return Refused(f"{reading.title}: say which cusp: {' or '.join(case.order)}")
    if what.judged_by is not None and finding.option(reading.judged_by, what.judged_by) is None:
        known = among(reading.judged_by) or "nothing"
        return Refused(f"{reading.title} is not judged by '{what.judged_by}': use {known}")
    roles = finding.owners(case.checklist)
    if what.judge is not None and what.judge not in roles:
        return Refused(f"{reading.title}: '{what.judge}' is no role here: use {', '.join(roles) or 'none'}")
    return None


def _coded(reading: Reading, what: ev.ReadingTaken, amending: bool) -> str:
    if what.value is not None or what.unit is not None:
        return f" is a finding, not a number: say one of {among(reading.options)}"
    if what.choice is None:
        void = "; where it was not looked at, void the entry" if amending else ""
        return f": say one of {among(reading.options)}{void}"
    if finding.option(reading.options, what.choice) is None:
        return f": '{what.choice}' is none of {among(reading.options)}"
    return ""


def _measured(reading: Reading, what: ev.ReadingTaken, amending: bool) -> str:
    if what.choice is not None:
        return " is a number, not one of a list"
    if what.value is None:
        return f": say the value{'; where there was none, void the entry' if amending else ''}"
    if in_own_unit(reading, what.value, what.unit) is None:
        known = ", ".join(dict.fromkeys(u for u in (reading.unit, *reading.units) if u)) or "none"
        return f": unit '{what.unit}' is not known here: use {known}"
    return ""


def wrong_dose(case: Case, what: ev.DoseGiven, *, amending: bool = False) -> Refused | None:
    """Why a dose cannot say that; its soft range is asked about elsewhere."""
    drug = finding.drug(case.checklist, what.drug)
    if drug is None:
        return Refused(f"this checklist has no drug '{what.drug}'")
    if what.amount is not None and what.amount < 0:
        return Refused(f"{drug.title}: an amount cannot be below zero")
    if what.unit not in (None, drug.unit):
        void = ": void the entry and enter the dose anew" if amending else ""
        return Refused(f"{drug.title} is recorded in {drug.unit}, not {what.unit}{void}")
    return None


def wrong_result(stage: Stage, outcome: str) -> Refused | None:
    """Why a try in this stage cannot have had this result. Any may end with its cusp abandoned."""
    options = stage.attempts.outcomes if stage.attempts is not None else ()
    if outcome == "abandoned" or finding.option(options, outcome) is not None:
        return None
    return Refused(f"'{outcome}' is no result of {stage.title}: use {among(options)}")


def wrong_end(path: Bailout, outcome: str) -> Refused | None:
    """Why a rescue of this kind cannot have ended so."""
    if finding.option(path.outcomes, outcome) is not None:
        return None
    return Refused(f"'{outcome}' is no outcome of {path.title}: use {among(path.outcomes)}")


def wrong_other(case: Case, what: ev.DeviceUsed | ev.FaultNoted | ev.NoteWritten) -> Refused | None:
    """Why a device, fault or note cannot be recorded so."""
    match what:
        case ev.DeviceUsed():
            known: object = finding.device(case.checklist, what.device)
            return None if known else Refused(f"this checklist has no device '{what.device}'")
        case ev.FaultNoted():
            known = finding.fault(case.checklist, what.fault)
            return None if known else Refused(f"this checklist has no fault '{what.fault}'")
        case _:
            return None if what.text.strip() else Refused("the note is empty")
