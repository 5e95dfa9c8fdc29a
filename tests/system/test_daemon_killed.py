# SPDX-License-Identifier: GPL-3.0-or-later
# Not under the sanitizers: who is killed tells no leak; others start and resume there.
"""The daemon killed with SIGKILL at 30 random instants of a running line.

A shot that was on file stays there, unchanged; none is there twice; numbers have no
hole; no sheet of the truth is two shots.

And killed in a line that is started again at once: who stands where was saved, so that
every sheet is one shot, and only those in flight at a kill are flagged.
"""

import os
import random
import sqlite3
import sys
import time

from plant import START, Plant, ns_of, wait_for

KILLS = 30
RESUMES, RESUME_RATE = 9, 100
LOGGER_START = 1 << 11  # flag: in flight when the logger started
SETTLE_S = 6  # a sheet that has left is in flight until its last readings came


def on_file(plant):
    """What another program can see in the ledger at this instant."""
    return {row["shot_no"]: row for row in plant.shots()}


def check_ledger(plant):
    with sqlite3.connect(plant.ledger) as db:
        assert db.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    numbers = [row["shot_no"] for row in plant.shots()]
    assert numbers == list(range(1, len(numbers) + 1)), numbers


def check_sheets(plant):
    """A sheet is seen whole by one run of the daemon, or in part by two."""
    starts = {}
    for row in plant.truth():
        if row["heat_start_at"]:
            starts[row["sheet"]] = ns_of(row["heat_start_at"])
    seen = {}
    for shot in plant.shots():
        if not shot["heat_start_at"] or shot["outcome"] == "partial":
            continue
        sheet = min(starts, key=lambda n: abs(starts[n] - shot["heat_start_at"]))
        if abs(starts[sheet] - shot["heat_start_at"]) < 20e9:
            seen.setdefault(sheet, []).append(shot["shot_no"])
    assert seen and all(len(numbers) == 1 for numbers in seen.values()), seen
    print(f"{len(seen)} of {len(starts)} sheets seen whole")
    assert len(seen) > len(starts) // 5  # each kill costs the three that are in hand


def now_ns(plant):
    """What the clock of line and daemon shows."""
    gone_ns = time.clock_gettime_ns(time.CLOCK_MONOTONIC) - int(
        plant.ready["clock-origin-ns"])
    return ns_of(START) + gone_ns * plant.rate


def kill_and_resume(plant, chance):
    """Runs it, and kills it again and again; from when to when nobody looked."""
    downs = []
    plant.start_daemon()
    for kill in range(RESUMES):
        time.sleep(chance.uniform(1.0, 7.0))
        killed = now_ns(plant)
        plant.stop_daemon(how=9)
        plant.start_daemon()
        wait_for("the next logger", lambda: plant.log("daemon.log").count(
            "device 'controller' answers") == kill + 2)
        downs.append((killed, now_ns(plant)))
    plant.wait_line()
    plant.stop_daemon()
    return downs


def in_flight(shot, downs):
    """Whether it stood in the machine, or had just left, when nobody looked."""
    begin = shot["loaded_at"] or shot["heat_start_at"] or 0
    return any(begin < up and down < shot["closed_at"] + SETTLE_S * 10**9
               for down, up in downs)


def resumed(chance, seed):
    with Plant(rate=RESUME_RATE, sheets=30, seed=seed) as plant:
        plant.start_line()
        downs = kill_and_resume(plant, chance)
        check_ledger(plant)
        shots = plant.shots()
        told = plant.query("SELECT count(*) AS n FROM event WHERE kind = 'resume'")[0]["n"]
        flagged = [shot for shot in shots if shot["flags"] & LOGGER_START]
        for shot in flagged:
            assert in_flight(shot, downs) or shot["shot_no"] <= 2, dict(shot)
        for shot in shots:
            if shot not in flagged:
                assert shot["outcome"] in ("complete", "startup") or (
                    "signals were missing" in shot["reason"]), dict(shot)
        # Those that were taken up again are whole, but for what nobody saw.
        whole = [shot for shot in flagged if shot["outcome"] in ("complete", "startup")]
        check_pairs(plant, shots)
        print(f"{len(shots)} shots, {len(downs)} kills, {told} resumed; {len(flagged)} in "
              f"flight, {len(whole)} of them whole")
        assert told > RESUMES * 2 // 3 and len(whole) > RESUMES // 2


def check_pairs(plant, shots):
    """Every sheet that went into the oven before the last one filed is one shot."""
    seen = [shot for shot in shots if shot["heat_start_at"] and shot["form_start_at"]]
    for shot in seen:
        near = [row for row in plant.truth() if row["form_start_at"] and abs(
            ns_of(row["form_start_at"]) - shot["form_start_at"]) < 60 * 10**9]
        assert len(near) == 1, (dict(shot), near)
        apart = abs(ns_of(near[0]["heat_start_at"]) - shot["heat_start_at"])
        assert apart < 60 * 10**9, (dict(shot), near)
    formed = [row for row in plant.truth() if row["form_start_at"]]
    assert len(formed) - 1 <= len(shots) <= len(formed) + 2, (len(shots), len(formed))


def killed_at_random(chance, seed):
    with Plant(rate=240, duration_s=36000, seed=seed) as plant:
        plant.start_line()
        kept, kills = {}, 0
        while kills < KILLS:
            plant.start_daemon()
            time.sleep(chance.uniform(0.2, 3.5))
            before = on_file(plant)
            time.sleep(chance.uniform(0.0, 0.05))
            plant.stop_daemon(how=9)
            kills += 1
            after = on_file(plant)
            for number, row in {**kept, **before}.items():
                assert after.get(number) == row, f"shot {number} is lost or changed"
            kept = after
        plant.start_daemon()
        time.sleep(2.0)
        plant.stop_daemon()
        print(f"{kills} kills, {len(kept)} shots on file before the last start")
        assert len(kept) > 20
        check_ledger(plant)
        plant.line.terminate()
        plant.line.wait(10)
        check_sheets(plant)


def main():
    seed = int(os.environ.get("EVENSOAK_SEED", "30"))
    print(f"seed {seed}")
    chance = random.Random(seed)
    killed_at_random(chance, seed)
    resumed(chance, seed)
    return 0


if __name__ == "__main__":
    sys.exit(main())
