"""The mutation check itself: which changes it makes, that it makes one at a time, and that they take effect."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

from tests.mutation.mutants import mutants_of, mutated
from tests.mutation.trial import swap

SOURCE = '''
"""A text."""
LIMIT = 3
__all__ = ["f"]

def f(a: int | None, b: int = 1) -> str | None:
    """Another text."""
    if a is None and b < LIMIT:
        return None
    found = [n for n in range(b) if n != a]
    return "code" if found else f"a sentence of {b} words"
'''


def changes() -> list[str]:
    return [mutant.what for mutant in mutants_of(SOURCE)]


@pytest.mark.parametrize(
    "change",
    ["3  ->  4", "a is None  ->  a is not None", "b < LIMIT  ->  b <= LIMIT", "a is None and b < LIMIT  ->  b < LIMIT",
     "n != a  ->  n == a", "for n in range(b) if n != a  ->  for n in range(b)", "'code'  ->  'codex'", "1  ->  0"],
)  # fmt: skip
def test_each_slip_is_offered_once(change: str) -> None:
    assert changes().count(change) == 1


def test_sentences_types_docstrings_and_lists_of_names_are_left_alone() -> None:
    alone = ("f'a sentence", "' words'", "'A text", "'Another", "'f'", "int | None", "str | None")
    assert not [what for what in changes() if what.startswith(alone)]


def test_only_what_is_run_when_the_function_is_called_lies_inside_it() -> None:
    outside = {mutant.what for mutant in mutants_of(SOURCE) if not mutant.inside}
    assert outside == {"3  ->  4", "3  ->  2", "1  ->  2", "1  ->  0"}


def test_every_mutant_is_one_sound_program_unlike_the_original_and_the_others() -> None:
    programs = [ast.unparse(mutated(SOURCE, mutant.number)) for mutant in mutants_of(SOURCE)]
    for program in programs:
        compile(program, "mutant", "exec")
    assert ast.unparse(ast.parse(SOURCE)) not in programs
    assert len(set(programs)) == len(programs)


def test_a_living_function_gets_the_changed_code(tmp_path: Path) -> None:
    path = tmp_path / "tried.py"
    path.write_text(SOURCE)
    room: dict[str, object] = {}
    exec(compile(SOURCE, str(path), "exec"), room)
    f = room["f"]
    assert callable(f)
    assert f(None, 5) == "code"
    number = next(m.number for m in mutants_of(SOURCE) if m.what == "'code'  ->  'codex'")
    assert swap(path, mutated(SOURCE, number)) == 1
    assert f(None, 5) == "codex"
