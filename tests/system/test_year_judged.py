# SPDX-License-Identifier: GPL-3.0-or-later
"""The judge of the simulated year (tests/years/) finds what it is there to find: a made-up
year in which all is well passes, and each thing that may go wrong, put into it, is told."""

import contextlib
import datetime
import io
import os
import sys
import types

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "years"))

# pylint: disable=wrong-import-position
from judge import Judge
from plant import ns_of
from year import DAY_S, SLOW, START, Year

DAYS, CYCLE_S, HEAT_S, FORM_S = 200, 5200, 4700, 5200


def line_text(second):
    """A time of the year as linesim's truth has it."""
    at = datetime.datetime.fromisoformat(START.replace("Z", "+00:00"))
    at += datetime.timedelta(seconds=second / SLOW)
    return at.strftime("%Y-%m-%dT%H:%M:%S.%fZ")


class MadeUp(Year):
    def __init__(self, rows):  # pylint: disable=super-init-not-called
        self._start_ns, self._rows = ns_of(START), rows

    def truth(self):
        return self._rows


def frame(number):
    start_s = number * CYCLE_S
    return {"sheet": str(number), "class": "complete", "events": "",
            "heat_start_at": line_text(start_s), "heat_end_at": line_text(start_s + HEAT_S),
            "form_start_at": line_text(start_s + FORM_S),
            "left_at": line_text(start_s + 2 * CYCLE_S)}


def shot(number):
    start_s = number * CYCLE_S
    return {"shot_no": number, "outcome": "complete", "reason": None, "flags": 0,
            "uncertainty_s": 16.0, "heat_start_s": start_s + 1.0,
            "heat_end_s": start_s + HEAT_S, "form_start_s": start_s + FORM_S,
            "closed_s": start_s + 2 * CYCLE_S + 60}


def sample(day):
    return {"day": day, "run": 0, "rss": 20e6, "anonymous": 8e6, "fds": 28, "threads": 8,
            "children": 0, "cpu_s": day, "ledger": 20e6, "wal": 2e6}


def a_good_year():
    count = DAYS * DAY_S // CYCLE_S - 2
    return types.SimpleNamespace(
        rows=[frame(i) for i in range(1, count)],
        shots={i: shot(i) for i in range(1, count)},
        samples=[sample(i / 4) for i in range(4 * DAYS)],
        days=[{"day": i, "log_lines": 5, "log_bytes": 500} for i in range(DAYS)],
        polls=[{"due": 1000.0, "scans": 990, "late": 3}], trouble=[])


def verdict(year):
    """(whether it is good, what is said)"""
    book = types.SimpleNamespace(shots=year.shots, events={}, polls=year.polls,
                                 late_worst_s=1.0)
    soak = types.SimpleNamespace(year=MadeUp(year.rows), book=book, samples=year.samples,
                                 days=year.days, trouble=year.trouble)
    plan = types.SimpleNamespace(days=DAYS, length_s=DAYS * DAY_S)
    said = io.StringIO()
    with contextlib.redirect_stdout(said):
        good = Judge(soak, [], plan).say()
    return good, said.getvalue()


def grow(name, a_month):
    def spoil(year):
        for one in year.samples:
            one[name] += round(a_month * one["day"] / (365 / 12))
    return spoil


def reach(name, value):
    return lambda year: year.samples[300].update({name: value})


def lose(year):
    del year.shots[700]


def invent(year):
    year.shots[99999] = {**shot(700), "shot_no": 99999, "heat_start_s": 700 * CYCLE_S + 2500,
                         "form_start_s": None, "heat_end_s": None}


def mistake(year):
    for number in range(100, 130):
        year.shots[number]["outcome"] = "aborted"


def drift(year):
    for number, one in year.shots.items():
        one["heat_start_s"] += number / len(year.shots) * 20


SPOILT = {
    "rss, a month": grow("rss", 0.6e6),
    "anonymous, a month": grow("anonymous", 0.6e6),
    "fds, a month": grow("fds", 1),
    "threads, a month": grow("threads", 1),
    "ledger, a month": grow("ledger", 1e6),
    "memory:": reach("rss", 80e6),
    "descriptors more": reach("fds", 40),
    "threads more": reach("threads", 12),
    "child processes": reach("children", 3),
    "WAL:": reach("wal", 50e6),
    "lines of log": lambda year: year.days[50].update(log_lines=3000),
    "bytes of log": lambda year: year.days[50].update(log_bytes=10**6),
    "polls:": lambda year: year.polls[0].update(scans=700),
    "no gap is told": lose,
    "is of no sheet": invent,
    "outcomes that are wrong": mistake,
    "their drift": drift,
    "status --verify": lambda year: year.trouble.append("evensoak status --verify: no"),
}


def main():
    good, said = verdict(a_good_year())
    assert good, said
    for what, spoil in SPOILT.items():
        year = a_good_year()
        spoil(year)
        good, said = verdict(year)
        told = [line for line in said.splitlines() if line.startswith("FAIL: ")]
        assert not good and any(what in line for line in told), (what, told)
    # A sheet that nobody could see is no loss: the next shot is marked.
    year = a_good_year()
    lose(year)
    year.shots[701]["flags"] = 1
    assert verdict(year)[0]
    print(f"{len(SPOILT)} things that went wrong, each found")


if __name__ == "__main__":
    sys.exit(main())
