"""The second story, key by key: right then left, a wrong cusp, an abandoned one, a coronary rescue."""

from __future__ import annotations

from tests.terminal.harness import NotSeenError
from tests.terminal.nurse import Nurse
from tests.terminal.story_one import an_instant_ago, late, seal

__all__ = ["AFTER", "BEFORE", "seal"]


def plan(n: Nurse) -> None:
    """Transcatheter valve; right cusp first, then left."""
    n.sees("new case")
    n.terminal.pump(0.5)
    n.terminal.press("n")
    n.sees("cusps, in order")
    n.terminal.press("down")
    change_to(n, "transcatheter valve")
    n.terminal.press("down")
    change_to(n, "right, then left")
    n.terminal.press("f2")
    n.saved_after(0)
    n.terminal.pump(0.5)


def change_to(n: Nurse, words: str) -> None:
    """Change the marked line of the plan until it says so."""
    for _ in range(12):
        n.terminal.settle()
        if f"< {words} >" in n.terminal.text():
            return
        n.press("right")
    raise NotSeenError(f"the plan never offered {words!r}:\n{n.terminal.text()}")


def time_out(n: Nurse) -> None:
    n.call("Time out")
    n.done("Identity, procedure", "Target cusps", "Failed transcatheter valve")
    n.value("Plan B for a blocked", "stent, then surgery")
    n.done("Front and side view", "Allergies", "Return pad on", "Blood, drain", "Roles said")


def access(n: Nurse) -> None:
    n.call("Time out done. Sheath in")
    n.value("Anaesthesia", "general")
    n.value("Large sheath", "right femoral")
    n.done("Second arterial access", "Venous access")
    n.typed("Baseline ACT", "151")
    n.value("Heparin", "8000 IU")
    n.typed("ACT after heparin", "284")
    n.at("Filters")
    before = n.saved
    n.press("right")
    n.pick("not feasible")
    n.pick("anatomy")
    n.saved_after(before)


def right_prepared(n: Nurse) -> None:
    """The filters were declined by decision, so the next call is already the guide's."""
    n.call("Guide to the cusp, right")
    n.done("Snare open")
    n.value("Guide shape", "guide, right")
    n.done("Front view: guide", "Side view: guide")
    n.call("In position, right")
    n.done("Wire bare")
    n.energy(0.4)
    n.open("a", "RESULT of attempt 1, right")
    n.choose("crossed")
    n.call("Snare has it, right")
    n.done("Wire free")
    n.open("n", "NOTE")
    n.enter("Right wire parked, laceration held until the left is ready.")


def left_on_the_wrong_cusp(n: Nurse) -> None:
    """The crossing is called for left and opened on right; two keys move it."""
    n.call("Guide to the cusp, left")
    n.done("Snare open")
    n.at("Front view: guide")
    n.done("Front view: guide", "Side view: guide")
    n.open("s", "STAGES")
    n.choose("Crossing the leaflet, right")
    n.sees("STEPS Crossing the leaflet, right")
    n.open("c", "CUSP")
    n.choose("move it to left")
    n.sees("STEPS Crossing the leaflet, left")
    n.done("Wire bare")


def left_crossed_at_the_third_try(n: Nurse) -> None:
    for number in (1, 2):
        n.energy(0.3)
        n.open("a", f"RESULT of attempt {number}, left")
        n.choose("did not cross")
    n.open("v", "DEVICE")
    n.choose("guide, deep left", "changed")
    n.energy(0.3)
    n.open("a", "RESULT of attempt 3, left")
    n.choose("crossed")
    n.call("Snare has it, left")
    n.done("Wire free")


def ready(n: Nurse) -> None:
    n.call("Ready check")
    n.done("Valve loaded", "Pacing tested", "Vasopressor", "Dextrose", "Stiff wire")
    n.at("Order of the cuts")
    n.record("right")


def right_cut_left_abandoned(n: Nurse) -> None:
    n.call("All ready. Lacerating, right")
    n.done("Both guides under tension")
    n.energy(0.4)
    n.open("a", "RESULT of attempt 1, right")
    n.choose("cut through")
    n.reading("Systolic pressure", "54")
    n.call("Lacerating, left")
    n.energy(0.3)
    n.open("x", "FAULT")
    n.choose("generator tripped")
    n.open("a", "RESULT of attempt 1, left")
    n.choose("no cut")
    n.open("c", "CUSP")
    before = n.saved
    n.pick("abandon left")
    n.pick("no time")
    n.saved_after(before)


def deploy(n: Nurse) -> None:
    n.call("Valve going")
    n.record("f7")
    n.terminal.pump(0.3)
    n.record("f7")


def coronary_rescue(n: Nurse) -> None:
    """B and two digits start the rescue; compressions are one key."""
    n.call("Deployed. Coronary shots")
    n.open("r", "READING")
    n.choose("ST segment", "up")
    n.open("r", "READING")
    n.choose("Coronary flow", "left coronary", "partial", "angiography")
    n.open("b", "BAILOUT")
    n.choose("Coronary obstruction", "left ostium")
    n.record("f8")


def compressions_end(n: Nurse) -> None:
    n.record("f8")
    n.value("Obstruction", "partial")
    n.done("Pressure and vasopressor")
    n.value("Was a stent here part of the plan", "no")
    n.open("r", "READING")
    n.choose("Coronary flow", "left coronary", "normal", "angiography")
    n.open("b", "BAILOUT")
    n.choose("END of Coronary obstruction", "stented", "carry on")
    n.sees("STEPS Coronary flow")


def another_takes_the_keys(n: Nurse) -> None:
    n.terminal.pump(1.2)
    said = an_instant_ago(n)
    n.open("h", "HANDOVER")
    n.enter("N2")
    late(n, said)
    n.terminal.press("d")
    n.sees("LATE DRUG")
    n.choose("Adrenaline", "100 microgram")
    n.value("Right coronary: flow", "normal", "angiography")


def closure(n: Nurse) -> None:
    n.call("Closing")
    n.value("Protamine", "none")
    n.at("Counts right")
    n.record("right")


def sign_out(n: Nurse) -> None:
    n.call("Sign out")
    n.value("Patient leaves", "alive")
    n.value("Valves and position", "one valve, right")
    n.value("Access, delivery", "all succeeded")
    n.typed("Contrast in all", "148")
    n.typed("Fluoroscopy in all", "47.2")
    n.typed("Air kerma in all", "2310")
    n.typed("Kerma-area product", "171")
    n.value("Rhythm on leaving", "paced")
    n.done("Handed over")
    n.call("Leaving the room")


def settle_what_was_forgotten(n: Nurse) -> None:
    """Nobody answered for the wire's kink on the right; the list asks, and a reason settles it."""
    n.open("o", "SIGN-OUT")
    n.sees("1 open")
    n.pick("KILLER STEP no answer: Flying V")
    n.pick("seen or checked another way")
    n.sees("nothing is open")
    n.press("escape")
    n.sees("SAVED")


BEFORE = (
    plan, time_out, access, right_prepared, left_on_the_wrong_cusp, left_crossed_at_the_third_try,
    ready, right_cut_left_abandoned, deploy, coronary_rescue,
)  # fmt: skip
AFTER = (compressions_end, another_takes_the_keys, closure, sign_out, settle_what_was_forgotten)
