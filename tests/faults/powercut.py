"""Cutting the power after every operation of a recorded run.

The workload runs once under strace. Its operations are replayed onto a model of a disk in which a write is only
certain once its file was synced, and a name (created, renamed, removed) only once its folder was. After each
operation the power is cut, and what was uncertain is dropped, kept, or torn in sectors of 512 bytes.

Assumed: a sync tells the truth. Stricter than most file systems: syncing a file does not make its name durable.
The shared-memory file is left out; SQLite builds it anew.
"""

from __future__ import annotations

import random
import re
import shutil
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from tests.faults.invariants import Tally, judge
from tests.faults.tracing import traced

SECTOR = 512
CALLS = (
    "open,openat,pwrite64,write,ftruncate,fdatasync,fsync,unlink,unlinkat,rename,renameat,renameat2,"
    "link,mkdir,mkdirat"
)
_LINE = re.compile(r"^\d+\s+(\w+)\((.*)\)\s+= (-?\d+)")
_FD = re.compile(r"^\d+<([^>]*)>")
_TEXT = re.compile(r'"((?:\\x[0-9a-f]{2})*)"(\.\.\.)?')


@dataclass(frozen=True, slots=True)
class Operation:
    """One recorded call. ``path`` (and ``to``) relative to the ledger's folder; ``line`` of output for ``say``."""

    name: str
    path: str
    data: bytes = b""
    at: int = 0
    to: str = ""


def record(folder: Path, log: Path, presses: int) -> list[Operation]:
    """Run the workload once and return what it did to its folder, and what it said, in order."""
    run = traced(folder, "straight", presses, log, "-y", "-xx", "-s", "1000000", "-e", f"trace={CALLS}")
    if run.returncode != 0 or "done" not in run.stdout:
        raise RuntimeError(f"the workload failed: {run.stderr[-500:]}")
    operations = [op for line in log.read_text().splitlines() for op in _parse(line, str(folder))]
    if sum(op.name == "say" for op in operations) != run.stdout.count("\n"):
        raise RuntimeError("the record misses lines of the workload's output")
    return operations


def _parse(line: str, folder: str) -> Iterator[Operation]:
    if "<unfinished" in line or " resumed>" in line:
        raise RuntimeError(f"two threads at once cannot be replayed: {line[:120]}")
    found = _LINE.match(line)
    if found is None or found[3].startswith("-"):
        return
    name, arguments, result = found[1], found[2], int(found[3])
    if name in ("pwrite64", "write") and '"...' in arguments:
        raise RuntimeError(f"a write that was not recorded whole cannot be replayed: {line[:120]}")
    texts = [bytes.fromhex(text.replace("\\x", "")) for text, _ in _TEXT.findall(arguments)]
    holder = _FD.match(arguments)
    held = _relative(_unhex(holder[1]), folder) if holder else None
    if name == "write" and arguments.startswith("1<"):
        yield Operation("say", "", texts[0][:result])
    elif name in ("open", "openat") and "O_CREAT" in arguments:
        path = _relative(texts[0].decode(), folder)
        if path is not None:
            yield Operation("create", path)
    elif name == "pwrite64" and held is not None:
        yield Operation("write", held, texts[0][:result], at=int(arguments.rsplit(", ", 1)[1]))
    elif name == "write" and held is not None:
        raise RuntimeError(f"a write without a place cannot be replayed: {line[:120]}")
    elif name == "ftruncate" and held is not None:
        yield Operation("truncate", held, at=int(arguments.rsplit(", ", 1)[1]))
    elif name in ("fdatasync", "fsync") and held is not None:
        yield Operation("sync", held)
    else:
        yield from _names(name, [_relative(text.decode(), folder) for text in texts])


def _names(name: str, paths: list[str | None]) -> Iterator[Operation]:
    if not paths or paths[0] is None:
        return
    if name in ("unlink", "unlinkat"):
        yield Operation("unlink", paths[0])
    elif name.startswith("rename") and paths[1] is not None:
        yield Operation("rename", paths[0], to=paths[1])
    elif name.startswith("mkdir"):
        yield Operation("mkdir", paths[0])


def _relative(path: str, folder: str) -> str | None:
    path = path.removesuffix("(deleted)")
    if path == folder:
        return "."
    return path[len(folder) + 1 :] if path.startswith(folder + "/") else None


def _unhex(text: str) -> str:
    return bytes.fromhex(text.replace("\\x", "")).decode() if text.startswith("\\x") else text


@dataclass
class Inode:
    """A file's certain bytes and the changes that are not certain yet, in order."""

    sure: bytes = b""
    pending: list[Operation] = field(default_factory=list)

    def now(self) -> bytes:
        """What the running program sees."""
        return _applied(self.sure, self.pending)

    def after_cut(self, how: str, chance: random.Random) -> bytes:
        """What may be found when the power is back."""
        if how == "kept":
            return self.now()
        if how == "dropped":
            return self.sure
        content = bytearray(self.sure)
        for change in self.pending:
            if change.name == "truncate":
                if chance.random() < 0.5:
                    content = bytearray(_applied(bytes(content), [change]))
                continue
            for start in range(0, len(change.data), SECTOR):
                if chance.random() < 0.5:
                    piece = Operation("write", "", change.data[start : start + SECTOR], change.at + start)
                    content = bytearray(_applied(bytes(content), [piece]))
        return bytes(content)


def _applied(content: bytes, changes: list[Operation]) -> bytes:
    data = bytearray(content)
    for change in changes:
        end = change.at + len(change.data)
        if len(data) < end:
            data.extend(bytes(end - len(data)))
        if change.name == "truncate":
            del data[change.at :]
        else:
            data[change.at : end] = change.data
    return bytes(data)


class Disk:
    """Names and files as the program sees them, and as they are certain to be."""

    def __init__(self) -> None:
        self.names: dict[str, Inode | None] = {}
        self.sure_names: dict[str, Inode | None] = {}
        self.pending: list[tuple[str, str, Inode | None]] = []
        self.said: list[str] = []

    def do(self, op: Operation) -> None:
        """Carry one operation out."""
        if op.name == "say":
            self.said.append(op.data.decode())
        elif op.name == "create" and op.path not in self.names:
            self._name("set", op.path, Inode())
        elif op.name == "mkdir":
            self._name("set", op.path, None)
        elif op.name == "unlink":
            self._name("remove", op.path, None)
        elif op.name == "rename":
            self._name("set", op.to, self.names[op.path])
            self._name("remove", op.path, None)
        elif op.name in ("write", "truncate"):
            self._file(op.path).pending.append(op)
        elif op.name == "sync":
            self._sync(op.path)

    def _file(self, path: str) -> Inode:
        found = self.names[path]
        assert found is not None
        return found

    def _name(self, what: str, path: str, inode: Inode | None) -> None:
        self.pending.append((what, path, inode))
        _rename(self.names, (what, path, inode))

    def _sync(self, path: str) -> None:
        inode = None if path == "." else self.names.get(path)
        if inode is not None:
            inode.sure, inode.pending = inode.now(), []
            return
        here = [change for change in self.pending if _folder(change[1]) == path]
        for change in here:
            _rename(self.sure_names, change)
        self.pending = [change for change in self.pending if change not in here]

    def cut(self, into: Path, how: str, chance: random.Random) -> None:
        """Write out what is found after the power comes back."""
        names = dict(self.sure_names)
        some = {"kept": len(self.pending), "dropped": 0}.get(how, chance.randint(0, len(self.pending)))
        for change in self.pending[:some]:
            _rename(names, change)
        into.mkdir(mode=0o700)
        for path, inode in sorted(names.items()):
            if path.endswith("-shm"):
                continue
            target = into / path
            target.parent.mkdir(mode=0o700, exist_ok=True)
            if inode is None:
                target.mkdir(mode=0o700, exist_ok=True)
            else:
                target.write_bytes(inode.after_cut(how, chance))
                target.chmod(0o600)


def _rename(names: dict[str, Inode | None], change: tuple[str, str, Inode | None]) -> None:
    what, path, inode = change
    if what == "set":
        names[path] = inode
    else:
        names.pop(path, None)


def _folder(path: str) -> str:
    return path.rpartition("/")[0] or "."


def sweep(operations: list[Operation], *, every: int, torn: int, seed: int = 1) -> Tally:
    """Cut the power after every ``every``-th operation: dropped, kept, and ``torn`` times in random sectors."""
    tally = Tally()
    disk = Disk()
    memory = Path("/dev/shm")
    with tempfile.TemporaryDirectory(dir=memory if memory.is_dir() else None) as scratch:
        for number, op in enumerate(operations):
            disk.do(op)
            # What a press acknowledged changes everything: those moments are never left out.
            if number % every and op.name != "say":
                continue
            acknowledged = {
                int(line.split()[1]): line.split()[2] for line in disk.said if line.startswith("ack")
            }
            for how in ("dropped", "kept", *("torn",) * torn):
                place = Path(scratch) / "cut"
                disk.cut(place, how, random.Random(f"{seed} {number} {tally.tried}"))
                what = f"cut after operation {number} ({op.name} {op.path}), {how}"
                judge(place, acknowledged, tally, what, extra=1)
                shutil.rmtree(place)
    return tally
