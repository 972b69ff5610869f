"""What the zones say at moments of a case."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labcheck.caselog.clockwords import clock_words, span_words
from labcheck.caselog.limit_words import tag
from labcheck.caselog.trace import TraceMark
from labcheck.checklist.reading import read_checklist
from labcheck.console.glyphs import NARROW, SLIM, TALL, WIDE, Face, spell
from labcheck.console.view import View
from labcheck.console.zones import figures, now, steps
from labcheck.console.zones.lanes import Scale, draw_lane
from labcheck.console.zones.trace import GUTTER
from tests.console.zones.drawing import SIZES, lines, reversed_text, screen, zone
from tests.console.zones.scenes import SCENES, driver, to_traverse, tries, view

SHIPPED = [
    read_checklist(path.read_bytes(), path.name)
    for path in sorted((Path(__file__).parents[3] / "checklists").glob("*.toml"))
]


def spelled(face: Face, text: str) -> list[str]:
    return ["".join(run.text for run in row).rstrip() for row in spell(face, text)]


def stands_in(drawn: list[str], wanted: list[str]) -> bool:
    """Whether the block letters stand somewhere in the rows, one under the other."""
    for top in range(len(drawn) - len(wanted) + 1):
        column = drawn[top].find(wanted[0].strip())
        while column >= 0:
            left = column - (len(wanted[0]) - len(wanted[0].lstrip()))
            if left >= 0 and all(
                drawn[top + n][left : left + len(row)] == row for n, row in enumerate(wanted)
            ):
                return True
            column = drawn[top].find(wanted[0].strip(), column + 1)
    return False


@pytest.mark.parametrize(
    ("size", "face"), [((80, 24), NARROW), ((120, 40), WIDE), ((200, 60), TALL)], ids=str
)
def test_stage_and_clock_stand_in_block_letters(size: tuple[int, int], face: Face) -> None:
    shown = SCENES["traverse"]()
    assert shown.stage_us is not None
    drawn = lines(shown, "now", size)
    assert stands_in(drawn, spelled(face, "TRAVERSE"))
    assert stands_in(drawn, spelled(face, span_words(shown.stage_us)))
    assert not stands_in(drawn, spelled(face, "LACERATE"))


def with_clock(shown: View, clock: str) -> View:
    """The view of a stage that has been open for "m:ss" or "h:mm:ss"."""
    us = 0
    for part in clock.split(":"):
        us = us * 60 + int(part) * 1_000_000
    return replace(shown, stage_us=us, big=None)


def in_block_letters(drawn: list[str], text: str) -> bool:
    return any(stands_in(drawn, spelled(face, text)) for face in (TALL, WIDE, NARROW, SLIM))


@pytest.mark.parametrize("clock", ["0:07", "12:34", "1:02:33"])
@pytest.mark.parametrize("size", [(80, 24), (120, 40), (200, 60)], ids=str)
def test_every_stage_of_every_shipped_checklist_fits_in_block_letters(size: tuple[int, int], clock: str) -> None:
    rescued = SCENES["lacerated"]()
    calm = SCENES["ready"]()
    for big in sorted({stage.big for checklist in SHIPPED for stage in checklist.stage}):
        for shown in (calm, rescued):
            drawn = lines(replace(with_clock(shown, clock), stage_big=big), "now", size)
            assert in_block_letters(drawn, big), (big, "\n".join(drawn))
            assert in_block_letters(drawn, clock), (big, "\n".join(drawn))


@pytest.mark.parametrize("size", [(40, 12), (50, 40), *SIZES], ids=str)
@pytest.mark.parametrize("scene", ["traverse", "lacerated"])
def test_a_quiet_stage_shows_the_time_of_day_beside_its_own_clock(scene: str, size: tuple[int, int]) -> None:
    shown = SCENES[scene]()
    assert shown.quiet
    later = replace(shown, now=shown.now.model_copy(update={"wall_us": shown.now.wall_us + 5_000_000}))
    before, after = lines(shown, "now", size), lines(later, "now", size)
    assert clock_words(shown.now) in "\n".join(before)
    assert clock_words(later.now) in "\n".join(after)
    assert clock_words(shown.now) not in "\n".join(lines(replace(shown, quiet=False), "now", size))
    if size[1] >= 24:
        loud = lines(replace(shown, quiet=False), "now", size)
        assert shown.stage_us is not None
        clock = span_words(shown.big.span.us if shown.big else shown.stage_us)
        assert in_block_letters(before, clock) == in_block_letters(loud, clock)
        assert in_block_letters(before, shown.stage_big) == in_block_letters(loud, shown.stage_big)


def test_the_result_of_the_attempt_comes_before_the_number_of_the_visit_where_both_have_no_room() -> None:
    case = driver()
    to_traverse(case)
    tries(case, 33, "failed")
    case.at(36)
    case.do("stage.open", stage="position", cusp="left", reason="test")
    case.at(37)
    case.do("stage.open", stage="traverse", cusp="left", reason="test")
    drawn = " ".join(line[44:62].strip() for line in lines(view(case), "now", (80, 24)))
    assert "attempt 1: did not cross energy off" in " ".join(drawn.split())


@pytest.mark.parametrize("name", ["DEPLOY", "LACERATE", "CORONARIES", "TRAVERSE"])
def test_the_name_of_the_large_clock_is_never_cut(name: str) -> None:
    shown = replace(SCENES["lacerated"](), stage_big=name)
    assert "SINCE LACERATION" in "\n".join(lines(shown, "now", (80, 24)))


def test_what_is_on_and_has_no_room_is_counted_in_words() -> None:
    case = driver()
    to_traverse(case)
    case.do("energy.on")
    for run in ("pacing", "cpr"):
        case.do("run.start", run=run)
    case.do("bailout.open", bailout="collapse")
    drawn = "\n".join(lines(view(case), "now", (80, 24)))
    assert "ENERGY ON" in drawn
    assert re.search(r"and \d more on|\d things on", drawn)
    assert not re.search(r"\+\d", drawn)


def test_the_cusp_is_in_block_letters_where_it_fits_and_in_reverse_beside_them_where_not() -> None:
    shown = SCENES["traverse"]()
    assert stands_in(lines(shown, "now", (120, 40)), spelled(WIDE, "LEFT"))
    assert " LEFT " in reversed_text(zone(shown, "now", (80, 24)))


@pytest.mark.parametrize("size", SIZES, ids=lambda s: f"{s[0]}x{s[1]}")
def test_the_clock_since_laceration_takes_the_place_and_is_named(size: tuple[int, int]) -> None:
    shown = SCENES["lacerated"]()
    assert shown.big is not None
    assert shown.stage_us is not None
    drawn = lines(shown, "now", size)
    assert "SINCE LACERATION" in "\n".join(drawn)
    if size != (80, 24):  # there the rescue and the compressions need the room
        assert f"stage {span_words(shown.stage_us)}" in "\n".join(drawn)
    if size == (120, 40):
        assert stands_in(drawn, spelled(WIDE, span_words(shown.big.span.us)))


def test_a_stage_name_that_fits_no_face_stands_in_capitals_in_reverse() -> None:
    shown = replace(SCENES["traverse"](), stage_big="MMMMMMMMMMMM")
    assert "M M M M M M M M M M M M" in reversed_text(now.render(shown, 80, 5))
    odd = replace(SCENES["traverse"](), stage_big="\u00c4RMEL")
    assert "\u00c4 R M E L" in reversed_text(now.render(odd, 120, 8))


def test_the_attempt_its_number_and_its_outcome_are_said() -> None:
    case = driver()
    to_traverse(case)
    assert "no attempt yet" in "\n".join(lines(view(case), "now"))
    tries(case, 33, "failed")
    assert "attempt 1: did not cross" in "\n".join(lines(view(case), "now"))
    case.do("energy.on")
    assert "attempt 2" in "\n".join(lines(view(case), "now"))


@pytest.mark.parametrize("size", SIZES, ids=lambda s: f"{s[0]}x{s[1]}")
def test_what_is_not_yet_true_stands_before_the_call(size: tuple[int, int]) -> None:
    drawn = "\n".join(lines(SCENES["ready"](), "next", size))
    assert '"All ready. Lacerating, left"' in drawn
    assert "NOT YET" in drawn
    assert "Pacing tested" in drawn
    assert "Dextrose connected" in drawn
    assert "Enter" in drawn


@pytest.mark.parametrize("size", SIZES, ids=lambda s: f"{s[0]}x{s[1]}")
def test_an_answer_to_the_last_press_is_never_pushed_out(size: tuple[int, int]) -> None:
    shown = SCENES["refused"]()
    assert shown.answer[:40] in reversed_text(zone(shown, "next", size))
    burning = replace(SCENES["traverse"](), answer="energy is on")
    assert "energy is on" in lines(burning, "next", size)[-1]


@pytest.mark.parametrize("size", SIZES, ids=lambda s: f"{s[0]}x{s[1]}")
def test_the_held_step_stays_in_sight_and_in_reverse_at_every_size(size: tuple[int, int]) -> None:
    shown = SCENES["time_out"]()
    for at, line in enumerate(shown.steps):
        held = reversed_text(zone(replace(shown, step_at=at), "steps", size))
        assert " ".join(held.split()).startswith(f"> {steps.state_word(line)}")
        assert line.step.say[:20] in held


def test_a_held_step_is_folded_rather_than_cut() -> None:
    shown = SCENES["time_out"]()
    long = next(n for n, line in enumerate(shown.steps) if len(line.step.say) > 45)
    held = reversed_text(steps.render(replace(shown, step_at=long), 50, 9))
    assert "".join(shown.steps[long].step.say.split()) in "".join(held.split())


def test_the_held_step_loses_no_word_at_any_width_that_has_room_for_it_in_two_rows() -> None:
    shown = SCENES["ready"]()
    tried = 0
    for width in range(40, 130):
        for at, line in enumerate(shown.steps):
            say = line.step.say
            # Two rows of so many columns hold every break between words.
            if line.state == "open" and len(say) + max(map(len, say.split())) <= 2 * (width - 2 - steps.WORD):
                held = reversed_text(steps.render(replace(shown, step_at=at), width, 12))
                assert "".join(say.split()) in "".join(held.split()), (width, say)
                tried += 1
    assert tried > 100


def test_the_reminder_is_one_line_and_absent_in_a_quiet_stage() -> None:
    ready = SCENES["ready"]()
    assert ready.prompt is not None
    assert "\n".join(lines(ready, "figures")).count("REMINDER") == 1
    assert "REMINDER" not in "\n".join(lines(replace(ready, quiet=True), "figures"))


def test_figures_at_a_level_come_first_where_not_all_fit() -> None:
    ready = replace(SCENES["ready"](), prompt=None)
    assert len(ready.figures) > 4
    pressing = [figure for figure in ready.figures if figure.level != "plain"]
    drawn = "\n".join(lines(ready, "figures", (80, 24)))
    assert pressing[0].words[:20] in drawn
    assert "more" in drawn


@pytest.mark.parametrize("size", SIZES, ids=lambda s: f"{s[0]}x{s[1]}")
def test_a_rehearsal_says_so_in_reverse_at_every_size(size: tuple[int, int]) -> None:
    assert " REHEARSAL " in reversed_text(zone(SCENES["ready"](), "head", size))


def test_the_head_of_a_quiet_stage_has_no_clock_and_stands_still() -> None:
    quiet = SCENES["traverse"]()
    later = replace(quiet, now=quiet.now.model_copy(update={"wall_us": quiet.now.wall_us + 61_000_000}))
    assert lines(quiet, "head") == lines(later, "head")
    assert "QUIET STAGE" in lines(quiet, "head")[0]


def test_the_trace_is_to_scale() -> None:
    shown = SCENES["ready"]()
    assert shown.trace is not None
    scale = Scale(shown.trace.end_us, 120 - GUTTER - 1)
    drawn = lines(shown, "trace")[1][GUTTER:]
    for bar in shown.trace.rows[0].bars:
        if scale.column(bar.to_us) - scale.column(bar.from_us) > 1:
            assert drawn[scale.column(bar.from_us)] == "["
    assert drawn.rstrip(" \u254e").endswith(">")


def test_the_scale_changes_only_between_round_lengths() -> None:
    lengths = [Scale(minutes * 60_000_000, 100).minutes for minutes in range(1, 200)]
    assert lengths == sorted(lengths)
    assert len(set(lengths)) < 12
    assert all(length >= minutes for length, minutes in zip(lengths, range(1, 200), strict=True))


def test_a_time_without_a_stage_shows_as_an_empty_stretch_with_its_length() -> None:
    case = driver()
    case.at(6)
    assert "no stage 6:00" in lines(view(case), "trace")[1]


@given(st.lists(st.integers(0, 100), max_size=30), st.integers(30, 120))
def test_the_order_of_marks_is_the_order_of_time(minutes: list[int], width: int) -> None:
    shown = SCENES["opened"]()
    letters = [chr(ord("A") + n) for n in range(26)]
    marks = [
        TraceMark(minute * 60_000_000, letters[n % 26], "", n + 1, False)
        for n, minute in enumerate(sorted(minutes))
    ]
    strip = draw_lane(shown.case, (), marks, Scale(100 * 60_000_000, width), False)
    drawn = "".join(piece.text for piece in strip.pieces()).replace(" ", "").replace("+", "")
    rest = iter(mark.letter for mark in marks)
    assert all(letter in rest for letter in drawn)


def test_tries_are_numbered_on_the_lane_of_their_cusp() -> None:
    drawn = lines(SCENES["ready"](), "trace")
    left = next(line for line in drawn if line.startswith("left"))
    right = next(line for line in drawn if line.startswith("right"))
    assert [word for word in left.split() if word[0].isdigit()] == ["1-", "2-", "3"]
    assert [word for word in right.split() if word[0].isdigit()] == ["1"]


def test_a_narrow_window_keeps_stage_clock_and_last_entry() -> None:
    drawn = screen(SCENES["lacerated"](), (50, 16))
    assert stands_in(drawn.split("\n"), spelled(WIDE, "2:16"))
    assert "Compressions on" in drawn


def test_a_case_without_a_stage_invents_no_clock() -> None:
    shown = SCENES["opened"]()
    assert shown.stage_us is None
    assert stands_in(lines(shown, "now"), spelled(WIDE, "-:--"))


@pytest.mark.parametrize("size", SIZES, ids=lambda s: f"{s[0]}x{s[1]}")
def test_a_killer_line_that_nobody_answered_stands_by_the_call_and_holds_nothing(
    size: tuple[int, int],
) -> None:
    shown = SCENES["time_out"]()
    drawn = lines(shown, "next", size)
    assert any(line.strip().startswith("OPEN  2 killer steps: Target cusps") for line in drawn)
    assert "Time out done. Sheath in" in reversed_text(zone(shown, "next", size))


@pytest.mark.parametrize("size", SIZES, ids=lambda s: f"{s[0]}x{s[1]}")
def test_what_is_on_is_said_whole_or_counted_but_never_cut_in_half(size: tuple[int, int]) -> None:
    shown = SCENES["lacerated"]()
    drawn = "\n".join(lines(shown, "now", size))
    assert ".." not in drawn
    assert ("BAILOUT CORONARY" in drawn and "COMPRESSIONS ON" in drawn) or " +" in drawn


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (200, 60)], ids=str)
@pytest.mark.parametrize("scene", ["ready", "traverse", "lacerated"])
def test_every_limit_among_the_figures_names_its_source_and_says_verify_locally(
    scene: str, size: tuple[int, int]
) -> None:
    shown = SCENES[scene]()
    drawn = " ".join(" ".join(lines(shown, "figures", size)).split())
    assert "verify locally" in drawn
    for figure in shown.figures:
        begun = " ".join(figure.words.split()[:3])
        if figure.source and begun in drawn:
            after = drawn[drawn.index(begun) :]
            assert tag(figure.source) in after, (figure.words, drawn)
    if shown.prompt is not None and shown.prompt.source and not shown.quiet:
        reminder = drawn[drawn.index("REMINDER") :]
        assert tag(shown.prompt.source) in reminder


def test_author_and_year_of_a_source_stay_together() -> None:
    ready = replace(SCENES["ready"](), prompt=None)
    for width in range(40, 90):
        drawn = figures.render(ready, width, 16).plain
        assert "\0" not in drawn
        for line in drawn.split("\n"):
            assert not line.rstrip().endswith(("Stecker", "Gurm")), (width, drawn)


def test_a_hold_that_waits_for_a_number_names_its_source_beside_it() -> None:
    case = driver()
    to_traverse(case)
    case.at(75)
    case.do("stage.open", stage="position", cusp="left", reason="test")
    expected = view(case)
    for size in SIZES:
        drawn = "\n".join(lines(expected, "next", size))
        assert "ACT 250 s or more" in drawn
        assert "(local)" in drawn
    assert "verify locally: I" in "\n".join(lines(expected, "next", (120, 40)))
