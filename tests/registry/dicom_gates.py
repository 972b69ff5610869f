"""Two families of readers of DICOM structured reports that are not ours, and a store to send to."""

from __future__ import annotations

import shutil
import socket
import subprocess
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import pytest

TOOLS = ("dsrdump", "dsr2xml", "dciodvfy", "storescu", "storescp")


def need_tools() -> None:
    """Skip where the readers are not installed; in CI they are."""
    missing = [tool for tool in TOOLS if shutil.which(tool) is None]
    if missing:
        pytest.skip(f"{', '.join(missing)} not installed: apt-get install dcmtk dicom3tools")


def all_complaints(paths: Sequence[Path]) -> dict[Path, dict[str, list[str]]]:
    """What the readers say against many files; only files that one of them finds fault with are in it.

    dsrdump reads them all in one process and ends with an error if it refuses one; then each is asked for.
    """
    need_tools()
    done = subprocess.run(["dsrdump", *map(str, paths)], capture_output=True, check=False)
    refused = done.returncode != 0 or done.stdout.count(b"Cath Lab Procedure Log") < len(paths)
    found = {path: complaints(path, without=() if refused else ("dsrdump",)) for path in paths}
    return {path: said for path, said in found.items() if any(said.values())}


def complaints(path: Path, without: Sequence[str] = ()) -> dict[str, list[str]]:
    """What each reader says against a file; empty lists where it finds nothing wrong.

    dciodvfy is judged by the lines that begin with Error: its exit status stays 0 for some.
    """
    need_tools()
    found: dict[str, list[str]] = {}
    for tool in (tool for tool in ("dsrdump", "dsr2xml") if tool not in without):
        done = subprocess.run([tool, str(path)], capture_output=True, check=False)
        said = (done.stdout + done.stderr).decode("utf-8", "replace").splitlines()
        errors = [line for line in said if line.startswith(("E: ", "F: "))]
        found[tool] = (errors or [f"exit status {done.returncode}"]) if done.returncode else []
    done = subprocess.run(["dciodvfy", str(path)], capture_output=True, check=False)
    said = (done.stdout + done.stderr).decode("utf-8", "replace").splitlines()
    found["dciodvfy"] = [line for line in said if line.startswith("Error")]
    return found


@contextmanager
def store(folder: Path) -> Iterator[int]:
    """A storage provider on this machine; gives its port. What it accepts lies in the folder."""
    need_tools()
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = int(probe.getsockname()[1])
    provider = subprocess.Popen(
        ["storescp", "--output-directory", str(folder), "--exec-sync", str(port)],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        for _ in range(100):
            with socket.socket() as probe:
                if probe.connect_ex(("127.0.0.1", port)) == 0:
                    break
            time.sleep(0.05)
        yield port
    finally:
        provider.terminate()
        provider.wait(timeout=10)


def send(port: int, *paths: Path) -> subprocess.CompletedProcess[bytes]:
    """C-STORE files over one association."""
    command = ["storescu", "-v", "127.0.0.1", str(port), *map(str, paths)]
    return subprocess.run(command, capture_output=True, check=False)
