# SPDX-License-Identifier: GPL-3.0-or-later
"""A month of three made-up lines, in a ledger, and delivered: some shots are given another
tool or lot after they went out.  What loggers and devices told in its last hours is made up
here, in the form that a real point has, since a ledger keeps only how they are now."""

import random
import re
import sqlite3
import subprocess

import influx
from logger import Logger, section
from plant import program, wait_for

END_S = 1775001600  # 2026-04-01T00:00Z; the clocks were changed three days before
DAYS, PERIOD_S = 30, 600
FIRST = "2026-03-02T06:00"  # of the shifts that are closed
TOLD_S = 6 * 3600   # of loggers and devices
S = 10**9

COUNTS = ("none", "wrong", "illegal", "busy", "fault", "gateway", "lost")


def small(text):
    """The example's line with fewer channels: what is looked at here has many shots."""
    text = re.sub(r"(role = zone_(?:top|bottom)\n)count = 24", r"\1count = 4", text)
    text = re.sub(r"(role = (?:tool|water_return|water_flow)\n)count = 8", r"\1count = 3", text)
    return re.sub(r"(role = set_point .*\n)count = 48", r"\1count = 4", text)


class Month(Logger):
    def __init__(self, store):
        super().__init__(section("plant", "influxdb1", store.url), lines=3,
                         change=small)
        self.store = store

    def make(self):
        done = subprocess.run(
            [program("tests/system/fill_month"), self.config, str(DAYS), str(PERIOD_S),
             str(END_S)], stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stderr

    def ask(self, *words):
        """Of a month of three lines, beside a daemon that delivers: that takes a while."""
        done = subprocess.run(
            [program("evensoak"), "--config", self.config, *words], stdin=subprocess.DEVNULL,
            capture_output=True, text=True, timeout=300, check=False)
        assert done.returncode in (0, 1), done

    def deliver(self):
        """All of it, then what was corrected afterwards, by the daemon."""
        self.ask("reference", "freeze", "good", "--line", "line-4", "--recipe", "12",
                 "--from", "2026-03-03", "--to", "2026-03-05")
        self.start()
        self.ask("close-shifts", "--from", FIRST)
        self.wait_all()
        # For two days: in those after them something is found against the reference run.
        self.ask("context", "--line", "line-4", "tool", "T-117", "--from", "2026-03-21T22:00")
        self.ask("context", "--line", "line-4", "tool", "T-204", "--from", "2026-03-20T10:00")
        self.ask("context", "--line", "line-3", "lot", "B-77", "--from", "2026-03-17T08:00")
        assert self.query("SELECT count(*) AS n FROM shot WHERE revision > 0")[0]["n"] > 100
        self.ask("close-shifts", "--from", FIRST)
        self.wait_all()
        wait_for("the daemon's own points", lambda: self.store.query(
            "SELECT count(up_s) FROM logger", "plant"), 90)
        self.stop()

    def wait_all(self):
        self.wait_delivered("plant")
        newest = self.query("SELECT max(change) AS n FROM shift_total")[0]["n"]
        wait_for("the shifts to be delivered",
                 lambda: self.delivered("plant", "shift") >= newest, 60)


# --- loggers and devices -----------------------------------------------------------------


class Told:
    """Points of loggers and devices of six hours, one a minute; in tables of their own."""

    def __init__(self):
        self.db = sqlite3.connect(":memory:")
        self.db.row_factory = sqlite3.Row
        counts = ", ".join(f'"{name}" INTEGER' for name in COUNTS)
        self.db.execute("CREATE TABLE device (at INTEGER, line TEXT, device TEXT, answering "
                        "REAL, bad_channels INTEGER, late_p99_s REAL, late_worst_s REAL, "
                        f"{counts})")
        self.db.execute(
            "CREATE TABLE logger (at INTEGER, host TEXT, version TEXT, up_s REAL, waiting "
            "INTEGER, lost INTEGER, filed INTEGER, backlog INTEGER, refused INTEGER, dropped "
            "INTEGER, lost_readings INTEGER, queue_most INTEGER, clock_steps INTEGER, "
            "memory_bytes INTEGER, ledger_bytes INTEGER, free_bytes INTEGER, delivering "
            "INTEGER)")
        self._random = random.Random(7)
        for number, line in enumerate(("line-3", "line-4", "line-5")):
            for device in ("controller", "pyrometers", "ovens", "water"):
                self._device(line, device, silent=number == 1 and device == "water")
            self._logger(f"pc-{line}", number)

    def _minutes(self):
        return range(END_S - TOLD_S, END_S, 60)

    def _device(self, line, device, silent):
        counts = dict.fromkeys(COUNTS, 0)
        for i, at in enumerate(self._minutes()):
            gone = silent and 120 <= i < 180
            if i == 200 and device == "ovens":
                counts = dict.fromkeys(COUNTS, 0)  # the daemon was started again
            for name in COUNTS:
                counts[name] += self._random.random() < 0.1
            counts["none"] += 60 * gone
            share = 0 if gone else 1 if self._random.random() < 0.8 else 0.95
            late = self._random.random() * 0.02
            self.db.execute(f"INSERT INTO device VALUES ({', '.join('?' * 14)})", (
                at * S, line, device, share, None if gone else int(i % 90 == 7), late,
                late * 3, *counts.values()))

    def _logger(self, host, number):
        for i, at in enumerate(self._minutes()):
            out = number == 2 and 60 <= i < 150
            self.db.execute(f"INSERT INTO logger VALUES ({', '.join('?' * 17)})", (
                at * S, host, "9.9", 1000.0 + 60 * i, int(i == 44), 0, 400 + i // 10,
                (i - 60) // 10 if out else 0, 2 * (number == 1 and i > 300), 0, int(out),
                5 + i % 3, int(i > 100), 14_000_000 + 1000 * i, 35_000_000 + 22_000 * i,
                10**11 - 22_000 * i, int(not out)))

    def rows(self, sql, *values):
        return self.db.execute(sql, values).fetchall()

    def post(self, store):
        """Refuses to be of another form than the daemon's: the store must know each name."""
        for table, tags in (("device", ("line", "device")), ("logger", ("host", "version"))):
            rows = [dict(row) for row in self.rows(f"SELECT * FROM {table}")]
            known = {row[0] for kind in ("FIELD", "TAG") for each in
                     store.query(f'SHOW {kind} KEYS FROM "{table}"', "plant")
                     for row in each["values"]}
            # Not told of a device that is silent, and here all are: test_logger_told.py.
            unknown = set(rows[0]) - {"at", "bad_channels"} - known
            assert not unknown, f"the daemon's {table} points have no {unknown}"
            text = "".join(self._line(table, tags, row) for row in rows)
            with influx._open(f"{store.url}/write?db=plant&precision=ns",
                              data=text.encode(), timeout=30) as answer:
                assert answer.status == 204, answer.status

    @staticmethod
    def _line(table, tags, row):
        floats = ("answering", "late_p99_s", "late_worst_s", "up_s")
        names = ",".join(f"{name}={row[name]}" for name in tags)
        fields = ",".join(f"{name}={float(value)}" if name in floats else f"{name}={value}i"
                          for name, value in row.items()
                          if name not in (*tags, "at") and value is not None)
        return f"{table},site=pond-works,{names} {fields} {row['at']}\n"
