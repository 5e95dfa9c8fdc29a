# SPDX-License-Identifier: GPL-3.0-or-later
"""Three weeks of made-up shots: what 'trend', 'hold' and 'compare' say of them, reckoned again
from the ledger by SQL and code that shares nothing with theirs."""

import bisect
import collections
import datetime
import json
import math
import os
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import zoneinfo

from plant import program

ZONE = zoneinfo.ZoneInfo("Europe/Berlin")
SHOTS, PERIOD_S = 10080, 180  # 21 days
END_S = 1775000000            # 2026-03-31T23:33:20Z: over the spring's change of the clocks
FEATURE = "cycle_s"


def fill(folder):
    with open("conf/demo.ini", encoding="utf-8") as demo:
        text = demo.read()
    text = text.replace("materials = materials.ini",
                        f"materials = {os.getcwd()}/conf/materials.ini")
    text = text.replace("path = ledger.db", f"path = {folder}/ledger.db")
    text += f"\n[limits {FEATURE}]\nlower = -5 s\nupper = 900 s\n"
    config = os.path.join(folder, "plant.ini")
    with open(config, "w", encoding="utf-8") as file:
        file.write(text)
    subprocess.run([program("tests/system/fill_ledger"), config, str(SHOTS), str(PERIOD_S),
                    str(END_S)], check=True, timeout=120)
    return config, os.path.join(folder, "ledger.db")


def evensoak(config, *words):
    done = subprocess.run([program("evensoak"), words[0], "--config", config, *words[1:],
                           "--format", "json"], capture_output=True, text=True, timeout=60,
                          check=False)
    assert done.returncode in (0, 1), done
    return done.returncode, json.loads(done.stdout)


def rows_of(ledger, sql, *values):
    with sqlite3.connect(ledger) as base:
        base.row_factory = sqlite3.Row
        return base.execute(sql, values).fetchall()


def shift_of(ns):
    """The shift that a time lies in, and its local date: early, late, or night from 22:00."""
    local = datetime.datetime.fromtimestamp(ns / 1e9, ZONE)
    if 6 <= local.hour < 14:
        return "early", str(local.date())
    if 14 <= local.hour < 22:
        return "late", str(local.date())
    day = local.date() - datetime.timedelta(days=local.hour < 6)
    return "night", str(day)


def close(a, b):
    return (a is None and b is None) or math.isclose(a, b, rel_tol=1e-9)


def trend_is_what_sql_says(config, ledger):
    shots = rows_of(ledger, f"SELECT filed_at, {FEATURE} AS v FROM shot WHERE outcome ="
                    " 'complete' AND recipe = 12 AND filed_at >= ? ORDER BY filed_at",
                    int(datetime.datetime(2026, 3, 11, tzinfo=ZONE).timestamp() * 1e9))
    wanted = collections.OrderedDict()
    for row in shots:
        wanted.setdefault(shift_of(row["filed_at"]), []).append(row["v"])
    code, page = evensoak(config, "trend", "--from", "2026-03-11", "--recipe", "12",
                          "--characteristic", FEATURE)
    assert code == 0
    got = page["kinds"][0]["characteristics"][0]["shifts"]
    assert [(point["shift"], point["date"]) for point in got] == list(wanted), "shifts"
    for point, values in zip(got, wanted.values()):
        there = [value for value in values if value is not None]
        assert point["n"] == len(there) and point["missing"] == len(values) - len(there)
        assert point["outside"] == sum(not -5 <= value <= 900 for value in there), point
        assert close(point["mean"], statistics.fmean(there)), point
        assert close(point["sd"], statistics.stdev(there)), point
        ppk = min(point["mean"] + 5, 900 - point["mean"]) / (3 * point["sd"])
        assert close(point["ppk"], ppk), point
    assert len(got) >= 60
    whole = page["kinds"][0]["characteristics"][0]
    assert whole["points"] == len(got)
    assert whole["outside"] == sum(point["outside"] for point in got)
    assert whole["capable"] == sum(point["verdict"] == "capable" for point in got)
    nights = evensoak(config, "trend", "--from", "2026-03-11", "--recipe", "12", "--shift",
                      "night", "--characteristic", FEATURE)[1]
    assert ([(point["date"], point["mean"]) for point in
             nights["kinds"][0]["characteristics"][0]["shifts"]] ==
            [(point["date"], point["mean"]) for point in got if point["shift"] == "night"])
    return len(got)


def hold_leaves_out_nothing(config, ledger):
    """Every complete shot outside or unknown is held, and what bounds a run is good."""
    begin, end = "2026-03-20T06:00", "2026-03-20T14:00"
    code, page = evensoak(config, "hold", "--from", begin, "--to", end,
                          "--characteristic", FEATURE)
    assert code == 1
    spans = [datetime.datetime.fromisoformat(text).replace(tzinfo=ZONE).timestamp() * 1e9
             for text in (begin, end)]
    rows = {row["shot_no"]: row for row in rows_of(
        ledger, f"SELECT shot_no, filed_at, outcome, {FEATURE} AS v FROM shot")}
    held = set()
    for one in page["lines"][0]["holds"]:
        for part in one["shots"].split(", "):
            first, _, last = part.partition("-")
            held.update(range(int(first), int(last or first) + 1))
        for bound in ("last_good", "first_good"):
            row = rows[one[bound]]
            assert row["outcome"] == "complete" and -5 <= row["v"] <= 900, one
    bad = {no for no, row in rows.items() if spans[0] <= row["filed_at"] < spans[1] and
           (row["outcome"] == "partial" or row["v"] is None or not -5 <= row["v"] <= 900)}
    assert bad and bad <= held, bad - held
    return len(held)


def a_new_definition_is_refused(config, ledger):
    """The reference is of the first days; a later version of the program defines it anew."""
    done = subprocess.run([program("evensoak"), "reference", "freeze", "first", "--config",
                           config, "--recipe", "12", "--from", "2026-03-12", "--to",
                           "2026-03-14"], capture_output=True, text=True, timeout=60,
                          check=False)
    assert done.returncode == 0, done
    before = evensoak(config, "compare", "--date", "2026-03-29", "--recipe", "12")[1]
    names = {row["feature"] for row in before["kinds"][0]["features"]}
    assert FEATURE in names and len(names) > 40, names
    numbers = sorted(row["filed_at"] for row in rows_of(ledger, "SELECT filed_at FROM shot"))
    since = numbers[bisect.bisect(numbers, numbers[-1] - 5 * 86400 * 10 ** 9)]
    with sqlite3.connect(ledger) as base:
        base.execute("INSERT INTO setup (filed_at, program, site, path, hash, text) SELECT ?,"
                     " 'later', site, path, hash, text FROM setup LIMIT 1", (since,))
        base.execute("INSERT INTO feature (name, version, unit, meaning, setup) SELECT name,"
                     " version + 1, unit, meaning, (SELECT max(id) FROM setup) FROM feature"
                     " WHERE name = ?", (FEATURE,))
        base.execute("UPDATE shot SET setup = (SELECT max(id) FROM setup) WHERE filed_at >= ?",
                     (since,))
    day = str(datetime.datetime.fromtimestamp(since / 1e9, ZONE).date())
    after = evensoak(config, "compare", "--date", "2026-03-29", "--recipe", "12")[1]
    kind = after["kinds"][0]
    reasons = {row["feature"]: row["reason"] for row in kind["refused"]}
    assert f"its definition is another since {day}" in reasons[FEATURE], reasons
    assert {row["feature"] for row in kind["features"]} == names - {FEATURE}
    return len(names)


def main():
    with tempfile.TemporaryDirectory() as folder:
        config, ledger = fill(folder)
        print(f"trend: {trend_is_what_sql_says(config, ledger)} shifts as reckoned by SQL")
        print(f"hold: {hold_leaves_out_nothing(config, ledger)} shots held")
        print(f"compare: {a_new_definition_is_refused(config, ledger)} features, one refused")


if __name__ == "__main__":
    sys.exit(main())
