# SPDX-License-Identifier: GPL-3.0-or-later
# Not under the sanitizers: it is about figures; the unit tests close shifts there.
"""Some days of a line, closed beside the running daemon: what arrives in a real InfluxDB is
what 'report' says of each shift; a second run changes nothing; a lot that is entered late
makes a new revision, and marks the one before."""

import calendar
import json
import re
import subprocess
import sys
import time

import delivered
import influx
from plant import Plant, program, wait_for

DAYS, PERIOD_S = 3, 240
END = "2026-03-06T14:40:00Z"  # a Friday, 15:40 in Berlin
NOW = "2026-03-06T14:50:00Z"
SHIFTS = [(day, name) for day in ("03", "04", "05", "06") for name in (
    "early", "late", "night")][1:-2]  # it begins at 15:40 on the 3rd
TABLES = ("shift_total", "shift_summary", "shift_closing", "event", "shot", "superseded")
INDEX = {"cp": "cp", "cpk": "cpk", "cpk_low": "cpk_low", "cpk_high": "cpk_high"}


def seconds(text):
    return calendar.timegm(time.strptime(text, "%Y-%m-%dT%H:%M:%SZ"))


class Days(Plant):
    """A plant whose machine is not there: its days are made up."""

    def __init__(self, store):
        super().__init__(rate=1, start=NOW, settings=store, change=lambda text: re.sub(
            r"\[channel ovens\.[^[]*", "", text))  # a hundred points a shot less
        self.ready = {"clock-origin-ns": str(time.monotonic_ns())}
        self.write_config()
        subprocess.run([program("tests/system/fill_month"), self.config, str(DAYS),
                        str(PERIOD_S), str(seconds(END))], check=True)

    def close(self, *words, code=0):
        clock = ("--clock-rate", "1", "--clock-start", NOW, "--clock-origin",
                 self.ready["clock-origin-ns"])
        got, out, err = self.evensoak("close-shifts", "--format", "json", *clock, *words)
        assert got == code, (words, got, out, err)
        return json.loads(out)

    def rows(self):
        return {name: self.query(f"SELECT * FROM {name}") for name in TABLES}

    def has_delivered(self):
        time.sleep(0.1)
        newest = self.query("SELECT max(change) AS n FROM shift_total")[0]["n"]
        at = self.query("SELECT change FROM delivery WHERE stream = 'shift'")
        return bool(at) and at[0]["change"] == newest


def same(a, b):
    """To the ten digits, nine of them behind the point, that go on file."""
    return a == b or (a is not None and b is not None and abs(a - b) <= 1e-9 * max(1, abs(b)))


def quoted(row):
    """What a report quotes of one lot, as the point has it."""
    wanted = {name: row[name] for name in ("n", "mean", "sd", "lower", "upper", "target")}
    wanted["outside"] = row["below"] + row["above"]
    wanted["stable"] = {"stable": 1, "unstable": 0}.get(row["stability"])
    wanted["verdict"] = {"capable": 1, "not_capable": -1, "not_established": 0}[row["verdict"]]
    for name, key in INDEX.items():
        wanted[name] = row[key] if row["cpk_quotable"] else None
    by_fit = row["cpk_withheld"] is not None and "percentiles" in row["cpk_withheld"]
    if row["ppk_quotable"] or by_fit:
        wanted.update(pp=row["pp"], ppk=row["performance"], ppk_low=row["performance_low"],
                      ppk_high=row["performance_high"])
    return wanted


def check_shift(plant, points, total, day, name):
    """A shift's points against its report; how many values were compared."""
    code, out, err = plant.evensoak("report", "--shift", name, "--date", f"2026-03-{day}",
                                    "--format", "json")
    assert code == 0, err
    line = json.loads(out)["lines"][0]
    assert total["shots"] == line["shots"], (day, name)
    assert total["complete"] == line["complete"], (day, name)
    assert same(total["length_s"], 8 * 3600)
    judged = {}
    for population in line["populations"]:
        for row in population["characteristics"]:
            judged.setdefault((row["recipe"], row["tool"], row["characteristic"]), []).append(row)
    compared = 0
    assert len(judged) == len(points), (day, name, judged.keys(), points.keys())
    for key, rows in judged.items():
        point = points[tuple(value or "unknown" for value in key)]
        assert point["lots"] == len(rows)
        assert same(point["n"], sum(row["n"] for row in rows)), (key, point)
        verdicts = [quoted(row)["verdict"] for row in rows]
        assert point["verdict"] == min(verdicts), (key, point)
        if len(rows) > 1:  # of one that is withheld nobody knows whether it is the lowest
            lots = [quoted(row).get("ppk") for row in rows]
            assert same(point.get("ppk"), None if None in lots else min(lots)), (key, point)
            compared += 1
            continue
        for field, value in quoted(rows[0]).items():
            assert same(point.get(field), value), (day, name, key, field, point, rows[0])
            compared += 1
    for field, verdict in (("capable", 1), ("not_established", 0), ("not_capable", -1)):
        assert total[field] == sum(p["verdict"] == verdict for p in points.values())
    return compared


def points_of(store, plant):
    """({time: total}, {time: {key: point}}) of those that hold."""
    totals, points = {}, {}
    names = {row["from_at"] // 10**9 * 10**9: row for row in plant.query(
        "SELECT * FROM shift_total WHERE superseded IS NULL")}
    for row in store.points("plant", "shift_total"):
        if row["current"] == 1:
            assert row["time"] in names
            totals[row["time"]] = row
    for row in store.points("plant", "shift"):
        if row["current"] == 1:
            points.setdefault(row["time"], {})[
                row["recipe"], row["tool"], row["characteristic"]] = row
    return totals, points


def check_reports(store, plant):
    totals, points = points_of(store, plant)
    compared = 0
    for day, name in SHIFTS:
        at, = [at for at, row in totals.items() if row["shift"] == name and
               time.strftime("%d", time.gmtime(at / 1e9 + 3600)) == day]
        compared += check_shift(plant, points.get(at, {}), totals[at], day, name)
    assert len(totals) == len(SHIFTS)
    return compared


def check_again(plant):
    before = plant.rows()
    assert plant.close()["closed"] == 0
    page = plant.close("--since", "7d", "--dry-run")
    assert page["closed"] == page["revised"] == 0 and page["same"] == len(SHIFTS), page
    page = plant.close("--since", "7d")
    assert page["closed"] == page["revised"] == 0 and page["same"] == len(SHIFTS), page
    after = plant.rows()
    for name, rows in before.items():
        if name != "event":  # devices that are not there fall silent meanwhile
            assert rows == after[name], name
    assert len([row for row in after["event"] if row["kind"] == "finding"]) == len(
        [row for row in before["event"] if row["kind"] == "finding"])


def correct(plant):
    """A lot that is entered late, from the middle of the early shift of the 4th on."""
    for value, at in (("LATE-1", "2026-03-04T10:00"), ("LATE-2", "2026-03-04T14:00")):
        code, _, err = plant.evensoak("context", "lot", value, "--from", at)
        assert code == 0, err
    dry = plant.close("--dry-run")
    page = plant.close()
    assert page["revised"] == dry["revised"] >= 1 and page["closed"] == 0, (dry, page)
    revised = [row for row in page["shifts"] if row["done"] == "revised"]
    assert {(row["shift"], row["from"]) for row in revised} >= {
        ("early", "2026-03-04T05:00:00.000Z")}, page
    assert plant.close()["revised"] == 0
    return len(revised)


def verify(plant, code, missing):
    got, out, err = plant.evensoak("status", "--verify", "--from", "2026-03-03", "--to",
                                   "2026-03-07", "--format", "json")
    page, = json.loads(out)["stores"]
    assert got == code and page["missing_shifts"] == missing, (got, page, err)
    # it looks from the first shot on, and the first shift began before
    assert sum(day["ledger"] for day in page["days"] if day["of"] == "shifts") == len(
        SHIFTS) - 1


def lose_and_resend(plant, store):
    """What the store has lost is missed, and sent again."""
    verify(plant, 0, 0)
    store.query("DELETE FROM shift_total WHERE \"shift\" = 'late' AND time > '2026-03-04'",
                "plant")
    verify(plant, 1, 2)
    got, out, err = plant.evensoak("resend", "near", "--from", "2026-03-04", "--format",
                                   "json")
    assert got == 0, err
    assert json.loads(out)["shifts"] >= 7, out
    wait_for("the store to have them again", plant.has_delivered, 60)
    verify(plant, 0, 0)


def run(store):
    settings = f"[store near]\nkind = influxdb1\nurl = {store.url}\ndatabase = plant\n"
    with Days(settings) as plant:
        plant.start_daemon()
        page = plant.close("--dry-run")
        assert page["closed"] == len(SHIFTS), page
        assert not plant.query("SELECT * FROM shift_total")
        page = plant.close()
        assert page["closed"] == len(SHIFTS), page
        assert {row["done"] for row in page["shifts"]} == {"closed"}, page
        check_again(plant)
        wait_for("the store to have the shifts", plant.has_delivered, 60)
        compared = check_reports(store, plant)
        revised = correct(plant)
        wait_for("the store to have the revisions", plant.has_delivered, 60)
        compared += check_reports(store, plant)
        lose_and_resend(plant, store)
        plant.stop_daemon()
        expected = delivered.Expected(plant.ledger, "influxdb1")
        there = delivered.check_shifts(expected, store, "influxdb1", "plant", None, "near")
        expected.close()
        assert there == len(SHIFTS), there
        print(f"{there} shifts, {compared} values as in reports, {revised} revised")


def main():
    if not influx.available():
        print("no influxd here")
        return 77
    with influx.Influx() as store:
        store.create_database("plant")
        run(store)
    return 0


if __name__ == "__main__":
    sys.exit(main())
