"""The folder a ledger lives in: private, local, with room left.

Write-ahead logging needs memory shared between the processes of one machine, and file locks that hold.
Network and user-space file systems give neither reliably, so they are refused.
"""

from __future__ import annotations

import os
import stat
from pathlib import Path

from labcheck.ledger.errors import UnsafePlace

DATABASE = "ledger.db"
ROOM_NEEDED = 16 * 1024 * 1024
"""Bytes that must be free at start: a live log tops out near 4 MiB, a long case needs well under 1 MiB."""

# fmt: off
SHARED_KINDS = frozenset({
    "9p", "afs", "beegfs", "ceph", "cifs", "coda", "davfs", "drvfs", "gfs", "gfs2", "glusterfs", "gpfs",
    "lustre", "ncp", "ncpfs", "nfs", "nfs4", "ocfs2", "prl_fs", "smb", "smb2", "smb3", "smbfs", "vboxsf",
    "virtiofs", "vmhgfs",
})
# fmt: on
LOCAL_FUSE = frozenset({"fuseblk", "fuse.fuse-overlayfs"})


def prepare_folder(folder: Path) -> Path:
    """Make or tighten the ledger's folder (0700) and return its real path.

    Raises ``UnsafePlace`` if it cannot be made, is not ours, or holds other files and is open to others.
    """
    try:
        fresh = not folder.exists()
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        folder = folder.resolve(strict=True)
        if fresh:
            sync_path(folder.parent)
        facts = folder.stat()
        if stat.S_IMODE(facts.st_mode) & 0o077:
            if not (folder / DATABASE).exists() and any(folder.iterdir()):
                raise UnsafePlace(f"{folder}: holds other files and is open to others; name an own folder")
            folder.chmod(0o700)
    except OSError as refused:
        raise UnsafePlace(f"{folder}: cannot be used as the ledger's folder ({refused.strerror})") from None
    if not os.access(folder, os.W_OK | os.X_OK):
        raise UnsafePlace(f"{folder}: not writable; choose another folder with --ledger")
    return folder


def demand_local(folder: Path) -> None:
    """Raise ``UnsafePlace`` on a network or user-space file system."""
    kind = file_system(folder)
    if kind is not None and is_shared(kind):
        raise UnsafePlace(
            f"{folder}: on a {kind} file system, where a ledger can be damaged; choose a local disk"
        )


def demand_room(folder: Path) -> None:
    """Raise ``UnsafePlace`` below 16 MiB of free space."""
    free = free_bytes(folder)
    if free < ROOM_NEEDED:
        raise UnsafePlace(
            f"{folder}: only {free // 1024 // 1024} MiB free, 16 needed; make room, use paper until then"
        )


def is_shared(kind: str) -> bool:
    """Is this kind of file system unfit for a ledger?"""
    if kind in LOCAL_FUSE:
        return False
    return kind in SHARED_KINDS or kind.startswith("fuse")


def free_bytes(folder: Path) -> int:
    """Bytes free for an ordinary user."""
    facts = os.statvfs(folder)
    return facts.f_bavail * facts.f_frsize


def file_system(folder: Path, mounts: str | None = None) -> str | None:
    """The file system type under a folder, or None where the platform does not say.

    ``mounts``: the text of /proc/self/mountinfo, read when not given.
    """
    if mounts is None:
        try:
            mounts = Path("/proc/self/mountinfo").read_text(encoding="utf-8", errors="surrogateescape")
        except OSError:
            return None
    best, kind = -1, None
    parts = folder.parts
    for line in mounts.splitlines():
        fields = line.split(" ")
        if "-" not in fields[6:]:
            continue
        point = Path(_unescape(fields[4])).parts
        # A later line over the same point hides the earlier one.
        if parts[: len(point)] == point and len(point) >= best:
            best, kind = len(point), fields[fields.index("-", 6) + 1]
    return kind


def _unescape(text: str) -> str:
    for code, letter in ((r"\040", " "), (r"\011", "\t"), (r"\012", "\n"), (r"\134", "\\")):
        text = text.replace(code, letter)
    return text


def private_file(path: Path, flags: int) -> int:
    """Open (and perhaps create) a file for us alone, whatever the umask; never through a link."""
    return os.open(path, flags | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_CLOEXEC", 0), 0o600)


def sync_path(path: Path) -> None:
    """fsync a file or folder by its path (never the live database: closing it would drop SQLite's locks)."""
    descriptor = os.open(path, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
