"""Network shares: on which kind of file system a folder lies, and whether its locks can be relied on.

Two programs that write to one database keep out of each other's way by locks of the file system. On a share these may
be taken and do nothing; then records that were acknowledged are lost (6 of 125 were, with two servers).
"""

from __future__ import annotations

from pathlib import Path

#: File systems that lie on another computer, by their names in Linux.
SHARED = frozenset(
    (
        "nfs",
        "nfs4",
        "cifs",
        "smb3",
        "smbfs",
        "9p",
        "afs",
        "ncpfs",
        "fuse.sshfs",
        "fuse.rclone",
        "fuse.davfs",
        "davfs",
    )
)
_MOUNTS = Path("/proc/self/mounts")


def share_under(folder: Path, mounts: Path = _MOUNTS) -> str:
    """The kind of network share that a folder lies on; empty for a disk of this computer, or where nothing tells."""
    try:
        lines = mounts.read_text("utf-8", "replace").splitlines()
        place = str(folder.resolve())
    except OSError:
        return ""
    found, kind = "", ""
    for line in lines:
        _, mounted, system, *_ = *line.split(" "), "", ""
        # \040 is a blank
        mounted = mounted.encode("latin-1", "replace").decode("unicode_escape")
        inside = place == mounted or place.startswith(mounted.rstrip("/") + "/")
        # of two at one place the later one lies on top
        if inside and len(mounted) >= len(found):
            found, kind = mounted, system
    return kind if kind in SHARED else ""
