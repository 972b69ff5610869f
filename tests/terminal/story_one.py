"""The first story, key by key: left cusp, surgical valve, with the usual mistakes and their repair."""

from __future__ import annotations

import re

from tests.terminal.nurse import Nurse


def plan(n: Nurse) -> None:
    """Plan the case and open it."""
    n.sees("new case")
    n.terminal.pump(0.5)
    n.terminal.press("n")
    n.sees("cusps, in order")
    n.terminal.press("down", "right")
    n.sees("surgical valve")
    n.terminal.press("f2")
    n.saved_after(0)
    n.terminal.pump(0.5)


def time_out(n: Nurse) -> None:
    n.call("Time out")
    n.done("Identity, procedure", "Target cusps")
    n.value("Surgical valve: leaflets", "outside the frame")
    n.value("Plan B for a blocked", "stent")
    n.done("Front and side view", "Allergies", "Blood, drain")  # the return pad is forgotten
    n.at("Roles said")
    n.terminal.press("left")
    n.sees("NOT done")
    n.choose("NOT done", "person away")


def access(n: Nurse) -> None:
    n.call("Time out done. Sheath in")
    n.value("Anaesthesia", "general")
    n.value("Large sheath", "right femoral")
    n.done("Second arterial access", "Venous access")
    n.typed("Baseline ACT", "148")
    n.value("Heparin", "5000 IU")
    # A digit is missing: the console asks once, and does not insist.
    n.open("r", "READING")
    n.pick("ACT")
    n.terminal.type("21")
    n.sees("21")
    before = n.saved
    n.terminal.press("enter")
    n.sees("outside")
    assert n.saved == before
    n.terminal.press("escape")
    n.terminal.pump(0.3)
    if "Esc leaves" in n.terminal.text():
        n.terminal.press("escape")
    n.sees("FIGURES")
    n.reading("ACT", "210")
    n.at("Imaging clock")
    n.record("right")
    n.value("Filters", "used")


def filters(n: Nurse) -> None:
    """The call key goes down twice, more than the bounce guard apart; one undo brings the stage back."""
    n.call("Filters")
    n.sees("STEPS Cerebral protection")
    n.call("Guide to the cusp, left")
    n.sees("STEPS Guide and snare in place, left")
    n.record("f9")
    n.sees("STEPS Cerebral protection")
    n.done("Sheath for the filters")
    n.value("Filters open", "both")


def position(n: Nurse) -> None:
    n.call("Guide to the cusp, left")
    n.terminal.press("enter")  # within the guard: it bounces, and the stage does not move on
    n.terminal.pump(0.5)
    n.sees("STEPS Guide and snare in place, left")
    n.done("Snare open")
    n.value("Guide shape", "guide, left coronary")
    n.done("Front view: guide", "Side view: guide")
    n.open("r", "READING")
    n.choose("ACT: sample sent")
    n.reading("ACT", "274")


def traverse(n: Nurse) -> None:
    """The hold asks for the return pad; it is answered where the hold stands, then the call goes through."""
    n.sees("NOT YET")
    n.enter_key()
    n.sees("not yet true: Return pad on")
    n.choose("done now: Return pad on")
    n.call("In position, left")
    n.done("Wire bare", "Mode and watts")
    n.energy(0.6)
    n.open("x", "FAULT")
    n.choose("generator tripped")
    n.open("a", "RESULT of attempt 1")
    n.choose("generator or device fault")
    n.energy(0.4)
    n.open("a", "RESULT of attempt 2")
    n.choose("did not cross")


def back_and_late(n: Nurse) -> None:
    """Back to reposition; the next crossing is not pressed when it happens, and entered late."""
    back_and_late_as(n, 3)


def back_and_late_as(n: Nurse, attempt: int) -> None:
    """The same, where that is the number of the attempt."""
    n.open("s", "STAGES")
    n.choose("BACK to Guide and snare")
    n.sees("visit 2")
    n.sees("again: Snare open")  # the killer steps are asked anew
    n.done("Snare open", "Front view: guide", "Side view: guide")
    n.terminal.pump(2.5)
    said = an_instant_ago(n)
    late(n, said)
    before = n.saved
    n.enter_key()
    n.saved_after(before)
    n.sees("Crossing the leaflet, left")
    late(n, said)
    n.terminal.press("a")
    n.sees(f"RESULT of attempt {attempt}")
    n.choose("crossed")
    n.sees("LATE +")
    n.done("Wire bare")  # asked again in this visit


def an_instant_ago(n: Nurse) -> str:
    """The room clock as it stands on the screen: a second or so before the next press."""
    return str(re.findall(r"\d\d:\d\d:\d\d", n.terminal.text().splitlines()[0])[-1])


def late(n: Nurse, at: str) -> None:
    """L, an exact time; what it was comes next."""
    n.terminal.pump(1.1)
    n.open("l", "LATE ENTRY")
    n.pick("an exact time")
    n.sees("time hh:mm or hh:mm:ss")
    n.terminal.type(at)
    n.sees(at)
    n.enter_key()
    n.sees("what")
    n.sees("Enter the expected call")


def secure(n: Nurse) -> None:
    n.call("Snare has it, left")
    n.done("Wire free")
    n.value("Echo after crossing", "nothing new")
    n.value("Balloon augmentation", "no")
    n.done("Wire out", "Flying V")


def ready(n: Nurse) -> None:
    n.call("Ready check")
    n.record("f7")
    n.terminal.pump(0.3)
    n.record("f7")
    n.done("Valve loaded", "Pacing tested", "Vasopressor", "Dextrose", "Stiff wire", "Coronary guide, wire")
    n.typed("Systolic pressure", "118")


def lacerate(n: Nurse) -> None:
    n.call("All ready. Lacerating, left")
    n.done("Both guides under tension")
    n.energy(0.5)
    n.open("a", "RESULT of attempt 1")
    n.choose("cut through")
    n.sees("laceration")
    n.reading("Systolic pressure", "62")


def deploy(n: Nurse) -> None:
    n.call("Valve going")
    n.record("f7")
    n.terminal.pump(0.3)
    n.record("f7")
    n.done("Commissures")
    n.value("Ring fracture", "none")
    n.value("Balloon after", "no")


def coronary(n: Nurse) -> None:
    n.call("Deployed. Coronary shots")
    n.open("h", "HANDOVER")
    n.enter("N2")
    n.value("Left coronary: flow", "normal", "angiography")
    n.value("Right coronary: flow", "normal", "angiography")
    n.value("ST segment", "unchanged")
    n.value("Regurgitation", "mild", "echo")
    n.typed("Mean gradient", "9")
    n.typed("Commissure", "14")
    n.value("Pericardi", "none")
    n.typed("Systolic pressure", "121")


def closure(n: Nurse) -> None:
    n.call("Closing")
    n.done("Filters out")
    n.value("Filters looked at", "debris")
    n.value("Protamine", "full")
    n.value("Protamine amount", "80 mg")
    n.value("Large access", "closure")
    n.done("Closure seen")
    n.value("Temporary pacing wire", "stays")
    n.done("Counts right", "Imaging clock")


def sign_out(n: Nurse) -> None:
    n.call("Sign out")
    n.value("Patient leaves", "alive")
    n.value("Valves and position", "one valve, right")
    n.value("Access, delivery", "all succeeded")
    n.typed("Contrast in all", "96")
    n.typed("Fluoroscopy in all", "34.5")
    n.typed("Air kerma in all", "1240")
    n.typed("Kerma-area product", "96.4")
    n.value("Rhythm on leaving", "sinus")
    n.done("Handed over")
    n.call("Leaving the room")


def seal(n: Nurse) -> str:
    """Close the case; the head to be written on paper is on the screen."""
    n.open("o", "SIGN-OUT")
    n.choose_sealing()
    text = n.sees("Write this on the paper record")
    return str(re.findall(r"[A-Z2-7]{4}(?:-[A-Z2-7]{4}){3}", text)[0])


BEFORE = (plan, time_out, access, filters, position, traverse, back_and_late)
AFTER = (secure, ready, lacerate, deploy, coronary, closure, sign_out)
