"""Faults at the border of the kernel: every system call by which a process changes files passes through here.

A child process asks the kernel (seccomp, "user notification") to hold each such call until this process
has said what becomes of it: it goes on, it fails with an error, half of it is done, or the process is killed
before it. What SQLite and zip libraries write is held just as what the tool's own code writes, and nothing
in the tool knows of it. Linux on x86-64 only (`available`); numbers of calls and constants are those of the
kernel's own headers (`asm/unistd_64.h`, `linux/seccomp.h`, `linux/filter.h`, `linux/audit.h`), from memory,
and `test_kernel.py` would fail were one wrong.
"""

from __future__ import annotations

import contextlib
import ctypes
import errno
import fcntl
import gc
import os
import platform
import select
import shutil
import signal
import socket
import struct
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Literal

_CALLS = {
    1: "write", 2: "open", 18: "write", 20: "write", 40: "write", 74: "sync", 75: "sync", 76: "truncate",
    77: "truncate", 82: "rename", 83: "mkdir", 84: "unlink", 85: "open", 86: "link", 87: "unlink", 88: "link",
    90: "chmod", 91: "chmod", 257: "open", 258: "mkdir", 263: "unlink", 264: "rename", 265: "link",
    266: "link", 268: "chmod", 285: "write", 296: "write", 316: "rename", 326: "write", 452: "chmod",
}  # fmt: skip
#: those whose first argument is a number of an open file; 40 and 326 copy into another one
_BY_FD = {1: 0, 18: 0, 20: 0, 40: 0, 74: 0, 75: 0, 77: 0, 91: 0, 285: 0, 296: 0, 326: 2}
#: which argument is the path that is changed, and which, if any, the folder that it is relative to
_BY_PATH = {
    2: (0, None), 76: (0, None), 82: (1, None), 83: (0, None), 84: (0, None), 85: (0, None), 86: (1, None),
    87: (0, None), 88: (1, None), 90: (0, None), 257: (1, 0), 258: (1, 0), 263: (1, 0), 264: (3, 2),
    265: (3, 2), 266: (2, 1), 268: (1, 0), 316: (3, 2), 452: (1, 0),
}  # fmt: skip
_RENAMED_FROM = {82: (0, None), 264: (1, 0), 316: (1, 0)}
_WHOLE_WRITES = {1: None, 18: 3}  # write, and pwrite with its place

#: what a full disk refuses
NEED_ROOM = ("open", "write", "mkdir", "rename", "link")

_ARCH, _SECCOMP = 0xC000003E, 317
_PR_SET_NO_NEW_PRIVS, _SET_MODE_FILTER, _NEW_LISTENER = 38, 1, 1 << 3
_RECEIVE, _SEND, _CONTINUE = 0xC0502100, 0xC0182101, 1
_ALLOW, _NOTIFY = 0x7FFF0000, 0x7FC00000
_LD, _JEQ, _JSET, _RET = 0x20, 0x15, 0x45, 0x06
_OPEN_TO_CHANGE = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC

What = Literal["kill", "torn", "error", "errors", "power cut", "power cut, names too"]


@dataclass(frozen=True, slots=True)
class Call:
    """One change of a file that a process was about to make; `path` is within the folder that is watched."""

    what: str
    path: str
    number: int


@dataclass(frozen=True, slots=True)
class Fault:
    """What happens at the change number `at` (from 0). "errors": from there on, as of a disk that is full."""

    what: What
    at: int
    error: int = 0


@dataclass(slots=True)
class Watched:
    """How a watched process ended: its exit status, or minus the signal that ended it; what it changed, and
    what it wrote to its standard streams. After a power cut, `disk` is what was left of the folder."""

    status: int
    calls: list[Call] = field(default_factory=list)
    said: str = ""
    disk: Path | None = None


@lru_cache(maxsize=1)
def available() -> bool:
    """True where the kernel lets calls be held."""
    if not sys.platform.startswith("linux") or platform.machine() != "x86_64" or struct.calcsize("P") != 8:
        return False
    with tempfile.TemporaryDirectory() as name:
        probe = Path(name) / "probe"
        try:
            seen = watched(lambda: probe.write_bytes(b"x"), Path(name))
        except OSError:
            return False
        return seen.status == 0 and [call.what for call in seen.calls] == ["open", "write"]


def watched(
    act: Callable[[], object],
    folder: Path,
    fault: Fault | None = None,
    look: Callable[[Call, What, Path], object] | None = None,
) -> Watched:
    """Run `act` in a child process and hold each change that it makes below `folder`; `fault` is done to one.

    The child's own threads are held too. It must start no process of its own. SystemExit gives its status.
    `look`: see `moments`.
    """
    folder = folder.resolve()
    ours, theirs = socket.socketpair()
    with tempfile.TemporaryFile() as said:
        child = os.fork()
        if child == 0:
            _in_child(act, theirs, said.fileno())
        theirs.close()
        supervisor = _watch(ours, child, folder, fault, look)
        said.seek(0)
        text = said.read().decode("utf-8", "replace")
    return Watched(supervisor.status, supervisor.calls, text, supervisor.disk)


def moments(act: Callable[[], object], folder: Path, look: Callable[[Call, What, Path], object]) -> Watched:
    """Run `act` undisturbed, and show before each change what would be left were it struck there.

    For each change and each way of ending at it, `look` is given a copy of the folder as that would leave it,
    which it may take away. For a change that isn't a write there is no "torn".
    """
    return watched(act, folder, None, look)


def _watch(
    ours: socket.socket,
    child: int,
    folder: Path,
    fault: Fault | None,
    look: Callable[[Call, What, Path], object] | None,
) -> _Supervisor:
    _, fds, _, _ = socket.recv_fds(ours, 1, 1)
    ours.close()
    if not fds:
        os.waitpid(child, 0)
        raise OSError(errno.ENOSYS, "the kernel doesn't let calls be held")
    supervisor = _Supervisor(fds[0], child, folder, fault, look)
    try:
        supervisor.run()
    finally:
        os.close(fds[0])
    return supervisor


def _in_child(act: Callable[[], object], to_parent: socket.socket, said: int) -> None:
    status = 1
    gc.disable()  # it lives for a moment; collecting would copy the memory that it shares
    try:
        os.dup2(said, 1)
        os.dup2(said, 2)
        # whoever runs this may have put other streams in their place
        sys.stdout, sys.stderr = (os.fdopen(n, "w", encoding="utf-8", closefd=False) for n in (1, 2))
        try:
            listener = _hold_changes()
        except OSError:
            to_parent.send(b"-")
            os._exit(125)
        socket.send_fds(to_parent, [b"+"], [listener])
        os.close(listener)
        to_parent.close()
        act()
        status = 0
    except SystemExit as end:
        status = end.code if isinstance(end.code, int) else 1
    except BaseException:
        import traceback

        traceback.print_exc()
    finally:
        for stream in (sys.stdout, sys.stderr):
            with contextlib.suppress(OSError, ValueError):
                stream.flush()
        os._exit(status)


def _hold_changes() -> int:
    """From now on every call of `_CALLS` waits for whoever reads the number that is given back."""
    code: list[tuple[int, int, int, int]] = [(_LD, 0, 0, 4), (_JEQ, 1, 0, _ARCH), (_RET, 0, 0, _ALLOW)]
    code.append((_LD, 0, 0, 0))
    for number in _CALLS:
        if number in (2, 257):
            flags = 16 + 8 * (1 if number == 2 else 2)
            # not this call: go on behind the five that look at its flags
            code += [(_JEQ, 0, 4, number), (_LD, 0, 0, flags), (_JSET, 0, 1, _OPEN_TO_CHANGE)]
            code += [(_RET, 0, 0, _NOTIFY), (_RET, 0, 0, _ALLOW)]
        else:
            code += [(_JEQ, 0, 1, number), (_RET, 0, 0, _NOTIFY)]
    code.append((_RET, 0, 0, _ALLOW))
    raw = ctypes.create_string_buffer(b"".join(struct.pack("<HBBI", *line) for line in code))
    program = ctypes.create_string_buffer(struct.pack("<HxxxxxxQ", len(code), ctypes.addressof(raw)))
    libc = ctypes.CDLL(None, use_errno=True)
    if libc.prctl(_PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0):
        raise OSError(ctypes.get_errno(), "prctl")
    listener = libc.syscall(_SECCOMP, _SET_MODE_FILTER, _NEW_LISTENER, ctypes.byref(program))
    if listener < 0:
        raise OSError(ctypes.get_errno(), "seccomp")
    return int(listener)


#: Longer than anything that is held takes; it would hang for good where it was forked from a process whose
#: threads held a lock.
_HANGS_AFTER_S = 240.0


class _Supervisor:
    """Answers for the kernel until the child has ended."""

    def __init__(
        self,
        listener: int,
        child: int,
        folder: Path,
        fault: Fault | None,
        look: Callable[[Call, What, Path], object] | None,
    ) -> None:
        self._listener, self._child, self._folder, self._fault = listener, child, folder, fault
        self._look = look
        power = look is not None or (fault is not None and fault.what.startswith("power"))
        self._disk = _Disk(folder) if power else None
        self._dead = False
        self.calls: list[Call] = []
        self.status = 0
        self.disk: Path | None = None

    def run(self) -> None:
        child = os.pidfd_open(self._child)
        try:
            self._answer_until_it_ends(child)
        finally:
            os.close(child)

    def _answer_until_it_ends(self, child: int) -> None:
        poll = select.poll()
        poll.register(self._listener, select.POLLIN)
        poll.register(child, select.POLLIN)
        until = time.monotonic() + _HANGS_AFTER_S * (1 if self._look is None else 20)
        while not self._ended():
            if time.monotonic() > until:
                os.kill(self._child, signal.SIGKILL)
                os.waitpid(self._child, 0)
                raise TimeoutError(f"what is held hangs: it has not ended after {_HANGS_AFTER_S:.0f} s")
            events = poll.poll(1000)
            if not any(fd == self._listener and event & select.POLLIN for fd, event in events):
                continue
            asked = bytearray(80)
            try:
                fcntl.ioctl(self._listener, _RECEIVE, asked)
            except OSError:
                continue  # whoever asked is gone
            self._answer(asked)

    def _ended(self) -> bool:
        child, how = os.waitpid(self._child, os.WNOHANG)
        if child:
            self.status = os.waitstatus_to_exitcode(how)
        return bool(child)

    def _answer(self, asked: bytearray) -> None:
        number_of, pid, _, number, _, _, *values = struct.unpack("<QIIiIQ6Q", asked)
        path = None if self._dead else self._path(pid, number, values)
        failed = 0
        if path is not None:
            call = Call(_CALLS[number], path.relative_to(self._folder).as_posix(), len(self.calls))
            self.calls.append(call)
            if self._look is not None:
                self._show(self._look, call, path, (pid, number, values))
            failed = self._done_to(call, path, pid, number, values)
            if self._disk is not None and not failed and not self._dead:
                self._disk.will(call.what, path, self._from(pid, number, values))
        answer = struct.pack("<QqiI", number_of, 0, -failed, 0 if failed else _CONTINUE)
        with contextlib.suppress(OSError):  # it was killed while it waited
            fcntl.ioctl(self._listener, _SEND, answer)

    def _done_to(self, call: Call, path: Path, pid: int, number: int, values: list[int]) -> int:
        """The error that the call ends with, 0 if it goes on."""
        fault = self._fault
        if fault is None:
            return 0
        if fault.what == "errors":
            needs_room = fault.error != errno.ENOSPC or call.what in NEED_ROOM
            return fault.error if call.number >= fault.at and needs_room else 0
        if call.number != fault.at:
            return 0
        if fault.what == "error":
            return fault.error
        if fault.what == "torn" and number in _WHOLE_WRITES:
            _half(pid, number, values, Path(f"/proc/{pid}/fd/{values[0]}"))
        if self._disk is not None:
            self.disk = self._disk.after_a_power_cut(names_too=fault.what.endswith("too"))
        os.kill(self._child, signal.SIGKILL)
        self._dead = True
        return errno.EINTR

    def _show(
        self,
        look: Callable[[Call, What, Path], object],
        call: Call,
        path: Path,
        asked: tuple[int, int, list[int]],
    ) -> None:
        assert self._disk is not None
        ways: tuple[What, ...] = ("kill", "torn", "power cut", "power cut, names too")
        for what in ways:
            if what == "torn" and asked[1] not in _WHOLE_WRITES:
                continue
            if what.startswith("power"):
                left = self._disk.after_a_power_cut(names_too=what.endswith("too"))
            else:
                left = Path(tempfile.mkdtemp(prefix=f"{self._folder.name}-", dir=self._folder.parent))
                shutil.copytree(self._folder, left, dirs_exist_ok=True)
            onto = left / path.relative_to(self._folder)
            if what == "torn" and onto.exists():  # a file without a name is gone with its process
                _half(*asked, onto)
            look(call, what, left)
            shutil.rmtree(left, ignore_errors=True)

    def _path(self, pid: int, number: int, values: list[int]) -> Path | None:
        """What the call changes, if that lies in the folder."""
        try:
            if number in _BY_FD:
                name = os.readlink(f"/proc/{pid}/fd/{values[_BY_FD[number]]}").removesuffix(" (deleted)")
                path = Path(name)
            else:
                path = _named(pid, values, *_BY_PATH[number])
        except OSError:
            return None
        return path if path.is_relative_to(self._folder) else None

    def _from(self, pid: int, number: int, values: list[int]) -> Path | None:
        return _named(pid, values, *_RENAMED_FROM[number]) if number in _RENAMED_FROM else None


def _named(pid: int, values: list[int], at: int, beside: int | None) -> Path:
    with open(f"/proc/{pid}/mem", "rb", 0) as memory:
        memory.seek(values[at])
        raw = b""
        while b"\0" not in raw and len(raw) < 4096:
            # a page may be the last one that can be read
            raw += memory.read(256 - (values[at] + len(raw)) % 256)
    path = Path(os.fsdecode(raw.partition(b"\0")[0]))
    if not path.is_absolute():
        relative_to = values[beside] if beside is not None else 0xFFFFFFFF
        here = ctypes.c_int32(relative_to & 0xFFFFFFFF).value
        path = Path(os.readlink(f"/proc/{pid}/cwd" if here < 0 else f"/proc/{pid}/fd/{here}")) / path
    return Path(os.path.normpath(path))


def _half(pid: int, number: int, values: list[int], onto: Path) -> None:
    """Do the first half of a write in the place of the process, to the file `onto`."""
    fd, start, length = values[:3]
    place = _WHOLE_WRITES[number]
    with open(f"/proc/{pid}/mem", "rb", 0) as memory:
        memory.seek(start)
        content = memory.read(length // 2)
    with open(f"/proc/{pid}/fdinfo/{fd}") as info:
        told = dict(line.split(":", 1) for line in info.read().splitlines() if ":" in line)
    append = int(told["flags"], 8) & os.O_APPEND
    mine = os.open(onto, os.O_WRONLY)
    try:
        own = os.fstat(mine).st_size if append else int(told["pos"])
        os.pwrite(mine, content, own if place is None else values[place])
    finally:
        os.close(mine)


class _Disk:
    """What would be left of a folder if the power went now.

    A file's content lasts from the last time that it was synchronised; without that nothing of it does, and
    the file is empty. Names, too, may last only from the last time that their folder was synchronised
    (`names_too`); what a journalling file system does lies between these two ends.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._uids: dict[int, int] = {}
        self._next = 0
        self._content: dict[int, bytes] = {}
        self._names: dict[int, dict[str, int]] = {}
        self._folders: set[int] = set()
        self._root = self._uid(folder)
        for here, folders, files in os.walk(folder):
            for name in files:
                path = Path(here) / name
                self._content[self._uid(path)] = path.read_bytes()
            for name in folders:
                self._folders.add(self._uid(Path(here) / name))
        self._folders.add(self._root)
        for here, _, _ in os.walk(folder):
            self._names[self._uid(Path(here))] = self._listed(Path(here))

    def will(self, what: str, path: Path, source: Path | None) -> None:
        """The process is about to do this."""
        if what == "sync":
            self._sync(path)
        elif what == "unlink" or (what == "rename" and path != source):
            self._forget(path)

    def after_a_power_cut(self, *, names_too: bool) -> Path:
        """A new folder with what would be left."""
        target = Path(tempfile.mkdtemp(prefix=f"{self._folder.name}-", dir=self._folder.parent))
        if names_too:
            self._restore(self._root, target)
            return target
        for here, folders, files in os.walk(self._folder):
            there = target / Path(here).relative_to(self._folder)
            for name in folders:
                (there / name).mkdir()
            for name in files:
                path = Path(here) / name
                (there / name).write_bytes(self._content.get(self._uid(path), b""))
                shutil.copystat(path, there / name)
        return target

    def _restore(self, folder: int, target: Path) -> None:
        for name, uid in self._names.get(folder, {}).items():
            if uid in self._folders:
                (target / name).mkdir()
                self._restore(uid, target / name)
            else:
                (target / name).write_bytes(self._content.get(uid, b""))

    def _sync(self, path: Path) -> None:
        if path.is_dir():
            self._names[self._uid(path)] = self._listed(path)
        elif path.exists():
            self._content[self._uid(path)] = path.read_bytes()

    def _listed(self, folder: Path) -> dict[str, int]:
        for path in folder.iterdir():
            if path.is_dir():
                self._folders.add(self._uid(path))
        return {path.name: self._uid(path) for path in folder.iterdir()}

    def _forget(self, path: Path) -> None:
        """Its number may be given to another file, unless it has another name."""
        try:
            told = path.lstat()
        except OSError:
            return
        if path.is_dir() or told.st_nlink == 1:
            self._uids.pop(told.st_ino, None)

    def _uid(self, path: Path) -> int:
        number = path.lstat().st_ino
        if number not in self._uids:
            self._next += 1
            self._uids[number] = self._next
        return self._uids[number]


def every(calls: list[Call], most: int | None = None) -> Iterator[int]:
    """The numbers of the changes, all of them or `most` that are spread evenly, first and last among them."""
    count = len(calls)
    if most is None or count <= most:
        yield from range(count)
        return
    yield from sorted({round(at * (count - 1) / (most - 1)) for at in range(most)})
