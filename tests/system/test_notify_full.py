# SPDX-License-Identifier: GPL-3.0-or-later
"""The disk of the ledger is full: who has to make room is told while it is, and not once
more when the ledger takes the event afterwards."""

import os
import subprocess
import sys

from plant import Plant, wait_for
from test_daemon_trouble import fill

PROGRAM = """#!/bin/sh
cat >>{0}/told.new; mv {0}/told.new {0}/told
"""


def main():
    with Plant(rate=240, duration_s=10**6) as plant:
        disk = plant.path("disk")
        os.mkdir(disk)
        mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=12m", "tmpfs", disk],
                                 capture_output=True, check=False)
        if mounted.returncode != 0:
            print("no right to mount")
            return 77
        try:
            return tell_of(plant, disk)
        finally:
            subprocess.run(["umount", "-l", disk], check=False)


def tell_of(plant, disk):
    filler = os.path.join(disk, "filler")
    plant.ledger = os.path.join(disk, "ledger.db")
    plant._change = lambda text: text.replace("path = ledger.db", f"path = {plant.ledger}")
    plant._settings = (f"[notify]\nprogram = {plant.path('program')}\n"
                       "on = ledger_failing\n")
    with open(plant.path("program"), "w", encoding="ascii") as file:
        file.write(PROGRAM.format(plant.folder))
    os.chmod(plant.path("program"), 0o755)
    plant.start_line()
    plant.start_daemon()
    wait_for("the cursor", lambda: plant.query(
        "SELECT 1 FROM delivery WHERE stream = 'notice'"))
    fill(filler)
    wait_for("the call", lambda: os.path.exists(plant.path("told")), 60)
    told = plant.log("told")
    assert " - ledger_failing the ledger cannot be written: " in told, told
    assert told.count("\n") == 1, told
    assert not plant.query("SELECT 1 FROM event WHERE kind = 'ledger_failing'")
    os.remove(filler)
    wait_for("the event", lambda: plant.query(
        "SELECT 1 FROM event WHERE kind = 'ledger_failing'"), 30)
    wait_for("the cursor behind it", lambda: plant.query(
        "SELECT 1 FROM delivery WHERE stream = 'notice' AND change >="
        " (SELECT change FROM event WHERE kind = 'ledger_failing')"), 20)
    plant.stop_daemon()
    assert plant.log("told") == told
    return 0


if __name__ == "__main__":
    sys.exit(main())
