"""The command line itself: usage, exit status, one line for every fault, nothing that steers a terminal."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from labcheck.cli import main, parser
from labcheck.commands.output import clean

COMMANDS = (
    "rehearse",
    "transcribe",
    "cases",
    "check",
    "keys",
    "doctor",
    "export",
    "debrief",
    "verify",
    "archive",
)


def one_line(err: str) -> str:
    assert err.startswith("labcheck: ")
    assert err.count("\n") == 1
    return err


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_explains_itself(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main([command, "--help"])
    assert ended.value.code == 0
    assert "--ledger DIR" in capsys.readouterr().out


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_is_named_in_the_help(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["--help"])
    assert f"\n    {command}" in capsys.readouterr().out


@pytest.mark.parametrize(
    "wrong",
    [
        ["sing"],
        ["export", "K7Q2-M4"],
        ["export", "K7Q2-M4", "--as", "json"],
        ["rehearse", "--pace", "0"],
        ["rehearse", "--pace", "nan"],
        ["check"],
        ["transcribe"],
        ["cases", "--led", "x"],
        ["keys", "\x1b[2J"],
    ],
)
def test_wrong_use_is_one_line_and_status_2(wrong: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(wrong) == 2
    streams = capsys.readouterr()
    assert streams.out == ""
    assert "\x1b" not in one_line(streams.err)
    assert "--help" in streams.err


@pytest.mark.parametrize("place", ["before", "after"])
def test_the_ledger_may_be_named_before_or_after_the_command(place: str) -> None:
    words = ["--ledger", "here", "cases"] if place == "before" else ["cases", "--ledger", "here"]
    chosen = parser().parse_args(words)
    assert (chosen.command, chosen.ledger) == ("cases", Path("here"))


def test_without_a_command_the_console_is_meant() -> None:
    assert parser().parse_args([]).command == "console"


@pytest.mark.parametrize(
    ("text", "cleaned"),
    [
        ("\x1b[2J", "\\u001b[2J"),
        ("a\x07b", "a\\u0007b"),
        ("\x9b31m", "\\u009b31m"),
        ("right\u202eleft", "right\\u202eleft"),
        ("one\ntwo\tthree", "one\ntwo\tthree"),
        ("é, 冠", "é, 冠"),
    ],
)
def test_no_character_of_ours_steers_the_terminal(text: str, cleaned: str) -> None:
    assert clean(text) == cleaned


def test_a_closed_pipe_is_no_fault() -> None:
    done = subprocess.run(
        f'"{sys.executable}" -m labcheck keys | true', shell=True, capture_output=True, text=True, timeout=60
    )
    assert done.stderr == ""


def test_files_are_made_for_nobody_else() -> None:
    before = os.umask(0)
    try:
        main(["keys"])
        assert os.umask(0) == 0o077
    finally:
        os.umask(before)


def test_a_terminal_without_our_letters_does_not_end_a_command() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "labcheck", "keys"],
        env={**os.environ, "PYTHONIOENCODING": "ascii"},
        capture_output=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 0
    assert done.stdout.isascii()


def test_python_dash_m_and_the_installed_command_are_one() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "labcheck", "sing"], capture_output=True, text=True, timeout=60, check=False
    )
    assert done.returncode == 2
    one_line(done.stderr)
