# SPDX-License-Identifier: GPL-3.0-or-later
"""Where the command's output goes: files that fill up, pipes that close, readers of
JSON and CSV that are not ours."""

import csv
import io
import json
import os
import signal
import subprocess
import sys

from plant import program

CHECK = [program("evensoak"), "check", "--config", "conf/demo.ini"]


def run(*more, **how):
    how.setdefault("stdout", subprocess.PIPE)
    return subprocess.run([*CHECK, *more], stdin=subprocess.DEVNULL,
                          stderr=subprocess.PIPE, text=True, timeout=20, check=False,
                          **how)


def full_disk_is_noticed():
    with open("/dev/full", "w", encoding="ascii") as full:
        done = run(stdout=full)
    assert done.returncode == 3, done
    assert "cannot write the output" in done.stderr, done


def closed_pipe_is_noticed():
    for ignored in (False, True):
        reader, writer = os.pipe()
        os.close(reader)
        done = run(stdout=writer, restore_signals=not ignored)
        os.close(writer)
        # Python ignores SIGPIPE; restore_signals gives the child the usual way back.
        assert done.returncode == (3 if ignored else -signal.SIGPIPE), (ignored, done)


def other_readers_understand_it():
    document = json.loads(run("--format", "json").stdout)
    rows = list(csv.DictReader(io.StringIO(run("--format", "csv").stdout, newline="")))
    assert document["ok"] is True
    assert len(rows) == len(document["blocks"]) > 0
    for row, block in zip(rows, document["blocks"]):
        assert row == {key: str(value) for key, value in block.items()}, (row, block)


def colour_only_on_a_terminal():
    assert "\033[" not in run().stdout
    assert "\033[" in run("--color=always").stdout
    for no_color, coloured in (("", True), ("1", False)):
        terminal, side = os.openpty()
        done = run(stdout=side, env={**os.environ, "NO_COLOR": no_color})
        os.close(side)
        seen = os.read(terminal, 65536)
        os.close(terminal)
        assert done.returncode == 0, done
        assert (b"\033[" in seen) == coloured, (no_color, seen)


def main():
    for check in (full_disk_is_noticed, closed_pipe_is_noticed,
                  other_readers_understand_it, colour_only_on_a_terminal):
        print(check.__name__)
        check()
    return 0


if __name__ == "__main__":
    sys.exit(main())
