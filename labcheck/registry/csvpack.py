"""The tables as CSV with a data package descriptor: one folder, one file per table, any number of cases.

RFC 4180 with UTF-8 and, for spreadsheets that need it, a variant with a byte order mark. Rows are written as
cases come, so memory does not grow with their number.
"""

from __future__ import annotations

import csv
import hashlib
import io
import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any, BinaryIO

from labcheck import __version__
from labcheck.registry.cells import cell
from labcheck.registry.columns import Profile, Row
from labcheck.registry.profiles import text_columns, values
from labcheck.registry.tables import ROWS, Tables
from labcheck.registry.tableschema import table_columns, table_schema
from labcheck.registry.writing import Staged

BOM = b"\xef\xbb\xbf"
DESCRIPTOR = "datapackage.json"


class _Table:
    """One table on its way out, with its digest and size."""

    def __init__(self, name: str, file: BinaryIO, profile: Profile, *, excel: bool) -> None:
        self.name, self.file, self.profile, self.excel = name, file, profile, excel
        self.row = ROWS[name]
        self.columns = table_columns(self.row, profile)
        self.said = (profile,) if self.columns != self.row.columns(profile) else ()
        self.words = text_columns(self.row, profile)
        self.digest, self.size, self.count = hashlib.sha256(), 0, 0
        if excel:
            self._write(BOM)
        self._lines([self.columns])

    def add(self, rows: Iterable[Row]) -> None:
        """Append rows."""
        words = self.words
        cells = [
            [
                # Most cells are empty or an id, and a batch has millions of them.
                *(
                    "" if value is None else cell(value, text=name in words)
                    for name, value in values(row, self.profile).items()
                ),
                *self.said,
            ]
            for row in rows
        ]
        self.count += len(cells)
        self._lines(cells)

    def _lines(self, lines: Iterable[Iterable[str]]) -> None:
        text = io.StringIO(newline="")
        csv.writer(text).writerows(lines)
        self._write(text.getvalue().encode("utf-8"))

    def _write(self, data: bytes) -> None:
        self.digest.update(data)
        self.size += len(data)
        self.file.write(data)

    def resource(self) -> dict[str, Any]:
        """The table's entry in the descriptor."""
        return {
            "name": self.name,
            "path": f"{self.name}.csv",
            "title": (self.row.__doc__ or "").split("\n")[0],
            "format": "csv",
            "mediatype": "text/csv",
            "encoding": "utf-8-sig" if self.excel else "utf-8",
            "dialect": {"delimiter": ",", "quoteChar": '"', "doubleQuote": True, "header": True},
            "bytes": self.size,
            "hash": f"sha256:{self.digest.hexdigest()}",
            "schema": table_schema(self.row, self.profile),
        }


class CsvPackage:
    """A data package being written; nothing appears in the folder before the ``with`` block ends well."""

    def __init__(self, folder: Path, profile: Profile, *, excel: bool = False) -> None:
        self.folder, self.profile, self.excel = folder, profile, excel
        self.rehearsal = False
        self._staged = Staged(folder)

    def __enter__(self) -> CsvPackage:
        self._staged.__enter__()
        try:
            self._tables = [
                _Table(name, self._staged.create(f"{name}.csv"), self.profile, excel=self.excel)
                for name in ROWS
            ]
        except BaseException as error:
            self._staged.__exit__(type(error), error, error.__traceback__)
            raise
        return self

    def add(self, tables: Tables) -> None:
        """Append one case."""
        self.rehearsal = self.rehearsal or tables.frame.case.rehearsal
        for table in self._tables:
            table.add(tables.rows[table.name])

    def __exit__(self, kind: Any, error: Any, trace: Any) -> None:
        if kind is None:
            try:
                self._staged.put(DESCRIPTOR, self._descriptor())
            except BaseException as fault:
                self._staged.__exit__(type(fault), fault, fault.__traceback__)
                raise
        self._staged.__exit__(kind, error, trace)

    def paths(self) -> list[Path]:
        """The files of the package, the descriptor first."""
        return [self.folder / DESCRIPTOR, *(self.folder / f"{table.name}.csv" for table in self._tables)]

    def _descriptor(self) -> bytes:
        package = {
            "name": "labcheck-cases",
            "title": "REHEARSAL, not real cases" if self.rehearsal else "Leaflet modification cases",
            "version": "1",
            "labcheck": {
                "format": "labcheck-tables",
                "format_version": 1,
                "generator": {"name": "labcheck", "version": __version__},
                "profile": self.profile,
                "rehearsal": self.rehearsal,
                "rows": {table.name: table.count for table in self._tables},
            },
            "resources": [table.resource() for table in self._tables],
        }
        return (json.dumps(package, indent=1, ensure_ascii=False) + "\n").encode("utf-8")
