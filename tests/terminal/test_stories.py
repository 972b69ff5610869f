"""Both stories, key by key in a real pseudo-terminal, through SIGKILL, to the seal, the export and the proof."""

from __future__ import annotations

import json
import re
import subprocess
from contextlib import closing
from pathlib import Path

import pytest

from labcheck.caselog.case import Case
from labcheck.commands.ledgers import folded
from labcheck.ledger.store import open_ledger
from tests.terminal import story_one, story_two
from tests.terminal.harness import Terminal, labcheck
from tests.terminal.nurse import Nurse

pytestmark = pytest.mark.terminal


def console(ledger: Path, size: tuple[int, int]) -> Terminal:
    return Terminal(labcheck("--ledger", str(ledger)), size=size)


def resumed(terminal: Terminal, key: str) -> Nurse:
    """Start again: the unfinished case is offered first, and Enter opens it."""
    nurse = Nurse(terminal)
    terminal.wait_for(f"{key} electrosurgical")
    terminal.pump(0.5)
    terminal.press("enter")
    terminal.wait_for("record resumed after a gap")
    terminal.pump(0.5)  # a press so soon after a screen has opened would belong to the one before
    return nurse


def in_the_ledger(ledger: Path, key: str) -> Case:
    with closing(open_ledger(ledger, read_only=True)) as opened:
        return folded(opened, key)


def since_access_s(text: str) -> int:
    found = re.search(r"since access (?:(\d+):)?(\d+):(\d\d)", text)
    assert found is not None, text
    return int(found[1] or 0) * 3600 + int(found[2]) * 60 + int(found[3])


def run(*arguments: str) -> str:
    done = subprocess.run(labcheck(*arguments), capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout


def exported_and_proved(ledger: Path, key: str, head: str, out: Path) -> dict[str, object]:
    """Verify against the head that stood on the screen, export, and give the document back."""
    assert "proved" in run("verify", key, "--head", head, "--ledger", str(ledger))
    run("verify", "--ledger", str(ledger))
    words = ("--profile", "hospital", "--as", "json", "--as", "csv")
    run("export", key, *words, "--to", str(out), "--ledger", str(ledger))
    assert (out / f"{key}-csv" / "events.csv").is_file()
    document: dict[str, object] = json.loads((out / f"{key}.json").read_bytes())
    return document


@pytest.mark.slow
def test_the_first_story_survives_a_kill_while_energy_is_on(tmp_path: Path) -> None:
    ledger = tmp_path / "ledger"
    with console(ledger, (120, 40)) as terminal:
        nurse = Nurse(terminal)
        for part in (
            story_one.plan,
            story_one.time_out,
            story_one.access,
            story_one.filters,
            story_one.position,
        ):
            part(nurse)
        access_s = since_access_s(terminal.text())
        story_one.traverse(nurse)
        number = nurse.record("space")
        key = nurse.key
        terminal.kill()
    before = in_the_ledger(ledger, key)
    assert before.head_seq == number
    assert before.burst is not None

    with console(ledger, (120, 40)) as terminal:
        nurse = resumed(terminal, key)
        text = terminal.text()
        assert "Crossing the leaflet, left" in text
        assert "attempt 3" in text
        assert "ENERGY ON" in text
        assert f"{number} " in text
        assert "energy on, left, attempt 3" in text
        nurse.record("space")
        nurse.open("a", "RESULT of attempt 3")
        nurse.choose("did not cross")
        story_one.back_and_late_as(nurse, 4)
        story_one.secure(nurse)
        assert since_access_s(terminal.text()) > access_s
        for part in story_one.AFTER[1:]:
            part(nurse)
        head = story_one.seal(nurse)
        terminal.press("ctrl+q")

    case = in_the_ledger(ledger, key)
    assert case.seal is not None
    assert not case.rehearsal
    crossing = [(a.number, a.outcome) for a in case.attempts if a.stage == "traverse"]
    assert crossing == [(1, "fault"), (2, "failed"), (3, "failed"), (4, "crossed")]
    assert len(case.visits) == len({v.seq for v in case.visits})
    kinds = [event.kind for event in case.log]
    assert kinds.count("press.bounced") == 1
    assert kinds.count("event.voided") == 2
    document = exported_and_proved(ledger, key, head, tmp_path / "out")
    assert len(document["events"]) == case.head_seq  # type: ignore[arg-type]


@pytest.mark.slow
def test_the_second_story_survives_a_kill_in_a_rescue(tmp_path: Path) -> None:
    ledger = tmp_path / "ledger"
    with console(ledger, (80, 24)) as terminal:
        nurse = Nurse(terminal)
        for part in story_two.BEFORE:
            part(nurse)
        number, key = nurse.saved, nurse.key
        terminal.kill()
    before = in_the_ledger(ledger, key)
    assert before.head_seq == number
    assert [spell.run for spell in before.spells if spell.end is None] == ["cpr"]

    with console(ledger, (80, 24)) as terminal:
        nurse = resumed(terminal, key)
        for part in story_two.AFTER:
            part(nurse)
        head = story_two.seal(nurse)
        terminal.press("ctrl+q")

    case = in_the_ledger(ledger, key)
    assert case.seal is not None
    assert set(case.abandoned) == {"left"}
    assert [(v.cusp, v.number) for v in case.visits if v.stage == "traverse"] == [("right", 1), ("left", 1)]
    rescue = case.bailouts[0]
    assert (rescue.what.bailout, rescue.what.ostium, rescue.outcome) == ("coronary", "left", "stented")
    spell = next(s for s in case.spells if s.run == "cpr")
    assert spell.end is not None
    assert spell.end.boot_us is not None
    assert [e.what.kind for e in case.log if e.mode == "late"] == ["dose.given"]
    exported_and_proved(ledger, key, head, tmp_path / "out")
