"""The README's first command, tried on an installed program: ``python -m tests.first_command PROGRAM``.

Starts the rehearsal of an installed wheel in a real pseudo-terminal, waits for its first stage, takes the keys
and leaves. Not collected by pytest: it wants an environment of its own, which ``.ci/run`` makes.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from tests.terminal.harness import Terminal


def main() -> int:
    """0 when the rehearsal opened, played, handed the keys over and ended with status 0."""
    program = sys.argv[1]
    with (
        tempfile.TemporaryDirectory() as folder,
        # Away from the source tree, so that only what was installed can be found.
        Terminal([program, "rehearse", "--ledger", f"{folder}/ledger"], cwd=Path(folder)) as terminal,
    ):
        terminal.wait_for("REHEARSAL", patience=60)
        terminal.wait_for("STEPS Time-out", patience=60)
        terminal.press("escape")
        terminal.wait_for("you have the keys")
        terminal.pump(0.5)
        terminal.press("ctrl+q")
        terminal.wait_for("quit the program")
        terminal.press("1")
        status = terminal.status()
    print(f"the README's first command: the rehearsal opened and ended with status {status}")
    return status or 0


if __name__ == "__main__":
    sys.exit(main())
