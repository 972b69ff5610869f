"""What is loaded, seen from outside: a fresh interpreter lists its modules after an import."""

from __future__ import annotations

import subprocess
import sys

import pytest

HEAVY = ("scipy", "numpy", "duckdb", "pydicom", "pandas", "matplotlib", "plotext", "hypothesis", "pytest")
PYDANTIC = {
    "pydantic", "pydantic_core", "annotated_types", "typing_extensions", "typing_inspection", "labcheck",
}  # fmt: skip
"""pydantic with what it brings, and ourselves."""


def loaded_by(statement: str) -> set[str]:
    """The top-level modules that an interpreter holds after ``statement``, less those of a bare start."""
    code = f"import sys\nbefore = set(sys.modules)\n{statement}\nprint('\\n'.join(set(sys.modules) - before))"
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    return {name.split(".")[0] for name in done.stdout.split()}


def third_party(modules: set[str]) -> set[str]:
    return {name for name in modules if name not in sys.stdlib_module_names and not name.startswith("_")}


@pytest.mark.parametrize("package", ["reference", "checklist", "caselog"])
def test_the_core_loads_no_third_party_but_pydantic(package: str) -> None:
    walk = (
        f"import importlib, pkgutil, labcheck.{package} as p\n"
        "for m in pkgutil.walk_packages(p.__path__, p.__name__ + '.'): importlib.import_module(m.name)"
    )
    assert third_party(loaded_by(walk)) <= PYDANTIC


@pytest.mark.parametrize("package", ["reference", "checklist", "caselog"])
def test_the_core_opens_no_socket_process_or_database(package: str) -> None:
    walk = (
        f"import importlib, pkgutil, labcheck.{package} as p\n"
        "for m in pkgutil.walk_packages(p.__path__, p.__name__ + '.'): importlib.import_module(m.name)"
    )
    assert not loaded_by(walk) & {"sqlite3", "subprocess", "multiprocessing", "http", "ssl"}


def test_the_console_starts_without_anything_heavy() -> None:
    loaded = loaded_by("import labcheck.cli, labcheck.commands.console, labcheck.console.app")
    assert "textual" in loaded
    assert not loaded & set(HEAVY)


def test_the_console_starts_without_debrief_and_registry() -> None:
    code = (
        "import sys, labcheck.cli, labcheck.commands.console, labcheck.console.app\n"
        "print([m for m in sys.modules if m.startswith(('labcheck.debrief', 'labcheck.registry'))])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    assert done.stdout.strip() == "[]"


def test_the_parser_alone_loads_neither_textual_nor_pydantic() -> None:
    assert not loaded_by("import labcheck.cli; labcheck.cli.parser()") & {
        "textual",
        "pydantic",
        "sqlite_utils",
    }
