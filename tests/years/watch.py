# SPDX-License-Identifier: GPL-3.0-or-later
"""What the daemon takes, looked at from outside; and how long the test machine stood still."""

import contextlib
import multiprocessing
import os
import time

STALL_S = 0.010  # held up by more than this is written down
_LOOK_S = 0.005


def _stalls(path):
    """A process of its own that only sleeps: what it oversleeps, others were held up too."""
    with open(path, "w", encoding="ascii", buffering=1) as file:
        last = time.monotonic_ns()
        while os.getppid() != 1:
            time.sleep(_LOOK_S)
            now = time.monotonic_ns()
            if now - last > (_LOOK_S + STALL_S) * 1e9:
                file.write(f"{last} {now}\n")
            last = now


class Stalls:
    def __init__(self, path):
        self.path = path
        self._process = multiprocessing.Process(target=_stalls, args=(path,), daemon=True)
        self._process.start()

    def close(self):
        self._process.terminate()
        self._process.join()

    def spans(self):
        """[(from, to)] in nanoseconds of the monotonic clock."""
        with open(self.path, encoding="ascii") as file:
            return [tuple(map(int, line.split())) for line in file
                    if line.endswith("\n")]


def _file_size(path):
    try:
        return os.stat(path).st_size
    except FileNotFoundError:
        return 0


def _children(pid):
    """Processes that it has started and not seen the end of yet."""
    count = 0
    for task in os.listdir(f"/proc/{pid}/task"):
        with contextlib.suppress(FileNotFoundError):
            with open(f"/proc/{pid}/task/{task}/children", encoding="ascii") as file:
                count += len(file.read().split())
    return count


def process(pid):
    """Of a process: resident and anonymous bytes, descriptors, threads, children, CPU
    seconds."""
    with open(f"/proc/{pid}/smaps_rollup", encoding="ascii") as file:
        rows = dict(line.split(":", 1) for line in file.read().splitlines()[1:])
    with open(f"/proc/{pid}/stat", encoding="ascii") as file:
        ticks = file.read().rsplit(")", 1)[1].split()[11:13]
    return {"rss": int(rows["Rss"].split()[0]) * 1024,
            "anonymous": int(rows["Anonymous"].split()[0]) * 1024,
            "fds": len(os.listdir(f"/proc/{pid}/fd")),
            "threads": len(os.listdir(f"/proc/{pid}/task")),
            "children": _children(pid),
            "cpu_s": sum(map(int, ticks)) / os.sysconf("SC_CLK_TCK")}


def files(ledger):
    return {"ledger": _file_size(ledger), "wal": _file_size(ledger + "-wal")}


class Log:
    """Lines and bytes that came since the last look."""

    def __init__(self, path):
        self._path, self._place = path, 0

    def more(self):
        with open(self._path, "rb") as file:
            file.seek(self._place)
            new = file.read()
        self._place += len(new)
        return {"log_lines": new.count(b"\n"), "log_bytes": len(new)}
