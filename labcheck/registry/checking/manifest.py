"""Checking a batch by its manifest: every file named is there, with the size and digest it left with."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from labcheck.registry.checking.finding import Finding

INSIDE = re.compile(r"([A-Za-z0-9_-]{1,64}/)?[A-Za-z0-9_-]{1,64}(\.[a-z0-9]{1,8}){1,2}")


def check_manifest(path: Path, manifest: dict[str, Any]) -> Iterator[Finding]:
    """Everything wrong with what a manifest names."""
    try:
        files = [*manifest["files"], *(file for case in manifest["cases"] for file in case["files"])]
        named = [(str(file["path"]), int(file["bytes"]), str(file["sha256"])) for file in files]
        exported = int(manifest["counts"]["exported"])
    except (KeyError, TypeError, ValueError) as fault:
        yield Finding("", f"is not a manifest: {type(fault).__name__}: {fault}")
        return
    if exported != len(manifest["cases"]):
        yield Finding("counts", f"say {exported} cases, and {len(manifest['cases'])} are named")
    for name, size, digest in named:
        place = path.parent / name
        if not INSIDE.fullmatch(name) or not place.is_file():
            yield Finding(name, "is not there")
            continue
        data = place.read_bytes()
        if len(data) != size or hashlib.sha256(data).hexdigest() != digest:
            yield Finding(name, "is not the file that was exported: its size or SHA-256 differs")
