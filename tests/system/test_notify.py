# SPDX-License-Identifier: GPL-3.0-or-later
"""A program of the plant's is run when a device falls silent, also over a kill of the daemon.

The program of [notify] is missing at first: status says so.  Then it is there, a device falls
silent, and the daemon is killed as the event is on file but nobody was told of it yet.
Meanwhile another process files a finding.  The next daemon tells both, once, in one call.
"""

import json
import os
import signal
import sqlite3
import sys

from plant import Plant, wait_for

RATE = 60
SCRIPT = "at 150 silent device=ovens for_s=100000\n"
PROGRAM = """#!/usr/bin/python3 -I
import json, os, sys
with open(FILE, "a") as file:
    held = [fd for fd in range(256)
            if fd != file.fileno() and os.path.exists(f"/proc/self/fd/{fd}")]
    json.dump({"held": held, "arguments": sys.argv[1:], "environment": dict(os.environ),
               "events": sys.stdin.read().splitlines()}, file)
    file.write("\\n")
"""


def told(plant):
    """What each call was given."""
    if not os.path.exists(plant.path("told")):
        return []
    return [json.loads(line) for line in plant.log("told").splitlines(True)
            if line.endswith("\n")]


def silent(plant):
    return plant.query("SELECT change, at, text FROM event WHERE kind = 'device_silent'")


def put_program(plant):
    with open(plant.path("new"), "w", encoding="ascii") as file:
        file.write(PROGRAM.replace("FILE", repr(plant.path("told"))))
    os.chmod(plant.path("new"), 0o755)
    os.rename(plant.path("new"), plant.path("program"))


def file_finding(plant, at):
    """As `evensoak close-shifts` does: in a process of its own."""
    with sqlite3.connect(plant.ledger, timeout=20) as db:
        db.execute(
            "INSERT INTO event (change, line, at, kind, text) SELECT 1 + max("
            "coalesce((SELECT max(change) FROM shot), 0), max(change)),"
            " (SELECT id FROM line WHERE name = 'line-3'), ?, 'finding',"
            " 'zone 3 gives nothing' FROM event", (at,))


def check_status(plant, code, text):
    done = {}

    def said():
        done["code"], done["out"], _ = plant.evensoak("status")
        return text in done["out"]
    wait_for(f"status to say '{text}'", said)
    assert code is None or done["code"] == code, done


def check_told(plant):
    (call,) = told(plant)
    events, environment = call["events"], call["environment"]
    # The daemon that was started anew has found the silence too: an event of its own.
    assert len(events) == len(set(events)) == len(silent(plant)) + 1, events
    assert " - device_silent device 'ovens' does not answer: " in events[0], events
    assert events[1].endswith(" line-3 finding zone 3 gives nothing"), events
    assert call["held"] == [0, 1, 2] and call["arguments"] == [], call
    assert set(environment) == {
        "PATH", "LANG", "EVENSOAK_SITE", "EVENSOAK_COUNT", "EVENSOAK_KIND", "EVENSOAK_LINE",
        "EVENSOAK_AT", "EVENSOAK_TEXT"}, environment
    assert environment["EVENSOAK_COUNT"] == str(len(events)), environment
    assert environment["EVENSOAK_KIND"] == "device_silent", environment
    assert environment["EVENSOAK_LINE"] == "", environment
    assert environment["EVENSOAK_TEXT"].startswith(
        f"{len(events)} events, the first: device 'ovens'"), environment


def main():
    with Plant(rate=RATE, duration_s=10**6, script=SCRIPT) as plant:
        plant._settings = f"[notify]\nprogram = {plant.path('program')}\n"
        plant.start_line()
        code, out, _ = plant.evensoak("check")
        assert code == 1 and "nobody will be notified" in out, out
        plant.start_daemon()
        check_status(plant, 1, "program' is not there")
        put_program(plant)
        code, out, _ = plant.evensoak("check")
        assert code == 0 and "device_silent, device_answers" in out, out
        wait_for("the silence", lambda: silent(plant), 30)
        plant.stop_daemon(signal.SIGKILL)
        assert told(plant) == []
        file_finding(plant, silent(plant)[0]["at"] + 10**9)
        plant.start_daemon()
        wait_for("the call", lambda: told(plant), 40)
        last = max(row["change"] for row in plant.query(
            "SELECT change FROM event WHERE kind IN ('device_silent', 'finding')"))
        wait_for("the cursor", lambda: plant.query(
            "SELECT 1 FROM delivery WHERE stream = 'notice' AND change >= ?", last))
        check_told(plant)
        plant.stop_daemon()
        check_told(plant)
        assert "nobody is told" in plant.log("daemon.log")


if __name__ == "__main__":
    sys.exit(main())
