# SPDX-License-Identifier: GPL-3.0-or-later
"""A year in an hour: the demo's line made slow, and a clock that runs fast.

The daemon's clock runs RATE times as fast as ours, linesim's SLOW times slower than that.
So to the daemon the machine is one whose every move takes SLOW times as long (a cycle of
two hours), and its edges are as far from the polls as those of a demo at RATE / SLOW.
Everything that the configuration says in seconds is made longer alike; what the daemon does
by its own clock (days, shifts, pauses, bounds) happens as often as in a real year.
"""

import datetime
import os
import re
import subprocess
import time

from plant import Plant, ns_of

RATE, SLOW = 8100, 30
START = "2025-03-27T00:00:00Z"  # a time change in Europe comes on the fourth day
DAY_S = 86400
TIMEOUT_MS = 200  # of the bus, in true time

# Parts of the run after which rows go, so that the ledger must come to a steady size in it:
# 14, 40 and 91 days of a year.
KEEP = {"keep_traces_days": 0.04, "keep_channels_days": 0.11, "keep_shots_days": 0.25}

_SCALED = ("heat_min_s", "heat_timer_s", "form_limit_s", "form_min_s", "startup_after_s",
           "rate_from_s", "rate_to_s", "pyrometer_lag_s", "period_ms", "debounce_ms")


def _slowed(text):
    """Times of the machine are SLOW times as long; its sheet conducts as much less."""
    for name in _SCALED:
        text = re.sub(rf"(?m)^({name} = )([0-9.]+)",
                      lambda found: f"{found[1]}{float(found[2]) * SLOW:g}", text)
    text = re.sub(r"(?m)^timeout_ms = \d+", f"timeout_ms = {TIMEOUT_MS}", text)
    for name in ("sag_s", "transfer_s"):
        part = re.search(rf"(?ms)^\[limits {name}\].*?(?=^\[|\Z)", text)
        text = text.replace(part[0], re.sub(
            r"= ([0-9.]+) s", lambda found: f"= {float(found[1]) * SLOW:g} s", part[0]))
    text = text.replace("conductivity_w_per_mk = 0.18", "conductivity_w_per_mk = 0.018")
    return text.replace("heat_capacity_j_per_kgk = 2050", "heat_capacity_j_per_kgk = 6150")


class Year(Plant):
    """Times below are seconds of the simulated year, from 0."""

    def __init__(self, days, seed, script, settings, disk_mb):
        self.days, self.other_limits = days, False
        super().__init__(rate=RATE, line_rate=RATE / SLOW, start=START, seed=seed,
                         duration_s=days * DAY_S / SLOW, script=script, settings=settings,
                         change=self._change_text)
        self._origin_ns = self._start_ns = None
        self.ledger_folder = self._small_disk(disk_mb)
        self.ledger = os.path.join(self.ledger_folder, "ledger.db")

    def _small_disk(self, disk_mb):
        """A disk that can be filled, in memory; the common folder where none may be mounted."""
        disk = self.path("disk")
        os.mkdir(disk)
        done = subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={disk_mb}m", "tmpfs", disk],
                              capture_output=True, check=False)
        return disk if done.returncode == 0 else self.folder

    def __exit__(self, *args):
        if self.ledger_folder != self.folder:
            subprocess.run(["umount", "-l", self.ledger_folder], check=False)
        super().__exit__(*args)

    def _change_text(self, text):
        keep = "".join(f"{name} = {max(1, int(part * self.days))}\n"
                       for name, part in KEEP.items())
        text = re.sub(r"(?m)^path = .*\nkeep_traces_days = .*\n",
                      f"path = {self.ledger}\n{keep}", _slowed(text))
        if self.other_limits:  # what somebody changes and has read anew
            text = text.replace("upper = 2.0 F", "upper = 2.2 F")
        return text

    def begin(self):
        self.start_line()
        self._origin_ns = int(self.ready["clock-origin-ns"])
        self._start_ns = ns_of(START)

    def leap(self, by_s):
        """The next daemon's clock is ahead by so much."""
        start = datetime.datetime.fromisoformat(START.replace("Z", "+00:00"))
        start += datetime.timedelta(seconds=by_s)
        self.clock_start = start.strftime("%Y-%m-%dT%H:%M:%SZ")

    def now_s(self):
        return (time.monotonic_ns() - self._origin_ns) * RATE / 1e9

    def second_of(self, label_ns):
        """Of a time in the ledger."""
        return (label_ns - self._start_ns) / 1e9

    def second_of_line(self, text):
        """Of a time in linesim's truth; None for a blank."""
        ns = ns_of(text)
        return None if ns is None else (ns - self._start_ns) / 1e9 * SLOW

    def sleep_until(self, second):
        left_s = (second - self.now_s()) / RATE
        if left_s > 0:
            time.sleep(left_s)
