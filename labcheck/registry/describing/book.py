"""The section on ``codebook.csv``: its columns and its kinds of line."""

from __future__ import annotations

from labcheck.registry.codebook import COLUMNS, KINDS


def book() -> str:
    """What each column and each kind of the codebook is."""
    lines = [
        "## The codebook",
        "",
        "`codebook.csv`, described by `codebook.schema.json`. Key: `checklist_id`, `kind`, `within`, `id`.",
        "",
        "| column | meaning |",
        "|---|---|",
        *(f"| `{name}` | {says} |" for name, says in COLUMNS.items()),
        "",
        "| kind | the id is, and stands in |",
        "|---|---|",
        *(f"| `{name}` | {says} |" for name, says in KINDS.items()),
        "",
    ]
    return "\n".join(lines)
