# SPDX-License-Identifier: GPL-3.0-or-later
"""The ledger's copies beside a daemon that runs: one made while the line is logged is sound,
is read from where nothing can be written, and put in the ledger's place gives no number
twice, whatever the store has.  And a ledger that is damaged where the daemon reads as it
starts: the sheets made meanwhile get into the one that is put there."""

import collections
import json
import os
import re
import shutil
import sqlite3
import subprocess
import sys

import influx
from plant import Plant, wait_for

LINE_S = 6 * 3600  # the line runs for longer than is looked at
DAY = ("--from", "2026-03-02T00:00", "--to", "2026-03-03T00:00")


def shots_of(path):
    """(number, instant) of every shot in a file that nobody writes."""
    with sqlite3.connect(f"file:{path}?immutable=1", uri=True) as db:
        assert db.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        return db.execute("SELECT shot_no, filed_at FROM shot ORDER BY shot_no").fetchall()


def read_only(plant, copy, count):
    """Commands read it where no file can be made beside it."""
    folder = plant.path("disc")
    os.mkdir(folder)
    mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=64m", "tmpfs", folder],
                             capture_output=True, check=False).returncode == 0
    try:
        shutil.copy(copy, os.path.join(folder, "copy.db"))
        os.chmod(folder, 0o555)
        if mounted:
            subprocess.run(["mount", "-o", "remount,ro", folder], check=True)
        code, out, err = plant.evensoak("shots", "--ledger", os.path.join(folder, "copy.db"),
                                        "--format", "csv")
        assert code == 0 and len(out.splitlines()) == count + 1, (code, out, err)
        assert os.listdir(folder) == ["copy.db"]
    finally:
        if mounted:
            subprocess.run(["umount", "-l", folder], check=True)
    print("read where nothing can be written", "" if mounted else "(by its mode alone)")


def put_in_place(plant, copy, names):
    """As `backup --help` has it; all of its files that are there."""
    old = plant.path("old")
    os.makedirs(old, exist_ok=True)
    for name in names:
        if os.path.exists(plant.path(name)):
            os.rename(plant.path(name), os.path.join(old, name))
    os.rename(copy, plant.ledger)


def times_in_store(store):
    """{number: instants of its points}"""
    times = collections.defaultdict(set)
    for row in store.points("plant", "shot"):
        times[int(row["shot_no"])].add(row["time"])
    return times


def restored(store):
    settings = f"[store central]\nkind = influxdb1\nurl = {store.url}\ndatabase = plant\n"
    with Plant(rate=240, duration_s=LINE_S, settings=settings, seed=7) as plant:
        plant.start_line()
        plant.start_daemon()
        wait_for("some shots", lambda: len(plant.shots()) >= 5, 30)
        copy = plant.path("copy.db")
        code, out, err = plant.evensoak("backup", copy, "--format", "json")
        made = json.loads(out)
        assert code == 0 and err == "", (code, out, err)
        kept = shots_of(copy)
        assert made["shots"] == len(kept) >= 5, (made, kept)
        read_only(plant, copy, len(kept))
        wait_for("shots that the copy lacks", lambda: len(plant.shots()) >= len(kept) + 4, 30)
        plant.stop_daemon()
        gone = {shot["shot_no"] for shot in plant.shots()} - {no for no, _ in kept}
        wait_for("the store to have them", lambda: gone <= set(times_in_store(store)), 10)

        put_in_place(plant, copy, [name for name in os.listdir(plant.folder)
                                   if name.startswith("ledger.db")])
        plant.start_daemon()
        wait_for("new shots", lambda: len(plant.shots()) >= len(kept) + 4, 30)
        numbers = [shot["shot_no"] for shot in plant.shots()]
        assert numbers[:len(kept)] == [no for no, _ in kept]
        new = numbers[len(kept):]
        assert new[0] % 1000 == 1 and new[0] > max(gone), (new, gone)
        assert new == list(range(new[0], new[0] + len(new))), new
        told = plant.query("SELECT text FROM event WHERE kind = 'restored'")
        assert len(told) == 1 and str(new[0]) in told[0]["text"], told

        wait_for("the store to have the new ones", lambda: set(new) <= set(times_in_store(store)))
        times = times_in_store(store)
        assert gone <= set(times) and {no for no, _ in kept} <= set(times)
        assert all(len(instants) == 1 for instants in times.values()), times

        code, out, err = plant.evensoak("status", "--verify", *DAY, "--format", "json")
        assert code == 0, (code, out, err)
        alone = re.findall(r'"of": "shots".*"store_alone": (\d+)', out)
        assert sum(map(int, alone)) == len(gone), out
        plant.stop_daemon()
        print(f"restored: {len(kept)} shots kept, {len(gone)} in the store alone, "
              f"numbers go on from {new[0]}")


def damage_index(path):
    """The page over the numbers of shots, which the daemon reads first of all."""
    with sqlite3.connect(path) as db:
        page = db.execute("SELECT rootpage FROM sqlite_schema WHERE name ="
                          " 'sqlite_autoindex_shot_2'").fetchone()[0]
        size = db.execute("PRAGMA page_size").fetchone()[0]
        db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    db.close()
    with open(path, "r+b") as file:
        file.seek((page - 1) * size)
        file.write(bytes(64))


def waiting(plant):
    """How many shots `status` says wait; 0 when it says nothing of it."""
    code, out, err = plant.evensoak("status")
    assert code != 0, out
    told = re.search(r"(\d+) shots wait in memory", out + err)
    return int(told.group(1)) if told else 0


def damaged():
    with Plant(rate=240, duration_s=LINE_S, seed=8) as plant:
        plant.start_line()
        plant.start_daemon()
        wait_for("some shots", lambda: len(plant.shots()) >= 4, 30)
        plant.stop_daemon()
        before = len(plant.shots())
        damage_index(plant.ledger)
        plant.start_daemon(wait=False)
        wait_for("the daemon to say so", lambda: "wait in memory" in plant.log("daemon.log"))
        assert "damaged" in plant.log("daemon.log")
        wait_for("shots in memory", lambda: waiting(plant) >= 3, 30)
        code, out, err = plant.evensoak("backup", plant.path("whole.db"), "--salvage",
                                        "--format", "json")
        assert code == 0, (code, out, err)
        assert len(shots_of(plant.path("whole.db"))) == before
        kept = waiting(plant)
        put_in_place(plant, plant.path("whole.db"),
                     ("ledger.db", "ledger.db-wal", "ledger.db-shm"))
        wait_for("the daemon to go on",
                 lambda: "takes shots again" in plant.log("daemon.log"), 10)
        there = len(plant.shots())
        assert there >= before + kept, (there, before, kept)
        wait_for("more shots", lambda: len(plant.shots()) > there + 1, 30)
        numbers = [shot["shot_no"] for shot in plant.shots()]
        new = numbers[before:]
        assert new[0] % 1000 == 1, new
        assert new == list(range(new[0], new[0] + len(new))), new
        wait_for("status to be content", lambda: plant.evensoak("status")[0] == 0, 10)
        plant.stop_daemon()
        assert "lost" not in plant.log("daemon.log"), plant.log("daemon.log")
        assert plant.query("PRAGMA integrity_check") == [{"integrity_check": "ok"}]
        print(f"damaged: {before} shots salvaged, {kept} kept in memory meanwhile, "
              f"numbers go on from {new[0]}")


def main():
    damaged()
    if not influx.available():
        print("no influxd here (Debian package influxdb)")
        return 77
    with influx.Influx() as store:
        store.create_database("plant")
        restored(store)
    return 0


if __name__ == "__main__":
    sys.exit(main())
