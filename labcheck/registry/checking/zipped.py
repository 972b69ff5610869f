"""Checking a data package that was packed into one zip file: unpacked beside nothing, looked at, and thrown away."""

from __future__ import annotations

import zipfile
import zlib
from collections.abc import Callable, Iterator
from pathlib import Path, PurePosixPath
from tempfile import TemporaryDirectory

from labcheck.checklist.complaint import shown
from labcheck.registry.checking.finding import Finding
from labcheck.registry.checking.tables import DESCRIPTOR
from labcheck.registry.errors import ExportError

MOST_FILES = 1000


def check_zip(path: Path, largest: int, check: Callable[[Path], Iterator[Finding]]) -> list[Finding]:
    """Everything wrong with the package inside; ``largest``: bytes it may unpack to (a small zip can hold much)."""
    try:
        with zipfile.ZipFile(path) as packed, TemporaryDirectory() as temporary:
            folder = _unpacked(packed, Path(temporary), path, largest)
            return list(check(folder / DESCRIPTOR))
    except (zipfile.BadZipFile, zipfile.LargeZipFile, NotImplementedError, RuntimeError, EOFError, zlib.error) as fault:
        return [Finding("", f"is a damaged or locked zip file ({shown(str(fault))}); pack or copy it again")]
    except ValueError as fault:
        return [Finding("", f"is a damaged zip file ({shown(str(fault))}); pack or copy it again")]


def _unpacked(packed: zipfile.ZipFile, folder: Path, path: Path, largest: int) -> Path:
    """The files that lie beside the descriptor, unpacked under their bare names."""
    found = [one for one in packed.infolist() if not one.is_dir()]
    homes = [PurePosixPath(one.filename).parent for one in found if one.filename.split("/")[-1] == DESCRIPTOR]
    if len(homes) != 1:
        raise ExportError(
            f"{path}: holds {len(homes)} data packages; unpack it and check its files one by one"
        )
    inside = [one for one in found if PurePosixPath(one.filename).parent == homes[0]]
    if len(inside) > MOST_FILES or sum(one.file_size for one in inside) > largest:
        raise ExportError(f"{path}: unpacks to more than {largest >> 20} MiB; unpack it and check the folder")
    for one in inside:
        with packed.open(one) as source:
            (folder / PurePosixPath(one.filename).name).write_bytes(source.read(largest))
    return folder
