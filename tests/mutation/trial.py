"""Trying mutants: run in a copy of the tree, one at a time, each in a forked process, no file being changed.

Which tests run a line is found out once, by tracing. A mutant inside a function is put into the running program by
giving the function its changed code; one outside is compiled in place of its module, in a process that has not
loaded the program yet.
"""

from __future__ import annotations

import argparse
import gc
import importlib.abc
import importlib.util
import itertools
import json
import os
import random
import signal
import sys
import threading
import time
from collections.abc import Callable, Iterable
from importlib.machinery import ModuleSpec, SourceFileLoader
from pathlib import Path
from types import CodeType, FrameType, FunctionType, ModuleType
from typing import Any

import hypothesis
import pydantic
import pytest

from tests.mutation.mutants import Mutant, mutants_of, mutated

PLAIN = ["-q", "-p", "no:cacheprovider", "-p", "no:xdist", "-p", "no:warnings"]
__all__ = ["hypothesis", "pydantic"]
"""Loaded before forking, so that no trial has to."""


class Traced:
    """A plugin: which lines of the files each test runs, and how long it took."""

    def __init__(self, files: Iterable[Path]) -> None:
        self.files = {str(f): str(f) for f in files}
        self.lines: dict[str, dict[int, set[str]]] = {f: {} for f in self.files}
        self.seconds: dict[str, float] = {}
        self._now = ""

    def _local(self, frame: FrameType, event: str, _: Any) -> Any:
        if event == "line":
            self.lines[frame.f_code.co_filename].setdefault(frame.f_lineno, set()).add(self._now)
        return self._local

    def _call(self, frame: FrameType, event: str, _: Any) -> Any:
        if frame.f_code.co_filename in self.files:
            return self._local(frame, "line", None)
        return None

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Any:
        self._now, begun = item.nodeid, time.process_time()
        sys.settrace(self._call)
        threading.settrace(self._call)
        try:
            return (yield)
        finally:
            sys.settrace(None)
            threading.settrace(None)
            self.seconds[item.nodeid] = time.process_time() - begun


class Failing:
    """A plugin: the first test that failed."""

    def __init__(self) -> None:
        self.first = ""
        self.all: list[str] = []

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed:
            self.first = self.first or report.nodeid
            self.all.append(report.nodeid)


class Chosen:
    """A plugin: only these tests, in this order. Naming each to pytest would collect its file once for each."""

    def __init__(self, tests: list[str]) -> None:
        self.place = {name: n for n, name in enumerate(tests)}

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        items[:] = sorted((i for i in items if i.nodeid in self.place), key=lambda i: self.place[i.nodeid])


class _InPlace(importlib.abc.MetaPathFinder):
    """Loads one module from changed code instead of its file."""

    def __init__(self, name: str, path: Path, code: CodeType) -> None:
        self.name, self.path, self.code = name, path, code

    def find_spec(self, fullname: str, path: Any, target: ModuleType | None = None) -> ModuleSpec | None:
        if fullname != self.name:
            return None
        code = self.code

        class Loader(SourceFileLoader):
            def get_code(self, fullname: str) -> CodeType:
                return code

        return importlib.util.spec_from_file_location(fullname, self.path, loader=Loader(fullname, str(self.path)))


def _codes(code: CodeType) -> Iterable[CodeType]:
    for part in code.co_consts:
        if isinstance(part, CodeType):
            yield part
            yield from _codes(part)


def swap(path: Path, tree: Any) -> int:
    """Give every living function of the file its changed code; how many were given one."""
    new = {(c.co_qualname, c.co_firstlineno): c for c in _codes(compile(tree, str(path), "exec"))}
    done = 0
    for thing in gc.get_objects():
        if isinstance(thing, FunctionType) and thing.__code__.co_filename == str(path):
            code = new.get((thing.__code__.co_qualname, thing.__code__.co_firstlineno))
            if code is not None and len(code.co_freevars) == len(thing.__code__.co_freevars):
                thing.__code__ = code
                done += 1
    return done


def forked(work: Callable[[], Any], limit_s: float) -> Any:
    """What the work gives, done in a process of its own; "timeout" or "crashed" if it gives nothing."""
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        os.setsid()
        nothing = os.open(os.devnull, os.O_RDWR)
        for stream in (0, 1, 2):
            os.dup2(nothing, stream)
        try:
            with os.fdopen(writer, "w") as out:
                json.dump(work(), out)
        finally:
            os._exit(0)
    os.close(writer)
    late = threading.Timer(limit_s, lambda: os.killpg(child, signal.SIGKILL))
    late.start()
    begun = time.monotonic()
    with os.fdopen(reader) as answer:
        said = answer.read()
    os.waitpid(child, 0)
    late.cancel()
    if said:
        return json.loads(said)
    return "timeout" if time.monotonic() - begun >= limit_s else "crashed"


def _trace(files: list[Path], tests: list[str]) -> dict[str, Any]:
    traced, failing = Traced(files), Failing()
    pytest.main([*PLAIN, *tests], plugins=[traced, failing])
    sound = {name: spent for name, spent in traced.seconds.items() if name not in failing.all}
    lines = {f: {n: sorted(t & set(sound)) for n, t in by.items()} for f, by in traced.lines.items()}
    return {"lines": lines, "seconds": sound, "failing": failing.all}


def _known(kept: Path, files: list[Path], tests: list[str]) -> dict[str, Any]:
    """What tracing found, kept in a file so that a second run on the same copy need not trace again."""
    known = json.loads(kept.read_text()) if kept.exists() else {"lines": {}, "seconds": {}, "failing": []}
    fresh = [f for f in files if str(f) not in known["lines"]]
    if fresh:
        found = forked(lambda: _trace(fresh, tests), 1800)
        if not isinstance(found, dict):
            sys.exit(f"finding out which test runs which line: {found}")
        known["lines"].update(found["lines"])
        known["seconds"].update(found["seconds"])
        known["failing"] = found["failing"]
        kept.write_text(json.dumps(known))
    return known


def _judge(tests: list[str]) -> dict[str, Any]:
    failing = Failing()
    files = sorted({name.partition("::")[0] for name in tests})
    status = pytest.main([*PLAIN, "-x", *files], plugins=[failing, Chosen(tests)])
    return {"status": int(status), "by": failing.first}


def _name(path: Path) -> str:
    name = ".".join(path.relative_to(Path.cwd()).with_suffix("").parts)
    return name.removesuffix(".__init__")


def _try_outside(path: Path, mutant: Mutant, tests: list[str], limit_s: float) -> Any:
    def work() -> dict[str, Any]:
        code = compile(mutated(path.read_text(), mutant.number), str(path), "exec")
        sys.meta_path.insert(0, _InPlace(_name(path), path, code))
        return _judge(tests)

    return forked(work, limit_s)


def _try_inside(path: Path, mutant: Mutant, tests: list[str], limit_s: float) -> Any:
    def work() -> dict[str, Any]:
        if swap(path, mutated(path.read_text(), mutant.number)) == 0:
            return {"status": -1, "by": "no function was found to change"}
        return _judge(tests)

    return forked(work, limit_s)


def _covering(known: dict[str, Any], path: Path, mutant: Mutant, longest_s: float, budget_s: float) -> list[str]:
    """The tests that run the mutant's line, the quickest first; outside functions, those that run any of the file."""
    by_line = known["lines"][str(path)]
    if mutant.inside:
        tests = set(by_line.get(str(mutant.line), ()))
    else:
        tests = {t for some in by_line.values() for t in some}
    seconds = known["seconds"]
    quick = sorted((t for t in tests if seconds.get(t, longest_s + 1) <= longest_s), key=lambda t: (seconds[t], t))
    spent = list(itertools.accumulate(seconds[t] for t in quick))
    return [t for t, so_far in zip(quick, spent, strict=True) if so_far <= budget_s]


def _verdict(answer: Any) -> tuple[str, str]:
    if isinstance(answer, str):
        return "killed", answer
    if answer["status"] == 0:
        return "survived", ""
    return ("killed", answer["by"]) if answer["status"] >= 1 else ("not tried", answer["by"])


def main() -> None:
    """Try them, and write a line of JSON for each."""
    asked = argparse.ArgumentParser()
    asked.add_argument("files", nargs="+")
    asked.add_argument("--tests", nargs="+", required=True)
    asked.add_argument("--sample", type=int, default=0)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--longest", type=float, default=1.0)
    asked.add_argument("--budget", type=float, default=30.0)
    asked.add_argument("--part", choices=("inside", "outside", "both"), default="both")
    asked.add_argument("--known", default="known.json")
    asked.add_argument("--only", nargs="*", default=[])
    chosen = asked.parse_args()
    files = [Path(f).resolve() for f in chosen.files]
    known = _known(Path(chosen.known), files, chosen.tests)
    for name in known["failing"]:
        print(f"left out, for it fails as it is: {name}")
    trials: list[tuple[Path, Mutant]] = []
    for path in files:
        found = mutants_of(path.read_text())
        if chosen.sample and len(found) > chosen.sample:
            found = random.Random(chosen.seed).sample(found, chosen.sample)
        if chosen.only:
            found = [m for m in found if f"{path.name}:{m.number}" in chosen.only]
        trials += [(path, m) for m in sorted(found, key=lambda m: m.number)]
    limits = (chosen.longest, chosen.budget)
    for path, mutant in [t for t in trials if not t[1].inside and chosen.part != "inside"]:
        _report(path, mutant, known, limits, _try_outside)
    if chosen.part == "outside":
        return
    pytest.main([*PLAIN, "--collect-only", "-qq", *chosen.tests])
    for path, mutant in [t for t in trials if t[1].inside]:
        _report(path, mutant, known, limits, _try_inside)


def _report(
    path: Path, mutant: Mutant, known: dict[str, Any], limits: tuple[float, float], attempt: Callable[..., Any]
) -> None:
    tests = _covering(known, path, mutant, *limits)
    if tests:
        planned = sum(known["seconds"][t] for t in tests)
        verdict, by = _verdict(attempt(path, mutant, tests, 10 + 5 * planned))
    else:
        verdict, by = "survived", "no test runs this line"
    place = str(path.relative_to(Path.cwd()))
    line = {"file": place, "number": mutant.number, "line": mutant.line, "what": mutant.what}
    with Path("trials.jsonl").open("a") as out:
        out.write(json.dumps({**line, "verdict": verdict, "by": by, "tests": len(tests)}) + "\n")


if __name__ == "__main__":
    main()
