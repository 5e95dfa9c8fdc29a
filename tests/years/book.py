# SPDX-License-Identifier: GPL-3.0-or-later
"""What is read from the ledger day by day, since it forgets: shots, events, counts of polls."""

import contextlib
import sqlite3

_SHOT = ("change", "shot_no", "outcome", "reason", "flags", "uncertainty_s", "heat_start_at",
         "heat_end_at", "form_start_at", "closed_at")


class Book:
    def __init__(self, year):
        self._year = year
        self.shots, self.events = {}, {}
        self.polls = []  # a dict for each run of the daemon and device
        self.leap_s = 0  # of the daemon that runs
        self.late_worst_s = 0.0
        self._change = 0

    def _rows(self, sql, *values):
        with contextlib.closing(sqlite3.connect(
                f"file:{self._year.ledger}?mode=ro", uri=True, timeout=20)) as db:
            db.row_factory = sqlite3.Row
            return [dict(row) for row in db.execute(sql, values)]

    def look(self):
        """Takes down what is new, with true seconds of the year in place of labels."""
        last = self._change
        for row in self._rows(f"SELECT {', '.join(_SHOT)} FROM shot WHERE change > ?", last):
            self.shots.setdefault(row["shot_no"], self._dated(row))
            self._change = max(self._change, row["change"])
        for row in self._rows("SELECT change, at, kind, text FROM event WHERE change > ?",
                              last):
            self.events[row["change"]] = self._dated(row)
            self._change = max(self._change, row["change"])

    def _dated(self, row):
        for name in [name for name in row if name == "at" or name.endswith("_at")]:
            if row[name]:
                row[name.removesuffix("_at") + "_s"] = (
                    self._year.second_of(row[name]) - self.leap_s)
        return row

    def devices(self):
        """Of the daemon that runs: polls due and done, and how late, as it tells."""
        found = []
        for row in self._rows("SELECT device, since, at, scans, failures, late, period_s, "
                              "late_p99_s, late_worst_s FROM device"):
            self.late_worst_s = max(self.late_worst_s, row["late_worst_s"] or 0)
            lasted_s = (row["at"] - row["since"]) / 1e9
            found.append({**row, "due": lasted_s / row["period_s"]})
        return found

    def close_run(self):
        self.look()
        self.polls += self.devices()
