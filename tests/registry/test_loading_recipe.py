"""The recipe of ``exports/`` for loading a package, run as it stands there, by a Python that knows nothing of ours."""

from __future__ import annotations

import re
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

from labcheck.registry.cells import inert
from labcheck.registry.exporting import export_case
from labcheck.registry.pseudonyms import Pseudonyms
from labcheck.registry.tables import ROWS
from tests.registry.telling import TOLD, everything, head, told

RECIPE = Path(__file__).parents[2] / "exports" / "loading-recipe.md"
KEY = Pseudonyms(bytes(range(32)))


def load(package: Path, database: Path, *more: str) -> subprocess.CompletedProcess[str]:
    (code,) = re.findall(r"```python\n(.*?)```", RECIPE.read_text(encoding="utf-8"), re.DOTALL)
    command = [sys.executable, "-I", "-S", "-c", code, str(package), str(database), *more]
    return subprocess.run(command, capture_output=True, text=True, check=False)


def counts(database: Path) -> dict[str, int]:
    with sqlite3.connect(database) as connection:
        return {name: connection.execute(f"SELECT count(*) FROM {name}").fetchone()[0] for name in ROWS}


@pytest.mark.parametrize("profile", ["hospital", "registry", "shifted"])
def test_a_package_loads_by_its_own_description_and_twice_is_once(profile: str, tmp_path: Path) -> None:
    folder = export_case(*everything(), ["csv"], tmp_path, profile=profile, pseudonyms=KEY)[0].parent
    database = tmp_path / "loaded.db"
    assert load(folder, database).returncode == 0
    first = counts(database)
    assert first["cases"] == 1
    assert first["events"] == len(everything()[0].log)
    assert load(folder, database).returncode == 0
    assert counts(database) == first


def test_what_was_taken_back_since_the_last_load_goes_away_and_the_log_keeps_it(tmp_path: Path) -> None:
    void = '[[entry]]\nat = "09:40:00"\ndo = "event.void"\ntarget = 5\nreason = "another patient"\n'
    database = tmp_path / "loaded.db"
    before = export_case(*everything(), ["csv"], tmp_path / "1", profile="hospital")[0].parent
    after = export_case(*told(head() + TOLD + void), ["csv"], tmp_path / "2", profile="hospital")[0].parent
    assert load(before, database).returncode == 0
    readings = counts(database)["readings"]
    assert load(after, database).returncode == 0
    assert counts(database)["readings"] == readings - 1
    with sqlite3.connect(database) as connection:
        assert connection.execute("SELECT kind, voided FROM events WHERE seq = 5").fetchall() == [
            ("reading.taken", 1)
        ]


def test_the_texts_come_out_as_they_were_typed(tmp_path: Path) -> None:
    case, stored = everything()
    folder = export_case(case, stored, ["csv"], tmp_path, profile="hospital")[0].parent
    assert load(folder, tmp_path / "loaded.db").returncode == 0
    with sqlite3.connect(tmp_path / "loaded.db") as connection:
        found = dict(connection.execute("SELECT seq, text FROM events WHERE text IS NOT NULL"))
    typed = {
        event.seq: inert(text)
        for event in case.log
        if (text := getattr(event.what, "text", None) or getattr(event.what, "note", None))
    }
    assert found == typed
    assert any(text.startswith(("=", "+", "'")) for text in typed.values())


def test_a_changed_file_and_a_rehearsal_are_not_loaded(tmp_path: Path) -> None:
    folder = export_case(*everything(), ["csv"], tmp_path, profile="hospital")[0].parent
    with (folder / "doses.csv").open("a") as file:
        file.write("x\r\n")
    assert "not the file that was exported" in load(folder, tmp_path / "a.db").stderr
    practice = export_case(*everything(real=False), ["csv"], tmp_path, profile="hospital")[0].parent
    assert "not cases" in load(practice, tmp_path / "b.db").stderr
    assert load(practice, tmp_path / "b.db", "--rehearsals").returncode == 0


def test_an_older_package_does_not_replace_a_newer_one(tmp_path: Path) -> None:
    more = '[[entry]]\nat = "09:40:00"\ndo = "note.write"\ntext = "more"\n'
    older = export_case(*everything(), ["csv"], tmp_path / "1", profile="hospital")[0].parent
    newer = export_case(*told(head() + TOLD + more), ["csv"], tmp_path / "2", profile="hospital")[0].parent
    database = tmp_path / "loaded.db"
    assert load(newer, database).returncode == 0
    before = counts(database)
    assert "older than what is loaded" in load(older, database).stderr
    assert counts(database) == before


@pytest.mark.parametrize(("first", "second"), [("hospital", "registry"), ("registry", "shifted")])
def test_two_profiles_are_not_loaded_into_one_database(first: str, second: str, tmp_path: Path) -> None:
    one, other = (
        export_case(*everything(), ["csv"], tmp_path / name, profile=name, pseudonyms=KEY)[0].parent
        for name in (first, second)
    )
    database = tmp_path / "loaded.db"
    assert load(one, database).returncode == 0
    before = counts(database)
    told_why = load(other, database).stderr
    assert f"the database holds cases of the {first} profile, this is {second}" in told_why
    assert counts(database) == before


def test_a_load_that_stops_leaves_nothing(tmp_path: Path) -> None:
    folder = export_case(*everything(), ["csv"], tmp_path, profile="hospital")[0].parent
    with (folder / "doses.csv").open("a") as file:
        file.write("x\r\n")
    assert load(folder, tmp_path / "a.db").returncode == 1
    with sqlite3.connect(tmp_path / "a.db") as connection:
        assert connection.execute("SELECT name FROM sqlite_master").fetchall() == []
