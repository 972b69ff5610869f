"""Only two modules write to a database, and none of the known traps of the database library is stepped into."""

from __future__ import annotations

import re
from pathlib import Path

import labcheck

PACKAGE = Path(labcheck.__file__).parent
WRITERS = {"ledger/store.py", "ledger/schema.py"}
WRITING = re.compile(
    r"\.(insert|insert_all|upsert|upsert_all|delete_where|transform|create_table)\(|table\(.*\)\.(update|delete|drop)\("
    r"|\b(INSERT|REPLACE|DELETE|UPDATE|DROP|ALTER|CREATE|BEGIN|COMMIT|VACUUM|ATTACH)\s+[A-Za-z*]",
)
TRAPS = re.compile(
    r"replace=True|alter=True|recreate=True|\.transform\(|RETURNING|enable_wal|isolation_level=\"|autocommit=|"
    r"load_extension|\.atomic\("
)
DATABASE = re.compile(r"^\s*(import sqlite3|from sqlite_utils|import sqlite_utils)", re.MULTILINE)


def sources() -> dict[str, str]:
    return {
        str(path.relative_to(PACKAGE)): path.read_text(encoding="utf-8") for path in PACKAGE.rglob("*.py")
    }


def test_only_the_store_and_the_schema_write() -> None:
    guilty = [
        f"{name}:{text[: found.start()].count(chr(10)) + 1}: {found[0]}"
        for name, text in sources().items()
        if name not in WRITERS and DATABASE.search(text)
        for found in WRITING.finditer(text)
    ]
    assert guilty == []


def test_the_check_would_find_a_write() -> None:
    store = sources()["ledger/store.py"]
    assert DATABASE.search(store)
    assert len(WRITING.findall(store)) >= 4


def test_the_database_library_is_used_in_the_ledger_only() -> None:
    users = {name.split("/")[0] for name, text in sources().items() if DATABASE.search(text)}
    assert users <= {"ledger", "commands"}


def test_no_known_trap_is_stepped_into() -> None:
    found = [f"{name}: {trap[0]}" for name, text in sources().items() for trap in TRAPS.finditer(text)]
    assert found == []


def test_plug_ins_of_the_database_library_stay_out() -> None:
    for name, text in sources().items():
        for call in re.findall(r"\bDatabase\([^)]*\)", text):
            assert "execute_plugins=False" in call, f"{name}: {call}"
