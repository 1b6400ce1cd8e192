"""The one file a backup is: a plain zip with a manifest that names each member and its SHA-256."""

from __future__ import annotations

import hashlib
import json
import re
import zipfile
import zlib
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from kb.history.trouble import BackupTrouble

#: The first word of the manifest: what kind of file this is.
FORMAT = "benchlore-backup-1"

MANIFEST = "manifest.json"

#: No entry or word list is larger, in bytes; the history may be.
MEMBER_LIMIT = 256 << 20

_NAME = re.compile(
    r"history\.db|[A-Za-z0-9_-]+\.toml|"
    r"entries(/\.kept)?(/(?!\.)[^/\\:\x00-\x1f\x7f\ud800-\udfff]{1,200}){1,5}"
)


@dataclass(frozen=True, slots=True)
class Manifest:
    """What a backup holds: when it was made (UTC), whose history, how many records, the last chain value."""

    made: str
    shop: str
    created: str
    records: int
    chain: str
    files: tuple[tuple[str, str], ...]


def is_member(name: str) -> bool:
    """Whether a file of this name, with slashes, belongs into a backup; no name leads out of the folder.

    >>> is_member("entries/no-light.md"), is_member("entries/../history.db"), is_member("/words.toml")
    (True, False, False)
    >>> is_member("entries/.kept/no-light-2026-03-01.md"), is_member("entries/.git/config")
    (True, False)
    """
    return _NAME.fullmatch(name) is not None


def pack(target: Path, members: Iterable[tuple[str, Path]], head: Manifest) -> Manifest:
    """Write the zip with these members, name and file, and the manifest: `head` with their SHA-256.

    Raises OSError.
    """
    files = []
    with zipfile.ZipFile(target, "x", zipfile.ZIP_DEFLATED, compresslevel=6) as out:
        for name, path in members:
            files.append((name, _add(out, name, path)))
        manifest = Manifest(head.made, head.shop, head.created, head.records, head.chain, tuple(files))
        text = json.dumps(
            {
                "format": FORMAT,
                "made": head.made,
                "shop": head.shop,
                "created": head.created,
                "records": head.records,
                "chain": head.chain,
                "files": dict(files),
            },
            indent=1,
        )
        out.writestr(_info(MANIFEST), text + "\n")
    return manifest


def unpack(file: Path, folder: Path) -> Manifest:
    """Write the members of a backup into an empty folder, each checked against the manifest.

    Raises BackupTrouble if the file is no backup or not as it was written, OSError if the disk fails.
    """
    try:
        with zipfile.ZipFile(file) as archive:
            manifest = _manifest(archive.read(_single(archive, MANIFEST)))
            names = [info.filename for info in archive.infolist()]
            if sorted(names) != sorted([MANIFEST, *(name for name, _ in manifest.files)]):
                raise ValueError("its members are not those of its manifest")
            for name, digest in manifest.files:
                if not is_member(name):
                    raise ValueError(f"the member {name[:80]!r} does not belong into a backup")
                if _extract(archive, name, folder / name) != digest:
                    raise ValueError(f"the member {name} is not as it was written")
            return manifest
    except (
        zipfile.BadZipFile,
        zlib.error,
        EOFError,
        KeyError,
        ValueError,
        TypeError,
        AttributeError,
        NotImplementedError,
        RuntimeError,
    ) as error:
        raise BackupTrouble(f"{file}: this is no sound backup ({error}); take another one") from error


def read_manifest(file: Path) -> Manifest | None:
    """What a backup says of itself, unchecked; None if there is none or it cannot be read."""
    try:
        with zipfile.ZipFile(file) as archive:
            return _manifest(archive.read(_single(archive, MANIFEST)))
    except (zipfile.BadZipFile, zlib.error, OSError, EOFError, LookupError, ValueError, TypeError, AttributeError,
            NotImplementedError, RuntimeError):  # fmt: skip
        return None


def _add(out: zipfile.ZipFile, name: str, path: Path) -> str:
    digest = hashlib.sha256()
    with open(path, "rb") as source, out.open(_info(name), "w", force_zip64=True) as member:
        while block := source.read(1 << 20):
            digest.update(block)
            member.write(block)
    return digest.hexdigest()


def _info(name: str) -> zipfile.ZipInfo:
    """A member with a fixed date, since a zip cannot tell the time of a computer whose clock is wrong."""
    info = zipfile.ZipInfo(name)
    info.compress_type = zipfile.ZIP_DEFLATED
    info.external_attr = 0o644 << 16
    return info


def _single(archive: zipfile.ZipFile, name: str) -> zipfile.ZipInfo:
    info = archive.getinfo(name)
    if info.file_size > MEMBER_LIMIT:
        raise ValueError("its manifest is too large")
    return info


def _manifest(raw: bytes) -> Manifest:
    content = json.loads(raw)
    if content["format"] != FORMAT:
        raise ValueError(f"its format is not {FORMAT}")
    return Manifest(
        str(content["made"]),
        str(content["shop"]),
        str(content["created"]),
        int(content["records"]),
        str(content["chain"]),
        tuple((str(name), str(digest)) for name, digest in content["files"].items()),
    )


def _extract(archive: zipfile.ZipFile, name: str, target: Path) -> str:
    limit = None if name == "history.db" else MEMBER_LIMIT
    digest, size = hashlib.sha256(), 0
    target.parent.mkdir(parents=True, exist_ok=True)
    with archive.open(name) as source, open(target, "xb") as out:
        while block := source.read(1 << 20):
            size += len(block)
            if limit is not None and size > limit:
                raise ValueError(f"the member {name} is larger than {limit} bytes")
            digest.update(block)
            out.write(block)
    return digest.hexdigest()
