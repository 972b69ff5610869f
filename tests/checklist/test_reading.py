"""Reading a checklist: one line for every fault, saying where it is and what is meant."""

from __future__ import annotations

import hashlib
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labcheck.checklist.complaint import ChecklistError, Complaint
from labcheck.checklist.finding import drug, reading, stage
from labcheck.checklist.reading import MOST_COMPLAINTS, digest, read_checklist
from tests.checklist.sound import NAME, SOUND, broken, complaint_lines, only_complaint, sound


def test_a_sound_file_is_read_as_text_and_as_bytes_alike() -> None:
    assert read_checklist(SOUND.encode(), NAME) == sound()


def test_a_byte_order_mark_from_an_editor_does_no_harm() -> None:
    assert read_checklist(b"\xef\xbb\xbf" + SOUND.encode(), NAME) == sound()


def test_decimals_keep_the_digits_that_were_written() -> None:
    found = drug(read_checklist(broken("usual = [5000]", "usual = [5000.10]"), NAME), "heparin")
    assert found is not None
    assert str(found.usual[0]) == "5000.10"


def test_whole_numbers_are_welcome_where_decimals_are_asked_for() -> None:
    act = reading(sound(), "act")
    assert act is not None
    assert act.low == Decimal(70)


def test_lists_become_tuples() -> None:
    traverse = stage(sound(), "traverse")
    assert traverse is not None
    assert isinstance(traverse.hold, tuple)
    assert isinstance(traverse.hold[1].need, tuple)


def test_the_digest_is_of_the_exact_bytes() -> None:
    assert digest(b"a = 1\r\n") == hashlib.sha256(b"a = 1\r\n").hexdigest()
    assert digest("Gy·cm2") == hashlib.sha256("Gy·cm2".encode()).hexdigest()


def test_a_misspelt_key_names_stage_and_key_and_the_right_one() -> None:
    line = only_complaint(broken('title = "Access"\n', 'title = "Access"\nquite = true\n'))
    assert line == (
        'local.toml: stage access, key quite: is not a key here; the nearest right spelling is "quiet"'
    )


def test_a_misspelt_key_of_a_step_names_stage_and_step() -> None:
    line = only_complaint(broken('{ id = "pad", say', '{ id = "pad", ownner = "x", say'))
    assert line.startswith("local.toml: stage access, step pad, key ownner: ")
    assert line.endswith('the nearest right spelling is "owner"')


def test_the_key_is_is_known_by_the_name_the_author_writes() -> None:
    line = only_complaint(broken('{ step = "access.side", is =', '{ step = "access.side", iss ='))
    assert '"is"' in line


def test_a_key_like_no_other_lists_the_keys_there_are() -> None:
    line = only_complaint(broken('[[run]]\nid = "pacing"', '[[run]]\nzzz = 1\nid = "pacing"'))
    assert "run pacing, key zzz: is not a key here; the keys are id, title, rate_unit, source" in line


def test_a_misspelt_word_of_a_closed_list_shows_the_list_and_the_nearest() -> None:
    line = only_complaint(broken('kind = "choice"', 'kind = "chioce"'))
    assert "step side, key kind: may be done, choice, number" in line
    assert line.endswith('not "chioce"; the nearest right spelling is "choice"')


def test_a_missing_key_is_named() -> None:
    assert (
        only_complaint(broken('call = "Sheath in"\n', ""))
        == "local.toml: stage access, key call: must be given"
    )


def test_a_table_without_an_id_is_counted_instead() -> None:
    line = only_complaint(broken('[[run]]\nid = "pacing"\n', "[[run]]\n"))
    assert line == "local.toml: run number 1, key id: must be given"


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("quiet = true", 'quiet = "yes"', 'must be true or false, not "yes"'),
        ("quiet = true", "quiet = 1", "must be true or false, not 1"),
        ("notice_after = 3", 'notice_after = "3"', 'must be a whole number, not "3"'),
        ("notice_after = 3", "notice_after = true", "must be a whole number, not true"),
        ("notice_after = 3", "notice_after = 3.0", "must be a whole number, not 3.0"),
        ("due_min = 30", 'due_min = "30"', 'must be a number, not "30"'),
        ("due_min = 30", "due_min = true", "must be a number, not true"),
        ('title = "Sound"', "title = 3", "must be text in quotes, not 3"),
        ('title = "Sound"', 'title = ""', "must not be empty"),
        ('cusps = ["left", "right"]', 'cusps = "left"', "must be a list in square brackets"),
        ('cusps = ["left", "right"]', "cusps = []", "must have at least 1 entries"),
        ('big = "DEPLOY"', 'big = "Deploy"', "must be 1 to 12 capitals"),
        ('id = "deploy"', 'id = "De ploy"', "must be small letters, digits and underscores"),
        ('{ step = "access.pad" }', '{ step = "pad" }', "must be a step named as stage.step"),
        ('{ step = "access.pad" }', '{ step = "access.pad", stage = "access" }', "exactly one of step"),
        ("due_min = 30", "due_min = 1e13", "outside any sensible size"),
        ("format = 1", "format = 2", "may be 1, not 2"),
        ("energy = {", 'energy = "cut" #', "must be a table"),
    ],
)
def test_a_value_of_the_wrong_kind_is_refused_in_plain_words(old: str, new: str, said: str) -> None:
    line = only_complaint(broken(old, new))
    assert said in line


def test_several_faults_are_told_together() -> None:
    text = broken('call = "Sheath in"\n', "").replace('call = "Valve going"\n', "")
    assert complaint_lines(text) == [
        "local.toml: stage access, key call: must be given",
        "local.toml: stage deploy, key call: must be given",
    ]


def test_a_flood_of_faults_is_cut_and_counted() -> None:
    lines = complaint_lines(SOUND + '[[run]]\nid = "pacing"\n' * 50 + "[[drug]]\n" * 50)
    assert len(lines) == MOST_COMPLAINTS + 1
    assert lines[-1].endswith("more faults; mend these first")


def test_a_broken_file_says_the_line() -> None:
    assert "line 3" in only_complaint('format = 1\nid = "x"\ntitle = "half\n')


def _complaints(text: str | bytes) -> tuple[Complaint, ...]:
    try:
        read_checklist(text, NAME)
    except ChecklistError as error:
        return error.complaints or pytest.fail("refused without a word")
    return ()


@given(st.binary(max_size=300))
def test_no_bytes_make_anything_but_a_checklist_or_complaints(data: bytes) -> None:
    assert all(str(complaint).isprintable() for complaint in _complaints(data))


@given(st.data())
def test_no_lost_piece_makes_anything_but_a_checklist_or_complaints(data: st.DataObject) -> None:
    start = data.draw(st.integers(0, len(SOUND)))
    length = data.draw(st.integers(1, 200))
    put = data.draw(st.sampled_from(["", '"', "[[", "]", "=", "true", "-1", "\x00", "\u202e", "[[stage]]\n"]))
    text = SOUND[:start] + put + SOUND[start + length :]
    assert all(str(complaint).isprintable() for complaint in _complaints(text))
