"""The archive that a backup is: a plain zip with a manifest that names each member and its SHA-256."""

from __future__ import annotations

import hashlib
import json
import os
import zipfile
import zlib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from shutil import disk_usage

from kb.base.clock import stamp
from kb.history.copies.members import (
    MEMBER_LIMIT,
    OwnFiles,
    Unpackable,
    content,
    is_member,
)
from kb.history.trouble import BackupTrouble
from kb.history.verification import Verification

#: The first word of the manifest: what kind of file this is.
FORMAT = "benchlore-backup-1"

MANIFEST = "manifest.json"

#: The member that is the history itself.
HISTORY = "history.db"

#: How every SQLite file begins (https://www.sqlite.org/fileformat.html, 1.3.1).
SQLITE = b"SQLite format 3\0"


@dataclass(frozen=True, slots=True, kw_only=True)
class Manifest:
    """What a backup holds: when it was made (UTC), whose history, how many records, the last chain value.

    `files` are its members with their SHA-256, `left_out` the shop's own files that it does not hold, with the reason.
    """

    made: str
    shop: str
    created: str
    records: int
    chain: str
    files: tuple[tuple[str, str], ...] = ()
    left_out: tuple[tuple[str, str], ...] = ()

    @classmethod
    def of(cls, found: Verification, made: datetime) -> Manifest:
        """That of a history that was looked through, as yet without its files."""
        return cls(
            made=stamp(made),
            shop=found.shop,
            created=found.created,
            records=found.records,
            chain=found.chain,
        )


def pack(target: Path, history: Path, own: OwnFiles, head: Manifest) -> Manifest:
    """Write the zip with the history, the shop's own files and the manifest: `head` with what is in the zip.

    A file of the shop's own that cannot be read is left out and named. Raises OSError where the zip cannot be
    written.
    """
    files: list[tuple[str, str]] = []
    left_out = list(own.left_out)
    with zipfile.ZipFile(target, "x", zipfile.ZIP_DEFLATED, compresslevel=6) as out:
        files.append((HISTORY, _add(out, HISTORY, history)))
        for name, path in own.packed:
            # whole before it is begun in the zip, which takes nothing back
            copy = target.with_name("member")
            try:
                _copy(path, copy)
            except Unpackable as why:
                left_out.append((name, str(why)))
            else:
                files.append((name, _add(out, name, copy)))
        manifest = replace(head, files=tuple(files), left_out=tuple(left_out))
        out.writestr(_info(MANIFEST), _told(manifest))
    return manifest


def unpack(file: Path, folder: Path | None) -> Manifest:
    """Write the members of a backup into an empty folder, each checked against the manifest; None: only check them.

    Raises BackupTrouble if the file is no backup or not as it was written, OSError if the disk fails.
    """
    try:
        with zipfile.ZipFile(file) as archive:
            return _unpacked(archive, folder)
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
        raise BackupTrouble(
            f"{file}: this is no sound backup ({error}); take another one"
        ) from error


def _unpacked(archive: zipfile.ZipFile, folder: Path | None) -> Manifest:
    """Write the members out where there is a folder; ValueError with what makes it no sound backup."""
    names = _names(archive)
    manifest = _manifest(archive.read(_single(archive, MANIFEST)))
    listed = [MANIFEST, *(name for name, _ in manifest.files)]
    if sorted(names) != sorted(listed):
        raise ValueError("its members are not those of its manifest")
    if folder is not None:
        size = sum(info.file_size for info in archive.infolist())
        if size > disk_usage(folder).free:
            raise ValueError("unpacked it is larger than what the disk has room for")
    for name, digest in manifest.files:
        if not is_member(name):
            raise ValueError(f"the member {name[:80]!r} does not belong into a backup")
        if _extract(archive, name, folder and folder / name) != digest:
            raise ValueError(f"the member {name} is not as it was written")
    return manifest


def read_manifest(file: Path) -> Manifest | None:
    """What a backup says of itself, unchecked; None if there is none or it cannot be read."""
    try:
        with zipfile.ZipFile(file) as archive:
            _names(archive)
            return _manifest(archive.read(_single(archive, MANIFEST)))
    except (
        zipfile.BadZipFile,
        zlib.error,
        OSError,
        EOFError,
        LookupError,
        ValueError,
        TypeError,
        AttributeError,
        NotImplementedError,
        RuntimeError,
    ):
        return None


def _copy(path: Path, copy: Path) -> None:
    """Copy a file of the shop's own; raises Unpackable for what reading it meets, OSError for the copy."""
    with open(copy, "wb") as out:
        for block in content(path):
            out.write(block)


def _told(manifest: Manifest) -> str:
    """The manifest as it stands in the zip."""
    told = {
        "format": FORMAT,
        "made": manifest.made,
        "shop": manifest.shop,
        "created": manifest.created,
        "records": manifest.records,
        "chain": manifest.chain,
        "files": dict(manifest.files),
        "left_out": dict(manifest.left_out),
    }
    return json.dumps(told, indent=1) + "\n"


def _add(out: zipfile.ZipFile, name: str, path: Path) -> str:
    digest = hashlib.sha256()
    with (
        open(path, "rb") as source,
        out.open(_info(name), "w", force_zip64=True) as member,
    ):
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


def _names(archive: zipfile.ZipFile) -> list[str]:
    """The names of the members; raises ValueError for one that is packed otherwise, or whose place cannot be."""
    for info in archive.infolist():
        if (
            info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
            or info.header_offset < 0
        ):
            raise ValueError("its list of members is damaged")
    return archive.namelist()


def _single(archive: zipfile.ZipFile, name: str) -> zipfile.ZipInfo:
    info = archive.getinfo(name)
    if info.file_size > MEMBER_LIMIT:
        raise ValueError("its manifest is too large")
    return info


def _manifest(raw: bytes) -> Manifest:
    told = json.loads(raw)
    if told["format"] != FORMAT:
        raise ValueError(f"its format is not {FORMAT}")
    return Manifest(
        made=str(told["made"]),
        shop=str(told["shop"]),
        created=str(told["created"]),
        records=int(told["records"]),
        chain=str(told["chain"]),
        files=_pairs(told["files"]),
        left_out=_pairs(told.get("left_out", {})),
    )


def _pairs(told: Mapping[str, object]) -> tuple[tuple[str, str], ...]:
    return tuple((str(name), str(value)) for name, value in told.items())


def _extract(archive: zipfile.ZipFile, name: str, target: Path | None) -> str:
    """The SHA-256 of a member, which is written to the target if there is one."""
    limit = None if name == HISTORY else MEMBER_LIMIT
    digest, size = hashlib.sha256(), 0
    if target:
        target.parent.mkdir(parents=True, exist_ok=True)
    with (
        archive.open(name) as source,
        open(target or os.devnull, "xb" if target else "wb") as out,
    ):
        while block := source.read(1 << 20):
            if not size and name == HISTORY and not block.startswith(SQLITE):
                raise ValueError(f"the member {name} is no database")
            size += len(block)
            if limit is not None and size > limit:
                raise ValueError(f"the member {name} is larger than {limit} bytes")
            digest.update(block)
            out.write(block)
    return digest.hexdigest()
