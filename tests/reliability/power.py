"""A disk that loses power: the system calls of a traced program replayed, with what was not flushed lost."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

CALLS = (
    "openat,close,write,pwrite64,lseek,fsync,fdatasync,ftruncate,rename,renameat,renameat2,"
    "unlink,unlinkat,link,linkat,mkdir,mkdirat,rmdir,sendto"
)
TRACER = (
    "strace",
    "-f",
    "--seccomp-bpf",
    "-xx",
    "-s",
    "300000",
    "-e",
    f"trace={CALLS}",
    "-e",
    "signal=none",
    "-o",
)

_LINE = re.compile(rb"(\d+) +(.*)")
_CALL = re.compile(rb"(\w+)\((.*)\) += (-?\d+)", re.DOTALL)
_TEXT = re.compile(rb'"((?:\\x[0-9a-f]{2})*)"')
#: The length of what a disk writes at once, in bytes.
SECTOR = 512


@dataclass
class File:
    """A file's content as programs see it, as it is on the disk, and the writes between."""

    seen: bytearray = field(default_factory=bytearray)
    kept: bytearray = field(default_factory=bytearray)
    # offset and data; -1 and a length: cut to it
    pending: list[tuple[int, bytes]] = field(default_factory=list)

    def write(self, offset: int, data: bytes) -> None:
        _put(self.seen, offset, data)
        self.pending.append((offset, data))

    def cut(self, length: int) -> None:
        _cut(self.seen, length)
        self.pending.append((-1, length.to_bytes(8, "big")))

    def flush(self) -> None:
        self.kept, self.pending = bytearray(self.seen), []

    def after(self, chance: Random | None) -> bytes:
        """The content after a power cut: what was flushed, and with `chance` some of the rest, in part torn."""
        if chance is None or not self.pending:
            return bytes(self.kept)
        left = bytearray(self.kept)
        for offset, data in self.pending:
            if chance.random() < 0.5:
                continue
            if offset < 0:
                _cut(left, int.from_bytes(data, "big"))
            else:
                torn = len(data) > SECTOR and chance.random() < 0.2
                _put(
                    left,
                    offset,
                    data[: SECTOR * chance.randrange(1, len(data) // SECTOR + 1)]
                    if torn
                    else data,
                )
        return bytes(left)


class Disk:
    """All files below one folder, and the names in each folder, seen and kept."""

    def __init__(self, root: Path) -> None:
        self.root = str(root)
        self.seen: dict[str, File | None] = {}  # None is a folder
        self.kept: dict[str, File | None] = {}
        # folder, "set" or "gone" and the name, what it names
        self.pending: list[tuple[str, str, File | None]] = []
        self._open: dict[int, tuple[str, File | None, int]] = {}

    def within(self, path: str) -> bool:
        """Whether a path is on this disk and precious: the index is made anew when it is lost."""
        return path == self.root or (
            path.startswith(self.root + "/") and "index.db" not in path
        )

    def name(self, path: str, given: File | None) -> None:
        self.seen[path] = given
        self.pending.append(("set", path, given))

    def forget(self, path: str) -> None:
        if path in self.seen:
            del self.seen[path]
            self.pending.append(("gone", path, None))

    def flush_folder(self, path: str) -> None:
        left = []
        for what, name, given in self.pending:
            if name.rpartition("/")[0] != path:
                left.append((what, name, given))
            elif what == "set":
                self.kept[name] = given
            else:
                self.kept.pop(name, None)
        self.pending = left

    def after(self, chance: Random | None) -> dict[str, bytes]:
        """Every file that is there after a power cut, by its path below the root."""
        names = dict(self.kept)
        for what, name, given in self.pending if chance else []:
            if chance and chance.random() < 0.5:
                if what == "set":
                    names[name] = given
                else:
                    names.pop(name, None)
        folders = {self.root, *(name for name, given in names.items() if given is None)}
        return {
            name[len(self.root) + 1 :]: given.after(chance)
            for name, given in names.items()
            if given is not None and name.rpartition("/")[0] in folders
        }

    def do(
        self,
        call: str,
        texts: list[str],
        *,
        raw: bytes,
        data: bytes,
        arguments: list[bytes],
        gave: int,
    ) -> bool:
        """Carry out a system call; gives whether anything on this disk changed."""
        if gave < 0:
            return False
        if call == "openat":
            return self._do_open(texts[0], raw, gave)
        if call == "close":
            self._open.pop(int(arguments[0]), None)
            return False
        if call in ("write", "pwrite64", "lseek", "ftruncate", "fsync", "fdatasync"):
            return self._do_file(call, int(arguments[0]), data, arguments, gave)
        inside = [path for path in texts if self.within(path)]
        if not inside:
            return False
        if call in ("unlink", "unlinkat", "rmdir"):
            self.forget(inside[-1])
        elif call in ("mkdir", "mkdirat"):
            self.name(inside[-1], None)
        elif call in ("link", "linkat"):
            self.name(texts[1], self.seen[texts[0]])
        elif call.startswith("rename"):
            moved = self.seen.get(texts[0])
            if self.within(texts[1]):
                self.name(texts[1], moved)
            self.forget(texts[0])
        return True

    def _do_open(self, path: str, raw: bytes, handle: int) -> bool:
        self._open.pop(handle, None)
        if not self.within(path):
            return False
        held = self.seen.get(path)
        if path not in self.seen and b"O_CREAT" in raw:
            held = File()
            self.name(path, held)
        if held is not None and b"O_TRUNC" in raw and held.seen:
            held.cut(0)
        self._open[handle] = (path, held, 0)
        return b"O_CREAT" in raw

    def _do_file(
        self, call: str, handle: int, data: bytes, arguments: list[bytes], gave: int
    ) -> bool:
        if handle not in self._open:
            return False
        path, held, place = self._open[handle]
        if call == "lseek":
            self._open[handle] = (path, held, gave)
            return False
        if held is None:
            if "sync" in call:
                self.flush_folder(path)
            return "sync" in call
        if call == "write":
            held.write(place, data[:gave])
            self._open[handle] = (path, held, place + gave)
        elif call == "pwrite64":
            held.write(int(arguments[-1]), data[:gave])
        elif call == "ftruncate":
            held.cut(int(arguments[1]))
        else:
            held.flush()
        return True


@dataclass(frozen=True)
class Moment:
    """A moment at which the power may go: how many answers were sent by then, and the disk as it is."""

    number: int
    call: str
    answers: tuple[str, ...]
    disk: Disk


def replayed(trace: Path, root: Path, given: dict[str, bytes]) -> Iterator[Moment]:
    """Every moment of a trace at which something on the disk changed or a visitor got an answer.

    `given` are the files, by path below the root, that were on the disk before.
    """
    disk, answers, number = Disk(root), [], 0
    for name, content in given.items():
        held = File(bytearray(content), bytearray(content))
        disk.seen[f"{root}/{name}"] = disk.kept[f"{root}/{name}"] = held
    for raw in _whole_calls(trace):
        found = _CALL.match(raw)
        if not found:
            continue
        call, inside, gave = found[1].decode(), found[2], int(found[3])
        quoted = _TEXT.findall(inside)
        if call == "sendto":
            sent = _bytes(quoted[0]) if quoted else b""
            if not sent.startswith(b"HTTP/1.1 303"):
                continue
            where = re.search(rb"Location: (\S+)", sent)
            answers.append(where[1].decode() if where else "")
        else:
            arguments = [one.strip() for one in _TEXT.sub(b"", inside).split(b",")]
            data = (
                _bytes(quoted[0]) if quoted and call in ("write", "pwrite64") else b""
            )
            texts = (
                [_bytes(text).decode("utf-8", "replace") for text in quoted]
                if not data
                else []
            )
            if not disk.do(
                call, texts, raw=inside, data=data, arguments=arguments, gave=gave
            ):
                continue
        number += 1
        yield Moment(number, call, tuple(answers), disk)


def _whole_calls(trace: Path) -> Iterator[bytes]:
    """The calls in the order in which they ended; those that another thread interrupted are put together."""
    begun: dict[bytes, bytes] = {}
    with open(trace, "rb") as lines:
        for line in lines:
            found = _LINE.match(line)
            if not found:
                continue
            process, said = found[1], found[2].rstrip()
            if said.endswith(b"<unfinished ...>"):
                begun[process] = said[: -len(b"<unfinished ...>")]
            elif said.startswith(b"<..."):
                yield begun.pop(process, b"") + said.partition(b"resumed>")[2]
            else:
                yield said


def _bytes(text: bytes) -> bytes:
    return bytes.fromhex(text.replace(b"\\x", b"").decode())


def _put(content: bytearray, offset: int, data: bytes) -> None:
    if len(content) < offset:
        content.extend(bytes(offset - len(content)))
    content[offset : offset + len(data)] = data


def _cut(content: bytearray, length: int) -> None:
    if length < len(content):
        del content[length:]
    else:
        content.extend(bytes(length - len(content)))
