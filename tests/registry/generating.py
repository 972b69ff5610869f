"""Cases made by chance, from a seed: whatever may happen in a room, in any order, at any offset."""

from __future__ import annotations

import random
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from labcheck.caselog.case import Case
from labcheck.caselog.deciding import Decided, decide
from labcheck.caselog.folding import begin, fold_all
from labcheck.caselog.intents import INTENT_MODELS, Claim
from labcheck.caselog.stamps import Stamp
from labcheck.checklist.model import Checklist
from labcheck.checklist.plan import Plan
from labcheck.checklist.reading import digest, read_checklist
from labcheck.registry.stored import StoredCase
from tests.registry.telling import SMALL, stored_of

TEXTS = [
    "ok",
    "=1+1",
    "0007",
    "pressure 60",
    'a "quote", and more',
    "ünïcode µ ≥",
    "-3",
    "'x",
    "</string>",
    "TRUE",
]
OFFSETS = [0, 3600, 7200, 19800, -12600, -18000, 34200]
START_US = 1_930_377_600_000_000


class Chance:
    """One case in the making."""

    def __init__(self, seed: int, checklist: Checklist, text: bytes) -> None:
        self.dice = random.Random(seed)
        self.checklist = checklist
        self.case: Case = begin(f"GE{seed // 100:02d}-{seed % 100:02d}", checklist)
        self.us = self.dice.randrange(300 * 86_400) * 1_000_000
        self.off_s = self.dice.choice(OFFSETS)
        self.boot, self.presses, self.shift_us = "boot-0", seed << 32, 0
        targets = self.dice.choice([("left",), ("right",), ("left", "right"), ("right", "left")])
        plan = Plan(
            technique=checklist.technique,
            substrate=self.dice.choice(["native", "surgical"]),
            targets=targets,
            study_number=self.dice.choice([None, "0007", "S-12"]),
            access=self.dice.choice([None, *TEXTS]),
            age_years=self.dice.choice([None, 79, 93]),
        )
        self.press("case.open", plan=plan, checklist_digest=digest(text), rehearsal=self.dice.random() < 0.2)

    def stamp(self) -> Stamp:
        """The clocks now; now and then the wall clock is set, the zone changes or the machine restarts."""
        chance = self.dice.random()
        if chance < 0.01:
            self.shift_us += self.dice.choice([-1, 1]) * self.dice.randrange(3600) * 1_000_000
        elif chance < 0.02:
            self.off_s = self.dice.choice(OFFSETS)
        elif chance < 0.03:
            self.boot = f"boot-{self.us}"
        return Stamp(
            wall_us=START_US + self.us + self.shift_us,
            off_s=self.off_s,
            tz="",
            boot_us=self.us + 600_000_000,
            mono_us=self.us + 600_000_000,
            boot_id=self.boot,
        )

    def press(self, do: str, **fields: Any) -> None:
        """One key, if the log takes it."""
        self.presses += 1
        try:
            intent = INTENT_MODELS[do](press=f"{self.presses:032x}", **fields)
        except ValidationError:
            return
        outcome = decide(self.case, intent, self.stamp())
        if isinstance(outcome, Decided):
            self.case = fold_all(self.case, outcome.events)
        self.us += self.dice.randrange(1, 180_000_000)

    def anything(self) -> None:
        """One press of any kind."""
        do = self.dice.choice(USUAL)
        self.press(do, **self.fields(do), **self.late())

    def late(self) -> dict[str, Any]:
        if self.dice.random() > 0.12:
            return {}
        ago = self.dice.randrange(1, 2_000_000_000)
        return {"claim": Claim(ago_us=ago, precision_s=self.dice.choice([1, 60]), reason=self.text())}

    def text(self) -> str:
        return self.dice.choice(TEXTS)

    def fields(self, do: str) -> dict[str, Any]:
        """What goes with a press of that kind."""
        pick, seq = self.dice.choice, self.dice.randrange(1, len(self.case.log) + 2)
        stage = pick(self.checklist.stage)
        step = pick(stage.step).id if stage.step else "none"
        cusp = pick(["left", "right"])
        made: dict[str, dict[str, Any]] = {
            "stage.open": {"reason": "haemodynamic"},
            "stage.skip": {"stage": stage.id, "cusp": cusp if stage.per_cusp else None, "reason": self.text()},
            "step.answer": {"stage": stage.id, "step": step, "cusp": cusp if stage.per_cusp else None},
            "decision.make": {"decision": "protect", "choice": pick(["used", "declined"]), "reason": self.text()},
            "attempt.close": {"outcome": pick(["crossed", "failed", "fault", "cut", "none"])},
            "energy.on": {"watts": pick([None, 30, 70])},
            "run.start": {"run": pick(["cpr", "pacing"]), "rate": pick([None, 180])},
            "run.stop": {"run": pick(["cpr", "pacing"])},
            "sample.send": {"reading": "act"},
            "reading.take": pick([
                {"reading": "act", "value": self.dice.randrange(80, 500), "note": self.text()},
                {"reading": "kap", "value": len(self.case.log) + 10, "unit": "Gy·cm2"},
                {"reading": "flow", "choice": pick(["normal", "slow"]), "ostium": cusp, "judged_by": "angio"},
            ]),
            "dose.give": {"drug": "heparin", "amount": pick([None, 2000, 5000]), "note": self.text()},
            "device.use": {"device": "snare", "action": pick(["opened", "placed", "failed"])},
            "fault.note": {"fault": "generator", "note": self.text()},
            "note.write": {"text": self.text()},
            "bailout.open": pick([{"bailout": "coronary", "ostium": cusp}, {"bailout": "collapse", "cusp": cusp}]),
            "bailout.close": {"outcome": pick(["stented", "lost", "steady", "not"]), "note": self.text()},
            "cusp.abandon": {"cusp": cusp, "reason": self.text()},
            "handover.make": {"incoming": pick(["N2", "N3"])},
            "clock.compare": {"reading_us": START_US + self.us + 31_000_000},
            "event.void": {"target": seq, "reason": self.text()},
            "event.amend": {"target": seq, "field": "note", "value": self.text(), "reason": self.text()},
        }  # fmt: skip
        return made.get(do, {})


USUAL = (
    ["stage.open"] * 6 + ["energy.on", "energy.off"] * 4 + ["attempt.close"] * 3 + ["reading.take"] * 4
    + ["step.answer"] * 4 + ["dose.give", "note.write", "sample.send", "run.start", "run.stop", "undo"] * 2
    + ["decision.make", "stage.skip", "device.use", "fault.note", "mark.set", "bailout.open", "bailout.close",
       "handover.make", "clock.compare", "event.void", "event.amend", "cusp.abandon", "stage.close"]
)  # fmt: skip
RARE = 0.3


def generated(seed: int, *, presses: int = 40, checklist: Path = SMALL) -> tuple[Case, StoredCase]:
    """The case of a seed: the same seed gives the same case."""
    text = checklist.read_bytes()
    chance = Chance(seed, read_checklist(text, checklist.name), text)
    for _ in range(presses):
        chance.anything()
    if chance.dice.random() < RARE:
        for item in ("flow_seen",):
            chance.press("signout.settle", item=item, reason="no time")
        chance.press("stage.close")
        chance.press("case.seal")
    return chance.case, stored_of(chance.case, text)
