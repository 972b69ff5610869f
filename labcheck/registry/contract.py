"""The export contract: every file of ``exports/`` that can be made from the code.

``python -m labcheck.registry.contract`` at the top of the repository writes them anew; a test fails when they
drift from the code.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from labcheck.checklist.reading import digest, read_checklist
from labcheck.registry.codebook import codebook, codebook_schema
from labcheck.registry.dictionary import data_dictionary
from labcheck.registry.document import document_schema, registry_schema
from labcheck.registry.example import example_files
from labcheck.registry.fhir.extensions import EXTENSIONS, definition
from labcheck.registry.tables import ROWS
from labcheck.registry.tableschema import table_schema

EXAMPLE_CHECKLIST = Path("checklists/electrosurgical.toml")
EXAMPLE_SCRIPT = Path("checklists/rehearsals/left-cusp-surgical.toml")
SECOND_SCRIPT = Path("checklists/rehearsals/right-then-left-bailout.toml")


def contract_files(top: Path) -> dict[str, bytes]:
    """Path within ``exports/`` and content of every generated file; ``top`` is the top of the repository."""
    texts = [(path.name, path.read_bytes()) for path in sorted((top / "checklists").glob("*.toml"))]
    checklists = [(read_checklist(text, name), digest(text)) for name, text in texts]
    example = example_files(top / EXAMPLE_CHECKLIST, top / EXAMPLE_SCRIPT, top / SECOND_SCRIPT)
    book = {"codebook.csv": codebook(checklists)}
    return {**description_files(), **book, **example}


def description_files() -> dict[str, bytes]:
    """The schemas and the data dictionary."""
    return {
        "labcheck-case.schema.json": _json(document_schema()),
        "labcheck-registry-case.schema.json": _json(registry_schema("registry")),
        "labcheck-registry-case-shifted.schema.json": _json(registry_schema("shifted")),
        "data-dictionary.md": data_dictionary().encode("utf-8"),
        "codebook.schema.json": _json(codebook_schema()),
        **{f"fhir/{one.name}.json": _json(definition(one)) for one in EXTENSIONS},
        **{f"tables/{name}.schema.json": _json(table_schema(row, "hospital")) for name, row in ROWS.items()},
    }


def _json(value: Any) -> bytes:
    return (json.dumps(value, indent=1, ensure_ascii=False) + "\n").encode("utf-8")


def write(top: Path) -> list[Path]:
    """Write the contract into the repository; for whoever changes the code, not for exports."""
    paths = []
    for name, data in contract_files(top).items():
        path = top / "exports" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
        paths.append(path)
    return paths


def main(arguments: Sequence[str]) -> int:
    """Write the contract below the folder named, or below the present one."""
    for path in write(Path(arguments[0] if arguments else ".")):
        print(path)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
