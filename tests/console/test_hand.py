"""The guard against held and bouncing keys: what is taken, what is named, and in which order."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labcheck.caselog.stamps import Stamp
from labcheck.console.hand import BOUNCED, CHANGED, DELAY_S, HELD, HELD_S, MOVED_ON, READ_S, REPEAT_S, Kind
from labcheck.console.panels.panel import Press
from tests.console.keyboard import Keyboard, held

STAMP = Stamp(wall_us=1, off_s=0, tz="Etc/UTC", boot_us=1, mono_us=1, boot_id="boot-a")
KINDS: tuple[Kind, ...] = ("moves", "opens", "marks", "records", "calls")
CAREFUL: tuple[Kind, ...] = ("opens", "records")
"""Kinds of which one press too many does harm, or does where another thing came up."""
DELAYS = st.floats(DELAY_S + 0.01, HELD_S - 0.01)
REPEATS = st.lists(st.floats(0.01, 0.1), min_size=1, max_size=30)
"""How long keyboards wait before they repeat a key, and how fast they do (common practice, no source)."""

TYPED = st.lists(st.tuples(st.sampled_from("abcde"), st.floats(0, 0.2)), max_size=30)


class Room:
    """Every key of one kind; ``turning``: each press that is taken brings up something else."""

    def __init__(self, kind: Kind, *, turning: bool = False, bounce_s: float = 0.0) -> None:
        self.of = kind
        self.turning = turning
        self.bounce_s = bounce_s
        self.taken: list[tuple[str, float]] = []
        self.named: list[tuple[float, str]] = []
        self.pages = 0

    @property
    def standing(self) -> object:
        return self.pages

    def kind(self, press: Press) -> Kind:
        return self.of

    def act(self, press: Press) -> None:
        self.taken.append((press.key, press.at))
        self.pages += self.turning

    def not_taken(self, press: Press, why: str) -> None:
        self.named.append((press.at, why))


def played(room: Room, *keys: tuple[str, float]) -> Room:
    board = Keyboard(room)
    for key, at in keys:
        board.press(Press(key, key if len(key) == 1 else None, STAMP, at))
    board.rest()
    return room


@given(st.sampled_from(KINDS), st.booleans(), TYPED)
def test_a_key_other_than_the_one_before_is_always_taken_and_every_key_is_taken_or_named(
    kind: Kind, turning: bool, presses: list[tuple[str, float]]
) -> None:
    at, keys = 0.0, []
    for key, gap in presses:
        at += gap
        keys.append((key, at))
    room = played(Room(kind, turning=turning), *keys)
    different = [key for n, key in enumerate(keys) if n == 0 or keys[n - 1][0] != key[0]]
    taken = list(room.taken)
    assert set(different) - set(taken) == set()
    assert len(room.taken) + len(room.named) == len(keys)
    assert taken == sorted(taken, key=lambda one: one[1])  # in the order they were pressed


@given(st.sampled_from(CAREFUL), st.booleans(), DELAYS, REPEATS)
def test_a_held_key_is_taken_once(kind: Kind, turning: bool, delay: float, gaps: list[float]) -> None:
    if kind == "opens" and not turning:
        turning = True  # what only opens or says something may come twice where nothing changes
    times = held(0.0, delay, gaps)
    room = played(Room(kind, turning=turning), *(("1", at) for at in times))
    assert room.taken == [("1", 0.0)]
    assert len(room.named) == len(times) - 1


@given(st.sampled_from(KINDS), st.booleans(), st.floats(REPEAT_S + 0.01, 3.0))
def test_a_key_pressed_twice_is_taken_twice_each_with_its_own_time(kind: Kind, turning: bool, gap: float) -> None:
    room = played(Room(kind, turning=turning), ("1", 5.0), ("1", 5.0 + gap))
    if turning and gap < READ_S and kind in ("marks", "records", "calls"):
        assert room.named == [(5.0 + gap, CHANGED)]
    else:
        assert room.taken == [("1", 5.0), ("1", 5.0 + gap)]


def test_a_recording_key_that_brought_up_another_screen_is_not_used_there_while_it_may_be_held() -> None:
    for kind in KINDS[2:]:
        before, after = Room("opens"), Room(kind)
        board = Keyboard(before)
        board.press(Press("enter", None, STAMP, 0.0))
        board.place = after
        for at in (0.45, 1.2):
            board.press(Press("enter", None, STAMP, at))
        assert after.named == [(0.45, CHANGED)]
        assert after.taken == [("enter", 1.2)]


def test_a_key_that_bounces_where_something_else_came_up_is_not_used_on_it() -> None:
    for kind in KINDS:
        room = played(Room(kind, turning=True), ("1", 0.0), ("1", 0.06))
        assert room.named == [(0.06, BOUNCED)]


def test_keys_that_move_or_type_repeat_as_long_as_they_are_held() -> None:
    times = held(0.0, 0.5, [0.033] * 20)
    assert len(played(Room("moves"), *(("down", at) for at in times)).taken) == len(times)


def test_short_bursts_of_energy_are_taken_at_once() -> None:
    room = Room("records")
    board = Keyboard(room)
    for n, at in enumerate((0.0, 0.15, 0.34, 0.5), 1):
        board.press(Press("space", " ", STAMP, at))
        assert len(room.taken) == n


def test_a_press_that_is_looked_at_is_taken_before_a_different_key() -> None:
    room = Room("records")
    board = Keyboard(room)
    for key, at in (("space", 0.0), ("space", 0.4), ("f2", 0.45)):
        board.press(Press(key, None, STAMP, at))
    assert room.taken == [("space", 0.0), ("space", 0.4), ("f2", 0.45)]


def test_a_press_that_is_looked_at_is_named_if_the_screen_changes_meanwhile() -> None:
    room = Room("records")
    board = Keyboard(room)
    board.press(Press("space", " ", STAMP, 0.0))
    board.press(Press("space", " ", STAMP, 0.4))
    room.pages += 1
    board.rest()
    assert room.named == [(0.4, MOVED_ON)]


def test_the_core_hears_once_of_a_call_key_that_bounces() -> None:
    room = played(Room("calls", bounce_s=0.4), *(("enter", at) for at in held(0.0, 0.06, [0.033] * 30)))
    assert [at for _, at in room.taken] == [0.0, 0.06]
    room = played(Room("calls", bounce_s=0.4), *(("enter", at) for at in held(0.0, 0.5, [0.033] * 30)))
    assert room.taken == [("enter", 0.0)]
    assert {why for _, why in room.named} == {HELD, BOUNCED}


def test_a_key_used_for_something_else_is_not_used_again_while_it_is_held() -> None:
    room = Room("records")
    board = Keyboard(room)
    board.hand.saw(Press("enter", None, STAMP, 0.0))
    for at in held(0.5, 0.033, [0.033] * 30):
        board.press(Press("enter", None, STAMP, at))
    assert not room.taken


@pytest.mark.parametrize("gap", [0.13, 0.3, 0.6])
def test_the_same_digit_picks_in_one_list_after_the_other(gap: float) -> None:
    room = played(Room("opens", turning=True), ("2", 0.0), ("2", gap), ("2", 2 * gap))
    assert len(room.taken) == 3
