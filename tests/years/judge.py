# SPDX-License-Identifier: GPL-3.0-or-later
"""What the year showed: a table, and what is out of its bounds."""

import statistics

from pairing import Pairing
from year import DAY_S, RATE

MONTH_DAYS = 365 / 12
MB = 1e6

# Bounds.  Slopes are of the longest run of one daemon, after its first part (SETTLING), by
# Theil and Sen: the median of the slopes of all pairs of samples.
SLOPE_DAYS = 60  # a shorter run has no slope worth the name
SETTLING = 0.2
MEMORY_MB_A_MONTH = 0.3
MEMORY_MB = 64          # ever
DESCRIPTORS_A_MONTH = 0.05
DESCRIPTORS_MORE = 8    # at any time than at the end of the first day
THREADS_MORE = 1
CHILDREN = 1            # of [notify]: one at a time, and none that nobody waits for
LOG_LINES_A_DAY, LOG_BYTES_A_DAY = 250, 40000
LEDGER_MB_A_MONTH = 0.5  # once rows are forgotten as fast as they come
WAL_MB = 32
POLLS_DONE = 0.85       # of those due: a silent device is asked less often, and so are all
                        # where other programs hold the processors
CLOCK_S_A_MONTH = 2.0   # drift of shots' times against the year's
CLOCK_S = 30.0          # and their mean
WRONG_SHARE = 0.005     # outcomes that differ though the shot is sure of itself


def slope(points):
    """Theil-Sen: of [(x, y)], in y a unit of x; 0 of fewer than three."""
    points = points[::max(1, len(points) // 400)]
    slopes = [(b[1] - a[1]) / (b[0] - a[0])
              for i, a in enumerate(points) for b in points[i + 1:] if b[0] > a[0]]
    return statistics.median(slopes) if len(points) > 2 else 0.0


class Judge:
    def __init__(self, soak, stalls, plan):
        self.soak, self.plan, self.stalls = soak, plan, stalls
        self.samples = soak.samples
        self.pairs = Pairing(soak.year, soak.book)
        self.faults, self.lines = [], []

    def _bound(self, name, value, most, unit=""):
        if value > most:
            self.faults.append(f"{name}: {value:.2f}{unit}, at most {most:g}{unit} is allowed")
        self.lines.append(f"  {name}: {value:.2f}{unit} (at most {most:g}{unit})")

    def _last_run(self):
        """Samples of the longest run of one daemon, without its beginning."""
        runs = {}
        for one in self.samples:
            runs.setdefault(one["run"], []).append(one)
        longest = max(runs.values(), key=len)
        return longest[int(SETTLING * len(longest)):]

    def _slopes(self):
        last = self._last_run()
        lasted = last[-1]["day"] - last[0]["day"]
        if lasted < SLOPE_DAYS:
            self.lines.append(f"  slopes are not judged: {lasted:.0f} days of one daemon, "
                              f"{SLOPE_DAYS} are needed")
            return
        self.lines.append(f"  slopes of days {last[0]['day']:.0f} to {last[-1]['day']:.0f}:")
        for name, unit, most in (("rss", MB, MEMORY_MB_A_MONTH),
                                 ("anonymous", MB, MEMORY_MB_A_MONTH),
                                 ("fds", 1, DESCRIPTORS_A_MONTH),
                                 ("threads", 1, DESCRIPTORS_A_MONTH),
                                 ("ledger", MB, LEDGER_MB_A_MONTH)):
            a_day = slope([(one["day"], one[name] / unit) for one in last])
            self._bound(f"{name}, a month", a_day * MONTH_DAYS, most,
                        " MB" if unit == MB else "")

    def _heights(self):
        first = [one for one in self.samples if one["day"] <= 1][-1]
        most = {name: max(one[name] for one in self.samples)
                for name in ("rss", "fds", "threads", "wal", "children")}
        self._bound("memory", most["rss"] / MB, MEMORY_MB, " MB")
        self._bound("descriptors more than on the first day", most["fds"] - first["fds"],
                    DESCRIPTORS_MORE)
        self._bound("threads more than on the first day", most["threads"] - first["threads"],
                    THREADS_MORE)
        self._bound("child processes", most["children"], CHILDREN)
        self._bound("WAL", most["wal"] / MB, WAL_MB, " MB")
        for name, bound in (("log_lines", LOG_LINES_A_DAY), ("log_bytes", LOG_BYTES_A_DAY)):
            worst = max(self.soak.days, key=lambda day: day[name])
            self._bound(f"{name.removeprefix('log_')} of log on day {worst['day']}, the worst",
                        worst[name], bound)

    def _stalled_s(self):
        return sum(b - a for a, b in self.stalls) / 1e9

    def _schedule(self):
        """Where the test machine stood still nothing could be polled: that is taken off."""
        due = done = late = 0
        for row in self.soak.book.polls:
            due, done, late = due + row["due"], done + row["scans"], late + row["late"]
        worst_s = self.soak.book.late_worst_s
        longest_s = max([b - a for a, b in self.stalls] or [0]) / 1e9
        print(f"polls: {due:.0f} were due, {done} done, {late} of them a period late or more; "
              f"the worst came {worst_s / RATE * 1000:.0f} ms of true time late. The test "
              f"machine stood still {len(self.stalls)} times, for {self._stalled_s():.1f} s in "
              f"all and {longest_s * 1000:.0f} ms at most")
        stood = self._stalled_s() * RATE / max(1.0, self.plan.length_s)
        if done < (POLLS_DONE - stood) * due:
            self.faults.append(f"polls: {done} of {due:.0f} done, and the test machine stood "
                               f"still for {stood * 100:.1f} % of the time only")

    def _shots(self):
        pairs = self.pairs
        print(pairs.say())
        for one in pairs.untold[:10]:
            self.faults.append(f"sheet {one['sheet']} of day {one['heat_start_s'] / DAY_S:.2f} "
                               "is not in the ledger, and no gap is told")
        for shot in pairs.invented[:10]:
            self.faults.append(f"shot {shot['shot_no']} ({shot['outcome']}) is of no sheet")
        for shot, row in pairs.wrong[:10]:
            print(f"  sheet {row['sheet']} ({row['events']}) is {row['class']}, logged as "
                  f"{shot['outcome']}: {shot['reason']}")
        self._bound("outcomes that are wrong, in all", len(pairs.wrong),
                    max(2, WRONG_SHARE * len(pairs.pairs)))
        offs = [(row["heat_start_s"] / DAY_S, shot["heat_start_s"] - row["heat_start_s"])
                for shot, row in pairs.pairs if shot.get("heat_start_s") is not None]
        if offs:
            self._bound("heat starts off the truth, median",
                        abs(statistics.median(off for _, off in offs)), CLOCK_S, " s")
        if self.plan.days >= SLOPE_DAYS:
            self._bound("their drift, a month", abs(slope(offs)) * MONTH_DAYS,
                        CLOCK_S_A_MONTH, " s")

    def _row(self, end, part, days):
        """How it was at the end of a part, and the worst within it."""
        last, wal = part[-1], max(one["wal"] for one in part)
        lines = max([day["log_lines"] for day in days] or [0])
        size = max([day["log_bytes"] for day in days] or [0])
        cpu_s = last["cpu_s"] - part[0]["cpu_s"]
        took_s = max(1.0, (last["day"] - part[0]["day"]) * DAY_S / RATE)
        print(f"  {end:9.1f} {last['rss'] / MB:8.2f} {last['anonymous'] / MB:10.2f} "
              f"{last['fds']:4d} {last['threads']:8d} {last['ledger'] / MB:8.2f} "
              f"{wal / MB:8.2f} {lines:10d} {size:6d} {cpu_s / took_s * 100:17.0f} %")

    def _table(self):
        """The start, and a row a month, or ten of a shorter run."""
        step = min(MONTH_DAYS, self.plan.days / 10)
        print("  until day   RSS, MB  anonymous  fds  threads   ledger      WAL  "
              "log lines  bytes  (worst day)   CPU")
        self._row(0, self.samples[:1], [])
        end = step
        while end <= self.plan.days + 0.01:
            part = [one for one in self.samples if end - step <= one["day"] < end]
            days = [day for day in self.soak.days if end - step <= day["day"] < end]
            if part:
                self._row(end, part, days)
            end += step

    def say(self):
        self._table()
        self._schedule()
        self._shots()
        self._heights()
        self._slopes()
        self.faults += self.soak.trouble[:20]
        print("\n".join(self.lines))
        for fault in self.faults:
            print(f"FAIL: {fault}")
        print("FAIL" if self.faults else "PASS: every figure is within its bound")
        return not self.faults
