"""A fault of ours in the middle of a case: what the screen says, and what is kept for whoever mends it."""

from __future__ import annotations

import contextlib
import time
import traceback
from pathlib import Path


def noted(folder: Path | None, fault: Exception) -> str:
    """Write the fault to ``faults.log`` beside the ledger, if there is a folder, and give the line for the screen."""
    if folder is not None:
        with contextlib.suppress(OSError), (folder / "faults.log").open("a", encoding="utf-8") as log:
            log.write(f"{time.strftime('%Y-%m-%dT%H:%M:%S%z')} {''.join(traceback.format_exception(fault))}\n")
    kind = type(fault).__name__
    return f"fault in the program: use paper unless the last press is SAVED ({kind})"
