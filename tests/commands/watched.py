"""Run jobnotes as its own program does, and write down what the process asks of the system.

    python watched.py LOG ARGUMENT…

Each line of LOG is one event of Python's audit hooks as JSON: a file opened for writing, a folder made, a
file moved or removed, a program started, anything with a socket. A socket's use is refused besides.
"""

from __future__ import annotations

import json
import os
import sys
from typing import Any

SEEN = {
    "os.mkdir",
    "os.rename",
    "os.remove",
    "os.rmdir",
    "os.link",
    "os.symlink",
    "os.chmod",
    "os.utime",
    "os.truncate",
    "shutil.copyfile",
    "shutil.move",
    "sqlite3.connect",
    "subprocess.Popen",
    "os.system",
    "os.exec",
    "os.posix_spawn",
}
WRITES = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND


def main() -> None:
    log = os.open(sys.argv[1], os.O_WRONLY | os.O_CREAT | os.O_APPEND)

    def watch(event: str, args: tuple[Any, ...]) -> None:
        if event == "open":
            path, _, flags = args
            if not isinstance(path, int) and isinstance(flags, int) and flags & WRITES:
                os.write(log, f"{json.dumps([event, os.path.abspath(os.fsdecode(path))])}\n".encode())
        elif event.startswith("socket.") or event in SEEN:
            told = [os.fsdecode(a) if isinstance(a, str | bytes | os.PathLike) else repr(a) for a in args]
            os.write(log, f"{json.dumps([event, *told])}\n".encode())
            if event.startswith("socket.") and event not in ("socket.gethostname", "socket.__new__"):
                raise PermissionError(f"{event}: this program may not use the network")

    sys.addaudithook(watch)
    del sys.argv[1]
    sys.argv[0] = "jobnotes"
    from jobnotes.commands import main as jobnotes

    jobnotes()


if __name__ == "__main__":
    main()
