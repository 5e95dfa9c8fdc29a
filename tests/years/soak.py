#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""A simulated year of the real daemon: see README.md beside this file.

EVENSOAK_SOAK_DAYS (365): how long; EVENSOAK_SEED: what goes wrong when.
"""

import contextlib
import csv
import heapq
import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import time

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "system"))

# pylint: disable=wrong-import-position
import influx
from book import Book
from faults import Plan
from judge import Judge
from logger import section
import plant as plants
from plant import BUILD, wait_for
from watch import Log, Stalls, files, process
from year import DAY_S, RATE, SLOW, Year

DAYS = int(os.environ.get("EVENSOAK_SOAK_DAYS", "365"))
SEED = int(os.environ.get("EVENSOAK_SEED") or random.SystemRandom().randrange(10**6))
SAMPLES_A_DAY, CHORES_AT_S, SHIFTS_AT_H = 4, 9 * 3600, (2, 7, 13, 22)  # UTC
DISK_MB, STORE_ENDS_S = 600, 300


class Soak:
    def __init__(self, year, store, out):
        self.year, self.store, self.out = year, store, out
        self.plan_at = []
        self.book = Book(year)
        self.log = Log(year.path("daemon.log"))
        self.samples, self.days, self.downs = [], [], []
        self.trouble = []  # what the commands answered that they should not have
        self._cpu = 0.0  # of daemons that have ended
        self._run = self._outages = 0
        self._disk_full = False

    # --- time ---------------------------------------------------------------------------

    def put(self, second, what, arg=None):
        heapq.heappush(self.plan_at, (second, len(self.plan_at), what, arg))

    def go(self, until_s):
        while self.plan_at and self.plan_at[0][0] < until_s:
            second, _, what, arg = heapq.heappop(self.plan_at)
            self.year.sleep_until(second)
            if self.year.daemon is not None and self.year.daemon.poll() is not None:
                raise AssertionError("the daemon has ended\n"
                                     + self.year.log("daemon.log")[-2000:])
            getattr(self, "do_" + what)(second, arg)
        self.year.sleep_until(until_s)

    # --- every day ----------------------------------------------------------------------

    def do_sample(self, second, _):
        if self.year.daemon is None:
            return
        seen = {"day": second / DAY_S, "run": self._run, **process(self.year.daemon.pid),
                **files(self.year.ledger)}
        seen["cpu_s"] += self._cpu
        self.samples.append(seen)

    def do_chores(self, second, _):
        day = int(second // DAY_S)
        if self.year.daemon is not None:
            self.reload(day)
            self.ask("status", "--format", "json", good=(0, 1))
        self.back_up(day)
        self.book.look()
        self.book.devices()
        self.days.append({"day": day, **self.log.more()})
        if day % max(1, DAYS // 60) == 0:
            self.progress(day)

    def do_shifts(self, _second, _arg):
        """What a timer does every quarter of an hour."""
        if self.year.daemon is not None:
            self.ask("close-shifts", *self.year.clock_options(), good=(0,))

    def reload(self, day):
        """Changed once a week: the ledger keeps each configuration that was in force."""
        self.year.other_limits = day // 7 % 2 == 1
        self.year.write_config()
        self.year.daemon.send_signal(signal.SIGHUP)

    def ask(self, *words, good):
        try:
            code, out, err = self.year.evensoak(*words)
        except (OSError, subprocess.TimeoutExpired) as error:
            code, out, err = None, "", str(error)
        if code not in good and not self._disk_full:  # nobody can write then
            self.trouble.append(f"evensoak {' '.join(words)} ended with {code}: "
                                + (err or out)[-300:])
        return out

    def back_up(self, day):
        """Every copy is looked through as it is made; by another program now and then."""
        copy = os.path.join(self.out, "copy.db")
        self.ask("backup", "--force", copy, good=(0,))
        if day % 30 == 1:
            self.check_file(copy)

    def check_file(self, path):
        """A file that nobody writes."""
        with contextlib.closing(sqlite3.connect(f"file:{path}?immutable=1", uri=True)) as db:
            found = db.execute("PRAGMA integrity_check").fetchall()
        if found != [("ok",)]:
            self.trouble.append(f"{path}: {found[:3]}")

    def progress(self, day):
        seen = self.samples[-1]
        print(f"day {day} of {DAYS}: {len(self.book.shots)} shots, "
              f"{seen['rss'] / 1e6:.1f} MB, {seen['fds']} descriptors, "
              f"ledger {seen['ledger'] / 1e6:.1f} MB + {seen['wal'] / 1e6:.1f} MB, "
              f"{self.days[-1]['log_lines']} lines of log", flush=True)

    # --- now and then -------------------------------------------------------------------

    def do_store(self, second, for_s):
        if self.store is None:
            return
        self._outages += 1
        self.store.stop()
        self.put(second + for_s, "store_back")

    def do_store_back(self, _second, _arg):
        self._outages -= 1
        if self._outages == 0:
            self.store.start()

    def down(self, second, how):
        if self.year.daemon is None:
            return
        self.book.close_run()
        pid = self.year.daemon.pid
        self._cpu += process(pid)["cpu_s"]
        self.year.stop_daemon(how)
        self._run += 1
        self.downs.append([second, None])

    def do_up(self, _second, _arg):
        if self.year.daemon is not None:
            return
        self.year.start_daemon()
        self.downs[-1][1] = self.year.now_s()

    def do_restart(self, second, away_s):
        self.down(second, signal.SIGTERM)
        self.put(second + away_s, "up")

    def do_kill(self, second, _):
        self.down(second, signal.SIGKILL)
        self.put(second, "up")

    def do_leap(self, second, by_s):
        """The clock is by_s ahead from now on; it is the daemon's alone."""
        self.down(second, signal.SIGTERM)
        self.year.leap(by_s)
        self.book.leap_s = by_s
        self.put(second, "up")

    def do_disk(self, second, for_s):
        if self.year.ledger_folder == self.year.folder:
            print("a full disk is not tried: no right to mount")
            return
        # Unbuffered: what did not fit would be tried again as the file is closed.
        with open(os.path.join(self.year.ledger_folder, "filler"), "wb", buffering=0) as file:
            try:
                while True:
                    file.write(bytes(65536))
            except OSError:
                pass
        self._disk_full = True
        self.put(second + for_s, "disk_free")

    def do_disk_free(self, _second, _arg):
        os.remove(os.path.join(self.year.ledger_folder, "filler"))
        self._disk_full = False

    # --- the end ------------------------------------------------------------------------

    def finish(self):
        """What the store lacks goes out; then everything is looked at once more."""
        self.year.wait_line()
        if self.store is not None:
            if self._outages:
                self.store.start()
            newest = self.year.query("SELECT max(change) AS n FROM shot")[0]["n"]
            wait_for("the store to have all shots", lambda: newest <= self.year.query(
                "SELECT coalesce(max(change), 0) AS n FROM delivery WHERE stream = 'shot'"
                )[0]["n"], STORE_ENDS_S)
        self.book.close_run()
        self.year.stop_daemon()
        self.days.append({"day": DAYS, **self.log.more()})
        self.check_file(self.year.ledger)
        self.check_shifts()
        if self.store is not None:
            self.ask("status", "--verify", "--from", "2025-01-01T00:00",
                     "--to", "2030-01-01T00:00", good=(0,))

    def check_shifts(self):
        """Three a day were closed, until the end."""
        newest = self.year.query("SELECT max(from_at) AS at FROM shift_total")[0]["at"]
        if newest is None or self.year.second_of(newest) < (DAYS - 2) * DAY_S:
            self.trouble.append("the shifts of the last two days are not closed")

    def keep(self):
        """What there is to look at afterwards."""
        with open(os.path.join(self.out, "samples.csv"), "w", newline="",
                  encoding="ascii") as file:
            if self.samples:
                writer = csv.DictWriter(file, self.samples[0])
                writer.writeheader()
                writer.writerows(self.samples)
        for path in (self.year.path("daemon.log"), self.year.path("truth.csv"),
                     self.year.ledger):
            if os.path.exists(path):
                shutil.copy(path, self.out)


def run(year, store, plan, out):
    soak = Soak(year, store, out)
    for day in range(DAYS):
        for part in range(SAMPLES_A_DAY):
            soak.put((day + part / SAMPLES_A_DAY) * DAY_S, "sample")
        soak.put(day * DAY_S + CHORES_AT_S, "chores")
        for hour in SHIFTS_AT_H:
            soak.put(day * DAY_S + hour * 3600, "shifts")
    for second, what, arg in plan.actions:
        soak.put(second, what, arg)
    stalls = Stalls(os.path.join(out, "stalls"))
    try:
        year.begin()
        year.start_daemon()
        soak.go(plan.length_s - 3600)
        soak.do_up(0, None)
        soak.finish()
    finally:
        stalls.close()
        soak.keep()
    return Judge(soak, stalls.spans(), plan).say()


def prepare():
    """The folder for what is left; programs of its own, so that a build beside it does no
    harm."""
    out = os.path.join(os.path.abspath(BUILD), "soak")
    shutil.rmtree(out, ignore_errors=True)
    os.makedirs(os.path.join(out, "bin"))
    for name in ("evensoakd", "evensoak", "linesim"):
        shutil.copy(os.path.join(BUILD, name), os.path.join(out, "bin"))
    plants.BUILD = os.path.join(out, "bin")
    return out


def main():
    out = prepare()
    plan = Plan(DAYS, SEED)
    print(f"{DAYS} days in about {DAYS * DAY_S / RATE / 60:.0f} min, "
          f"EVENSOAK_SEED={SEED}; the machine is {SLOW} times as slow as the demo's; "
          f"samples, log and ledger: {out}", flush=True)
    store = influx.Influx() if influx.available() else None
    began = time.monotonic()
    try:
        settings = "[notify]\nprogram = /usr/bin/true\n\n"
        if store is not None:
            store.start()
            store.create_database("plant")
            settings += section("plant", "influxdb1", store.url)
        with Year(DAYS, SEED, plan.script, settings, DISK_MB) as year:
            good = run(year, store, plan, out)
    finally:
        if store is not None:
            store.close()
    print(f"{(time.monotonic() - began) / 60:.1f} min")
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
