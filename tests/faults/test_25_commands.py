"""Fault 25, the commands: whatever the ledger, the notes, the file names and the words hold, only text is printed."""

from __future__ import annotations

import argparse
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from labcheck.cli import parser
from labcheck.commands.debrief import add_note
from labcheck.commands.output import CommandError
from tests.faults.invariants import heads, hold
from tests.faults.planted_ledger import FULL, KINDS, STORY, planted_checklist
from tests.faults.planting import ACTING, SOFT, TAG, steering
from tests.faults.running import run
from tests.faults.test_25_fields import SOUND

pytestmark = pytest.mark.fault(25)

CLEAN = re.compile(r"\s+")


def commands() -> set[str]:
    """Every word the program knows."""
    (words,) = [a for a in parser()._actions if isinstance(a, argparse._SubParsersAction)]
    return set(words.choices)


def fair(text: str) -> str:
    """A text as a person would write it down after cleaning: one line, nothing that steers."""
    return CLEAN.sub(" ", "".join(c for c in text if c.isprintable() or c.isspace())).strip()


def planted_notes(folder: Path) -> Iterator[str]:
    """A learning point, an open action, a done one and one given up for each text, beside the planted cases."""
    for number, text in enumerate(ACTING.values()):
        words = fair(text)
        add_note(folder, KINDS, "learned", words)
        add_note(folder, KINDS, "action", words, "team", "2031-04-30")
        for kind in ("done", "given_up"):
            action = add_note(folder, KINDS, "action", words, "team")
            add_note(folder, KINDS, kind, words, target=action.n)
        assert number < len(ACTING)
        yield words


def asked(folder: Path, scratch: Path) -> Iterator[tuple[str, ...]]:
    """Each command in the ways that print what somebody wrote."""
    for case in (STORY, KINDS):
        yield ("debrief", case)
        yield ("debrief", case, "--html", str(scratch / f"{case}.html"))
        yield ("verify", case)
        yield ("archive", case, "--to", str(scratch / f"{case}.db"))
    yield ("debrief", "--series")
    yield ("actions", "--all")
    yield ("cases",)
    yield ("verify",)
    yield ("doctor",)
    yield ("keys",)
    yield ("export", "--all", "--as", "json", "--profile", "hospital", "--to", str(scratch / "all"))
    yield ("events", "--profile", "hospital", "--to", str(scratch / "rows"))
    yield ("rebuild", "--to", str(scratch / "new"))
    for kind in SOFT:
        for sound in (FULL, SOUND):
            file = scratch / f"{kind}-{sound.name}"
            file.write_bytes(planted_checklist(ACTING[kind], sound)[0])
            yield ("check", "--explain", str(file))


def test_no_command_prints_a_byte_that_acts(planted: Path, tmp_path: Path) -> None:
    before = heads(planted, KINDS)
    written = list(planted_notes(planted))
    printed: dict[str, str] = {}
    for words in asked(planted, tmp_path):
        ran = run(planted, *words)
        assert ran.status == 0, (words, ran.err)
        printed[words[0]] = printed.get(words[0], "") + ran.out + ran.err
    # Not because nothing was printed: the texts are there, as text, and notes word for word.
    for word in ("debrief", "actions", "check"):
        assert printed[word].count(TAG) > 5, word
    assert all(words in printed["actions"] for words in written)
    assert ACTING["markup"] in printed["check"]
    # What has no planted text to print is known: a new command must be tried here.
    assert commands() - printed.keys() == {"rehearse", "transcribe"}, "transcribe: test_25_input; rehearse draws"
    hold(planted, before, "commands", case=KINDS, made=False)


@pytest.mark.parametrize("kind", ACTING)
def test_names_and_words_on_the_command_line_come_back_as_one_line_of_text(
    planted: Path, tmp_path: Path, kind: str
) -> None:
    before = heads(planted, STORY)
    word = ACTING[kind].replace("\0", "").replace("/", "_")
    file = tmp_path / f"{word}.toml"
    file.write_text("format = 1\nnonsense = [", encoding="utf-8")
    odd = (
        ("check", str(file)),
        ("transcribe", str(file)),
        ("rehearse", str(file)),
        ("rehearse", word),
        ("debrief", word),
        ("debrief", STORY, "--agreed", str(file)),
        ("verify", word),
        ("verify", STORY, "--head", word),
        ("verify", "--file", str(file)),
        ("archive", word, "--to", str(tmp_path / "x.db")),
        ("archive", STORY, "--to", str(tmp_path / word / "x.db")),
        ("export", word, "--as", "json", "--profile", "hospital", "--to", str(tmp_path)),
        ("export", STORY, "--as", word, "--profile", "hospital", "--to", str(tmp_path)),
        ("export", STORY, "--as", "json", "--profile", word, "--to", str(tmp_path)),
        ("export", STORY, "--as", "json", "--profile", "hospital", "--to", str(file)),
        ("export", STORY, "--as", "dicom", "--profile", "hospital", "--to", str(tmp_path), "--identifiers", str(file)),
        ("export", STORY, "--as", "json", "--profile", "registry", "--to", str(tmp_path), "--key", str(file)),
        ("export", "--check", str(file)),
        ("rebuild", "--to", str(tmp_path)),
        ("actions", "--done", "1", f"--say={word}"),
        ("debrief", STORY, f"--action={word}", f"--owner={word}"),
        (word,),
    )  # fmt: skip
    for words in odd:
        ran = run(planted, *words)
        assert ran.status in (1, 2), (words, ran.out)
        lines = ran.err.splitlines()
        assert all(line.startswith("labcheck: ") for line in lines), (words, ran.err)
        assert len(lines) == 1 or words[0] == "verify", (words, ran.err)
    hold(planted, before, "words", case=STORY, made=False)


@pytest.mark.parametrize("kind", ACTING)
def test_a_note_that_is_not_clean_is_refused_whole(planted: Path, kind: str) -> None:
    before = heads(planted, STORY)
    text = ACTING[kind]
    if steering(text) or "\t" in text:
        with pytest.raises(CommandError, match="one line of printable text"):
            add_note(planted, STORY, "learned", text)
        assert not (planted / "debrief-notes.jsonl").exists() or not (planted / "debrief-notes.jsonl").stat().st_size
    else:
        add_note(planted, STORY, "learned", text)
        assert CLEAN.sub("", text) in CLEAN.sub("", run(planted, "debrief", STORY).out)  # it is folded there
    hold(planted, before, "notes", case=STORY, made=False)
