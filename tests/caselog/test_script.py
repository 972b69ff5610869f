"""Reading scripts: times, days, late entries, and complaints that name the entry."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from labcheck.caselog.intents import OpenStage, TakeReading
from labcheck.caselog.script import Script, read_script
from labcheck.checklist.complaint import ChecklistError

HEAD = """
format = 1
title = "A short one"
checklist = "electrosurgical"
date = "2031-03-04"
utc_offset = "+01:00"

[plan]
technique = "electrosurgical"
substrate = "native"
targets = ["left"]
"""


def script_of(*entries: str) -> Script:
    return read_script(HEAD + "".join(f"\n[[entry]]\n{entry}\n" for entry in entries), "short.toml")


def complaint_about(*entries: str) -> str:
    with pytest.raises(ChecklistError) as caught:
        script_of(*entries)
    text = str(caught.value)
    assert "\n" not in text
    return text


def utc_us(*parts: int) -> int:
    return int(datetime(*parts, tzinfo=UTC).timestamp()) * 1_000_000  # type: ignore[arg-type,misc]


def test_the_offset_turns_the_wall_time_into_utc() -> None:
    script = script_of('at = "09:14:05"\ndo = "stage.open"\nstage = "traverse"\ncusp = "left"')
    assert script.entries[0].at_us == utc_us(2031, 3, 4, 8, 14, 5)
    intent = script.entries[0].intent
    assert isinstance(intent, OpenStage)
    assert (intent.stage, intent.cusp) == ("traverse", "left")


def test_fractions_of_a_second_are_kept() -> None:
    script = script_of('at = "09:14:05"\ndo = "undo"', 'at = "09:14:05.3"\ndo = "undo"')
    assert script.entries[1].at_us - script.entries[0].at_us == 300_000


def test_entries_may_pass_midnight() -> None:
    script = script_of('at = "23:59:50"\ndo = "undo"', 'at = "00:01:00"\ndo = "undo"')
    assert script.entries[1].at_us - script.entries[0].at_us == 70_000_000


def test_a_day_written_with_the_time_holds_for_the_entries_after_it() -> None:
    script = script_of(
        'at = "09:00:00"\ndo = "undo"',
        'at = "2031-03-05 10:00:00"\ndo = "undo"',
        'at = "10:01:00"\ndo = "undo"',
    )
    assert script.entries[2].at_us == utc_us(2031, 3, 5, 9, 1, 0)


def test_an_entry_earlier_than_the_one_before_it_is_refused() -> None:
    text = complaint_about('at = "09:14:05"\ndo = "undo"', 'at = "09:13:00"\ndo = "undo"')
    assert "entry 2 (09:13:00), key at" in text
    assert "put the entries in order" in text


def test_happened_before_midnight_belongs_to_the_evening_before() -> None:
    script = script_of('at = "00:03:00"\ndo = "undo"\nhappened = "23:58:00"')
    claim = script.entries[0].intent.claim
    assert claim is not None
    assert claim.wall_us == utc_us(2031, 3, 3, 22, 58, 0)


def test_happened_on_an_earlier_day_does_not_move_the_entries_after_it() -> None:
    script = script_of(
        'at = "2031-03-05 10:00:00"\ndo = "undo"\nhappened = "2031-03-04 09:00:00"',
        'at = "10:00:30"\ndo = "undo"',
    )
    claim = script.entries[0].intent.claim
    assert claim is not None
    assert claim.wall_us == utc_us(2031, 3, 4, 8, 0, 0)
    assert script.entries[1].at_us == utc_us(2031, 3, 5, 9, 0, 30)


def test_happened_after_the_entry_itself_is_refused() -> None:
    assert "is after the entry's own time" in complaint_about(
        'at = "09:14:05"\ndo = "undo"\nhappened = "09:15:00"'
    )


@pytest.mark.parametrize(
    ("ago", "us"), [("3:00", 180_000_000), ("1:20:00", 4_800_000_000), ("0:05", 5_000_000)]
)
def test_ago_is_minutes_and_seconds_with_hours_before_them(ago: str, us: int) -> None:
    claim = script_of(f'at = "09:14:05"\ndo = "undo"\nago = "{ago}"').entries[0].intent.claim
    assert claim is not None
    assert claim.ago_us == us


def test_a_time_without_seconds_is_known_to_the_minute() -> None:
    script = script_of('at = "09:14"\ndo = "undo"', 'at = "09:20:00"\ndo = "undo"\nhappened = "09:15"')
    assert script.entries[0].whole_minutes
    claim = script.entries[1].intent.claim
    assert claim is not None
    assert claim.precision_s == 60


def test_numbers_keep_the_digits_that_were_written() -> None:
    script = script_of('at = "09:14"\ndo = "reading.take"\nreading = "act"\nvalue = 27.40')
    intent = script.entries[0].intent
    assert isinstance(intent, TakeReading)
    assert str(intent.value) == "27.40"


def test_a_misspelt_intent_names_the_nearest_right_one() -> None:
    text = complaint_about('at = "09:14:05"\ndo = "stage.opne"')
    assert text.startswith("short.toml: entry 1 (09:14:05), key do:")
    assert text.endswith('the nearest right spelling is "stage.open"')


def test_a_misspelt_key_names_the_nearest_right_one() -> None:
    text = complaint_about('at = "09:14:05"\ndo = "stage.open"\nstagge = "access"')
    assert "key stagge" in text
    assert '"stage"' in text


@pytest.mark.parametrize("do", ["case.open", "lease.take"])
def test_what_only_the_program_does_cannot_be_scripted(do: str) -> None:
    assert "is not something a script can do" in complaint_about(f'at = "09:14:05"\ndo = "{do}"')


@pytest.mark.parametrize(
    "entry",
    [
        'at = "9 past 4"\ndo = "undo"',
        'at = "25:00:00"\ndo = "undo"',
        'at = 914\ndo = "undo"',
        'at = "2031-02-30 09:00:00"\ndo = "undo"',
        'do = "undo"',
        'at = "09:14:05"',
        'at = "09:14:05"\ndo = "undo"\nhappened = "09:13:00"\nago = "1:00"',
        'at = "09:14:05"\ndo = "undo"\nlate_reason = "busy"',
        'at = "09:14:05"\ndo = "undo"\nago = "3 minutes"',
        'at = "09:14:05"\ndo = "undo"\nago = "3:00"\nprecision_s = "some"',
        'at = "09:14:05"\ndo = "stage.skip"\nstage = "protection"',
        'at = "09:14:05"\ndo = "stage.open"\ncusp = "port"',
        'at = "09:14:05"\ndo = "note.write"\ntext = "a"\nsay = 4',
    ],
)
def test_a_wrong_entry_is_refused_by_its_number(entry: str) -> None:
    assert complaint_about(entry).startswith("short.toml: entry 1")


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ('date = "2031-03-04"', 'date = "2031-13-04"', "date"),
        ('utc_offset = "+01:00"', 'utc_offset = "+99:00"', "utc_offset"),
        ('utc_offset = "+01:00"', 'utc_offset = "-18:30"', "utc_offset"),
        ("format = 1", 'format = 1\nstart = "23:00:00"', "start"),
        ('title = "A short one"', 'titel = "A short one"', "titel"),
    ],
)
def test_a_wrong_head_is_refused_by_its_key(old: str, new: str, key: str) -> None:
    text = HEAD.replace(old, new) + '\n[[entry]]\nat = "09:14:05"\ndo = "undo"\n'
    with pytest.raises(ChecklistError) as caught:
        read_script(text, "short.toml")
    assert f"key {key}" in str(caught.value)


def test_a_script_without_entries_says_how_to_write_one() -> None:
    with pytest.raises(ChecklistError, match="write each as"):
        read_script(HEAD, "short.toml")
