"""Moments of an invented two-cusp case, made by the real ``decide`` and ``fold``, for drawing the zones."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from functools import lru_cache
from pathlib import Path
from typing import Any

from labcheck.caselog.deciding import Decided
from labcheck.caselog.progress import next_slot
from labcheck.checklist.model import Checklist
from labcheck.checklist.reading import read_checklist
from labcheck.console.view import FooterKey, Save, View
from labcheck.console.viewing import Viewing
from tests.caselog.driving import Driver

CHECKLIST = Path(__file__).parents[3] / "checklists" / "electrosurgical.toml"
KEYS = tuple(
    FooterKey(key, word)
    for key, word in (
        ("Enter", "call"), ("Space", "energy"), ("A", "result"), ("R", "reading"), ("B", "bailout"),
        ("L", "late"), ("F9", "undo"), ("F1", "keys"),
    )
)  # fmt: skip


@lru_cache(maxsize=1)
def checklist() -> Checklist:
    """The shipped checklist for one or two cusps."""
    return read_checklist(CHECKLIST.read_bytes(), CHECKLIST.name)


def driver(*targets: str, **plan: Any) -> Driver:
    """A case that has just been opened."""
    told = {
        "mounting": "inside", "weight_kg": Decimal(70), "age_years": 81,
        "sex": "female", "height_cm": Decimal(164), "creatinine": Decimal("1.4"), "creatinine_unit": "mg/dL",
    } | plan  # fmt: skip
    return _Surgical(*(targets or ("left", "right")), checklist=checklist(), **told)


class _Surgical(Driver):
    """The shared driver says "native"; these cases choose their substrate."""

    def do(self, do: str, **fields: Any) -> Any:
        if do == "case.open":
            fields["plan"] = fields["plan"].model_copy(update={"substrate": "surgical"})
            fields["rehearsal"] = True
        return super().do(do, **fields)


def call(case: Driver, reason: str | None = None) -> None:
    """The next call, passing what is not yet true with a reason if one is given."""
    if not isinstance(case.press("stage.open"), Decided):
        case.do("stage.open", reason=reason or "operator's call")
    case.now_us += 1_000_000


def answer(case: Driver, *steps: str) -> None:
    """Answer steps of the open stage as done."""
    for step in steps:
        case.do("step.answer", step=step)


def to_access(case: Driver) -> None:
    call(case)
    answer(case, "identity", "target", "views", "pad")
    case.do("step.answer", step="mounting", answer="value", value="inside")
    case.do("step.answer", step="roles", answer="not_done", reason="fellow scrubbing")
    case.at(7)
    call(case)
    case.at(9)
    case.do("reading.take", reading="act", value=Decimal(131))
    case.do("dose.give", drug="heparin", amount=Decimal(7000), unit="IU")
    case.at(14)
    case.do("decision.make", decision="neuroprotection", choice="used")


def to_traverse(case: Driver) -> None:
    to_access(case)
    case.at(17)
    call(case)
    case.at(22)
    call(case)
    answer(case, "snare", "front", "side")
    case.do("step.answer", step="front_view", answer="value", value="-10 5")
    case.at(25)
    case.do("sample.send", reading="act")
    case.at(28)
    case.do("reading.take", reading="act", value=Decimal(274))
    case.at(31)
    call(case)
    answer(case, "wire")


def tries(case: Driver, start: float, *outcomes: str) -> None:
    """Attempts of about a second of energy, two minutes apart."""
    for number, outcome in enumerate(outcomes):
        case.at(start + 2 * number)
        case.do("energy.on", mode="pure cut", watts=30)
        case.now_us += 700_000
        case.do("energy.off")
        case.now_us += 9_000_000
        case.do("attempt.close", outcome=outcome)


def to_ready(case: Driver) -> None:
    to_traverse(case)
    tries(case, 32, "failed", "fault", "crossed")
    case.at(38)
    call(case)
    case.at(43)
    call(case)
    answer(case, "snare", "front", "side")
    case.at(47)
    call(case)
    tries(case, 48, "crossed")
    case.do("dose.give", drug="vasopressor", amount=Decimal(100), unit="microgram")
    undone = case.do("note.write", text="wrong note")
    case.do("undo")
    assert undone
    case.at(51)
    call(case)
    case.at(56)
    case.do("reading.take", reading="act", value=Decimal(262))
    case.do("reading.take", reading="contrast", value=Decimal(88))
    case.do("reading.take", reading="fluoroscopy", value=Decimal(31))
    case.at(57)
    call(case)
    answer(case, "valve", "vasopressor", "wire")


def to_laceration(case: Driver) -> None:
    to_ready(case)
    answer(case, "pacing", "dextrose")
    case.at(61)
    call(case)
    tries(case, 61.2, "cut")


View_ = Callable[[], View]


def view(case: Driver, **fields: Any) -> View:
    """What the console would draw now."""
    save = fields.pop("save", Save("saved", f"saved {case.case.head_seq} 14:31:24"))
    shown = Viewing().view(
        case.case, case.stamp(), save=save, step_at=fields.pop("step_at", 0), keys=KEYS,
        answer=fields.pop("answer", ""),
    )  # fmt: skip
    return replace(shown, **fields)


def opened() -> View:
    """Nothing but the plan."""
    return view(driver(), save=Save())


def time_out() -> View:
    """One cusp, the first lines answered."""
    case = driver("left")
    call(case)
    answer(case, "identity")
    case.at(1.4)
    return view(case, step_at=1)


def traverse() -> View:
    """Energy on, second attempt, quiet stage."""
    case = driver()
    to_traverse(case)
    tries(case, 33, "failed")
    case.at(35.2)
    case.do("energy.on", mode="pure cut", watts=30)
    case.now_us += 2_400_000
    return view(case, step_at=1, save=Save("writing", "writing"))


def ready() -> View:
    """Ready check of the second cusp with lines still open and a reminder."""
    case = driver()
    to_ready(case)
    case.at(60.1)
    return view(case, step_at=3, answer="")


def refused() -> View:
    """The call came too early and was asked back."""
    return replace(ready(), answer="Not recorded: 2 lines are not yet true. Enter again to give a reason.")


def lacerated() -> View:
    """Left is cut, the unstable interval runs, a rescue is open and compressions are on."""
    case = driver()
    to_laceration(case)
    case.do("reading.take", reading="systolic", value=Decimal(54))
    case.at(62.6)
    case.do("bailout.open", bailout="coronary", ostium="left")
    case.at(63)
    case.do("run.start", run="cpr")
    case.at(63.5)
    return view(case)


def unsaved() -> View:
    """The disk is full."""
    words = (
        "NOT SAVED: no space left on the disk. Make room, then press F2; nothing pressed is lost meanwhile."
    )
    return replace(ready(), save=Save("not_saved", words, 2))


SCENES: dict[str, View_] = {
    scene.__name__: scene for scene in (opened, time_out, traverse, ready, refused, lacerated, unsaved)
}

__all__ = ["SCENES", "answer", "call", "checklist", "driver", "next_slot", "view"]
