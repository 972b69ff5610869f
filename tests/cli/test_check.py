"""``labcheck check``: sound files pass, faults are found, and each fault is one line."""

from __future__ import annotations

from pathlib import Path

import pytest

from labcheck.checklist.explaining import example_plan
from labcheck.checklist.unfolding import may_apply
from labcheck.cli import main
from labcheck.commands import shelf

CHECKLISTS = Path(__file__).parents[2] / "checklists"
SHIPPED = sorted([*CHECKLISTS.glob("*.toml"), *(CHECKLISTS / "rehearsals").glob("*.toml")])
SCRIPT = CHECKLISTS / "rehearsals" / "left-cusp-surgical.toml"


@pytest.mark.parametrize("path", SHIPPED, ids=lambda p: p.stem)
def test_every_shipped_file_is_sound(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(path)]) == 0
    assert f"{path.name}: sound" in capsys.readouterr().out


def test_explaining_names_every_stage_hold_and_source(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "--explain", str(CHECKLISTS / "electrosurgical.toml")]) == 0
    out = capsys.readouterr().out
    checklist, _, _ = shelf.checklist("electrosurgical")
    plan = example_plan(checklist)
    for stage in checklist.stage:
        assert f'{stage.title}. Opens at "{stage.call}' in out
        shown = [hold for hold in stage.hold if may_apply(hold.when, plan)]
        assert all(f"needs   {hold.text}" in out for hold in shown)
    assert all(source.text in out for source in checklist.source)


def test_a_misspelt_key_is_a_fault_with_its_nearest_spelling(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = (CHECKLISTS / "electrosurgical.toml").read_text(encoding="utf-8")
    wrong = tmp_path / "electrosurgical.toml"
    wrong.write_text(
        text.replace('done_call = "Time out done"', 'done_cal = "Time out done"'), encoding="utf-8"
    )
    assert main(["check", str(wrong)]) == 1
    err = capsys.readouterr().err
    assert err.count("\n") == 1
    assert "stage briefing" in err
    assert '"done_call"' in err


def test_one_unsound_file_among_sound_ones_decides_the_status(tmp_path: Path) -> None:
    wrong = tmp_path / "wrong.toml"
    wrong.write_text("format = 1\n")
    assert main(["check", str(CHECKLISTS / "electrosurgical.toml"), str(wrong)]) == 1


def test_a_script_that_is_refused_names_its_entry(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    lines = SCRIPT.read_text(encoding="utf-8").splitlines(keepends=True)
    wrong = tmp_path / "early.toml"
    wrong.write_text("".join(line for line in lines if 'step = "pad"' not in line), encoding="utf-8")
    assert main(["check", str(wrong)]) == 1
    err = capsys.readouterr().err
    assert "early.toml: entry" in err
    assert "(09:49:00)" in err
    assert "Return pad on" in err


def test_a_script_uses_the_house_checklist_beside_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    house = (CHECKLISTS / "electrosurgical.toml").read_text(encoding="utf-8")
    house = house.replace('step = "briefing.pad"', 'step = "briefing.views"')
    (tmp_path / "electrosurgical.toml").write_text(house, encoding="utf-8")
    script = tmp_path / "script.toml"
    script.write_bytes(SCRIPT.read_bytes())
    assert main(["check", str(script)]) == 0, capsys.readouterr().err


@pytest.mark.parametrize("kind", ["missing", "folder", "pipe"])
def test_what_is_no_plain_file_is_wrong_use(
    kind: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    import os

    path = tmp_path / "odd.toml"
    if kind == "folder":
        path.mkdir()
    elif kind == "pipe":
        os.mkfifo(path)
    assert main(["check", str(path)]) == 2
    assert capsys.readouterr().err.count("\n") == 1


@pytest.mark.parametrize(
    "text",
    [
        b"\xff\xfe\x00",
        b"x = " + b"[" * 5000,
        b"format = 1\n" + b"#" * 300_000,
        b'title = "\\u001b[2J"\n',
        b"x = " + b"9" * 5000,
        b"\x00",
        b"",
    ],
    ids=["not-utf8", "deep", "large", "escape", "digits", "nul", "empty"],
)
def test_a_hostile_file_is_a_fault_without_a_control_character(
    text: bytes, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "hostile.toml"
    path.write_bytes(text)
    assert main(["check", str(path)]) == 1
    streams = capsys.readouterr()
    assert "hostile.toml" in streams.err
    assert "\x1b" not in streams.err + streams.out
