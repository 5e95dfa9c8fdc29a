# SPDX-License-Identifier: GPL-3.0-or-later
"""Stores that have lost what they took: found by `status --verify`, mended by `resend`; and
what `export` writes, posted by curl into an empty store, against what the daemon delivered.

A real InfluxDB 1.x and a real VictoriaMetrics, each with a twin that nobody delivers to.  The
ledger's shots are of six days up to now, some of them labelled anew after they were delivered.
"""

import csv
import io
import os
import subprocess
import sys
import time

import delivered
import influx
import victoria
from influx import Influx
from logger import Logger, section
from plant import wait_for
from victoria import Victoria

SHOTS = 72  # on each of the two lines
PERIOD_S = 7200  # six days
DAY_S = 86400
SHOWN_S = 1800  # what is older a VictoriaMetrics shows for sure; lines are a turn apart
NOTICED_S = 10  # the daemon looks for what others changed in the ledger
S = 10**9


class Central:
    def __init__(self, kind, store, twin):
        self.kind, self.store, self.twin = kind, store, twin
        for each in (store, twin):
            each.create_database("plant")

    def section(self):
        settle = {"settle_s": 1} if self.kind == "victoriametrics" else {}
        return section(self.kind, self.kind, self.store.url, **settle)

    def write_url(self, store):
        label = "&extra_label=db=plant" if self.kind == "victoriametrics" else ""
        return f"{store.url}/write?db=plant&precision=ns{label}"

    def lose(self, span):
        """Forgets the shots of a span, as a restored backup would, and later corrections;
        others stay."""
        if self.kind == "influxdb1":
            for measurement in ("shot", "event"):
                self.store.query(f'DELETE FROM "{measurement}" WHERE time >= {span[0]} '
                                 f"AND time < {span[1]}", "plant")
            self.store.query("DELETE FROM \"shot\" WHERE revision = '1' "
                             f"AND time >= {span[1]}", "plant")
        else:  # it can forget whole series only: those of one line
            with victoria._open(self.store.url + "/api/v1/admin/tsdb/delete_series",
                                data=b'match[]={line="line-4"}', timeout=60):
                pass
            self.store.settle()


def correct(logger, shots):
    """Somebody says later which tool it was: new tags, and marks on the old points."""
    at = time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime(shots[len(shots) * 3 // 4] // S))
    code, told, wrong = logger.evensoak("context", "--line", "line-3", "--from", at,
                                        "tool", "T-42")
    assert code == 0, (told, wrong)


def verify(logger, name, code, *more):
    """Rows of the table of days."""
    got, told, wrong = logger.evensoak("status", "--verify", "--store", name, "--format",
                                       "csv", *more)
    assert got == code, (got, told[:2000], wrong)
    return list(csv.DictReader(io.StringIO(told, newline="")))


def numbers(text):
    """{812, 813, 820} of "812-813, 820"."""
    found = set()
    for part in filter(None, text.split(", ")):
        first, _, last = part.partition("-")
        found |= set(range(int(first), int(last or first) + 1))
    return found


def sums(rows, *columns):
    return tuple(sum(int(row[column]) for row in rows) for column in columns)


def standing(store, measurement):
    """The points that hold.  Of an earlier revision the twin has the mark alone."""
    points = [{k: v for k, v in row.items() if v is not None}
              for row in store.points("plant", measurement)]
    if measurement == "shot_absent":  # has no marks
        newest = {(row["line"], row["time"]): 0 for row in points}
        for row in points:
            at = (row["line"], row["time"])
            newest[at] = max(newest[at], int(row["revision"]))
        points = [row for row in points
                  if int(row["revision"]) == newest[row["line"], row["time"]]]
    points = [row for row in points if row.get("superseded") != 1]
    return sorted(points, key=lambda row: sorted((k, str(v)) for k, v in row.items()))


def check_export(logger, central):
    """Into the twin, by curl, in pieces that a server takes: as the command's help says."""
    lines = logger.path(f"{central.kind}.lines")
    with open(lines, "wb") as file:
        done = subprocess.run(
            [os.path.join(os.environ.get("EVENSOAK_BUILD", "build"), "evensoak"), "export",
             "--config", logger.config, "--store", central.kind, "--format", "lines"],
            stdout=file, stderr=subprocess.PIPE, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert f"the lines of {2 * SHOTS} shots" in done.stderr, done.stderr
    subprocess.run(["split", "-l", "5000", "--filter=curl -fsS --noproxy '*' "
                    f"--data-binary @- '{central.write_url(central.twin)}'", lines],
                   stdin=subprocess.DEVNULL, check=True)
    counts = delivered.check(logger.ledger, central.twin, central.kind)
    assert counts == delivered.check(logger.ledger, central.store, central.kind)
    assert counts["marked"] > 0 and counts["event"] > 0, counts
    for measurement in ("shot", "shot_channel", "shot_absent", "event"):
        theirs = standing(central.store, measurement)
        assert theirs == standing(central.twin, measurement) and theirs, measurement
    print(f"{central.kind}: exported and posted by curl, {os.path.getsize(lines)} bytes: "
          f"equal to what was delivered: {counts}")


def lost_of(logger, central, span):
    """{(line, number)} that must be found missing: of shots that the ledger has."""
    if central.kind == "influxdb1":
        rows = logger.query("SELECT shot_no, name FROM shot JOIN line ON line.id = shot.line "
                            "WHERE filed_at >= ? AND filed_at < ?", *span)
    else:
        rows = logger.query("SELECT shot_no, name FROM shot JOIN line ON line.id = shot.line "
                            "WHERE name = 'line-4'")
    return {(row["name"], row["shot_no"]) for row in rows}


def corrected_of(logger, central, span):
    """{(line, number)} of which the last correction alone is lost."""
    rows = logger.query("SELECT shot_no, name FROM shot JOIN line ON line.id = shot.line "
                        "WHERE revision = 1 AND filed_at >= ?", span[1])
    assert len(rows) > 5
    return {(row["name"], row["shot_no"]) for row in rows if central.kind == "influxdb1"}


def found_missing(rows, column="missing_shots"):
    return {(row["line"], number) for row in rows if row["of"] == "shots"
            for number in numbers(row[column])}


def lose(logger, central, span):
    """Loses, finds, and has it sent again while the daemon runs; how far it had come."""
    name = central.kind
    central.lose(span)
    lost = lost_of(logger, central, span)
    assert len(lost) > 10
    rows = verify(logger, name, 1)
    assert found_missing(rows) == lost, found_missing(rows) ^ lost
    assert found_missing(rows, "earlier_shots") == corrected_of(logger, central, span), rows
    agreeing = [row for row in rows if row["missing"] == "0" and row["ledger"] != "0"]
    assert agreeing, "some days must agree"
    code, told, _ = logger.evensoak("status", "--verify", "--store", name)
    assert code == 1
    flat = " ".join(told.split())
    advised = flat.split(f"evensoak resend {name} --from ")[1].split("'")[0]
    code, told, wrong = logger.evensoak("resend", name, "--from", advised, "--dry-run")
    assert code == 0 and "nothing is changed" in told, (told, wrong)
    assert found_missing(verify(logger, name, 1)) == lost
    before = logger.delivered(name)
    code, told, wrong = logger.evensoak("resend", name, "--from", advised)
    assert code == 0, (told, wrong)
    assert logger.delivered(name) < before
    print(f"{name}: lost {len(lost)} shots, all named")
    return before


def check_mended(logger, central, before):
    name = central.kind
    wait_for(f"{name} to have it again", lambda: logger.delivered(name) >= before,
             NOTICED_S + 30)
    central.store.settle()
    again = verify(logger, name, 0)
    assert sums(again, "missing", "store_alone") == (0, 0), again
    delivered.check(logger.ledger, central.store, central.kind)


def check_stopped(logger, central):
    """Set back while no daemon runs; and what is not sent yet is not missing."""
    name = central.kind
    code, told, wrong = logger.evensoak("resend", name, "--since", "5d")
    assert code == 0 and "evensoakd is not running" in told, (told, wrong)
    shots = [row for row in verify(logger, name, 0) if row["of"] == "shots"]
    assert sums(shots, "missing", "not_sent") == (0, 0), "all of them are still there"
    logger.start()
    logger.wait_delivered(name)


def check_doubles(kept_twice):
    """A VictoriaMetrics that keeps what comes twice: told, with what mends it."""
    central = Central("victoriametrics", kept_twice, kept_twice)
    with Logger(lines=1, stores=central.section()) as logger:
        logger.fill(30, PERIOD_S)
        for again in range(2):
            logger.start()
            logger.wait_delivered(central.kind)
            logger.stop()
            kept_twice.settle()
            _, told, _ = logger.evensoak("status", "--verify")
            assert ("keeps 30 points more than once" in " ".join(told.split())) == again, told
            assert logger.evensoak("resend", central.kind, "--since", "30d")[0] == 0
        kept_twice.stop()
        kept_twice.dedup = "1ms"
        kept_twice.start()
        _, told, _ = logger.evensoak("status", "--verify")
        assert "more than once" not in told, told
    print("points that were kept twice: told, and mended by what is advised")


def main():
    if not influx.available() or not victoria.available():
        print("skipped: there is no influxd, or no victoria-metrics")
        return 77
    with Victoria(dedup="0s") as kept_twice:
        check_doubles(kept_twice)
    with Influx() as a, Influx() as b, Victoria() as c, Victoria() as d:
        centrals = [Central("influxdb1", a, b), Central("victoriametrics", c, d)]
        with Logger(lines=2, stores="".join(each.section() for each in centrals)) as logger:
            logger.fill(SHOTS, PERIOD_S, int(time.time()) - SHOWN_S)
            logger.start()
            for each in centrals:
                logger.wait_delivered(each.kind)
            times = sorted(row["filed_at"] for row in logger.query(
                "SELECT filed_at FROM shot"))
            correct(logger, times)
            for each in centrals:
                logger.wait_delivered(each.kind)
            for each in centrals:
                each.store.settle()
                rows = verify(logger, each.kind, 0)
                shots = [row for row in rows if row["of"] == "shots"]
                assert sums(shots, "ledger") == (2 * SHOTS,), "every day is looked at"
                assert sums(rows, "missing", "store_alone") == (0, 0)
            logger.stop()
            for each in centrals:
                check_export(logger, each)
            logger.start()
            middle = times[len(times) // 2] // S * S
            lost = [lose(logger, each, (middle, middle + 2 * DAY_S * S)) for each in centrals]
            for each, before in zip(centrals, lost):
                check_mended(logger, each, before)
            logger.stop()
            for each in centrals:
                check_stopped(logger, each)
                logger.stop()
    return 0


if __name__ == "__main__":
    sys.exit(main())
