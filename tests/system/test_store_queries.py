# SPDX-License-Identifier: GPL-3.0-or-later
"""The manual's questions to a store, put to real ones: hour by hour the mean over current
shots, after a tool was entered late and the shots went out again under it."""

import datetime
import json
import math
import os
import re
import shutil
import subprocess
import sys
import tempfile
import urllib.parse
import urllib.request

import influx
import victoria
from plant import program

ROOT = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..")
END_S = 1772462400  # 2026-03-02T14:40Z
HOUR_S = 3600
SHOTS, PERIOD_S = 200, 120

CONFIG = """\
[site]
name = pond-works
timezone = UTC
materials = {root}/conf/materials.ini
[ledger]
path = {folder}/ledger.db
[store one]
kind = influxdb1
url = http://127.0.0.1:1
database = plant
[store two]
kind = victoriametrics
url = http://127.0.0.1:2
"""


def question(begins):
    """The lines of the manual's example that begins so, as one."""
    with open(os.path.join(ROOT, "contrib/man/evensoak-store.7"), encoding="utf-8") as file:
        found = re.search(rf"^{re.escape(begins)}.*(\n(?!\.Ed).+)*", file.read(), re.M)
    assert found, f"the manual has no question that begins with {begins!r}"
    return " ".join(line.strip() for line in found.group().splitlines())


class Folder:
    def __init__(self):
        self.path = tempfile.mkdtemp(prefix="evensoak-queries-")
        self.config = os.path.join(self.path, "evensoak.ini")
        demo = os.path.join(ROOT, "conf", "demo.ini")
        with open(demo, encoding="utf-8") as file:
            line = file.read()
        line = line[line.index("[line "):]
        with open(self.config, "w", encoding="utf-8") as file:
            file.write(CONFIG.format(folder=self.path, root=os.path.abspath(ROOT)) + line)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        shutil.rmtree(self.path)

    def evensoak(self, *arguments):
        return subprocess.run(
            [program("evensoak"), *arguments, "--config", self.config], check=True,
            stdout=subprocess.PIPE, stdin=subprocess.DEVNULL).stdout

    def shots(self):
        # All columns but text are numbers that JSON writes whole.
        page = json.loads(self.evensoak("shots", "--last", str(SHOTS), "--format", "json"))
        return page["shots"]


def post(url, lines):
    request = urllib.request.Request(url, data=lines)
    with influx._open(request, timeout=30) as answer:
        assert answer.status == 204, answer.status


def hours(shots, tool):
    """What the answer must be: {hour: mean} over complete shots with the tool."""
    values = {}
    for shot in shots:
        if shot["outcome"] == "complete" and (shot["tool"] or "unknown") == tool:
            if shot["exit_top_c"] is not None:
                hour = shot["filed_at"][:13]
                values.setdefault(hour, []).append(shot["exit_top_c"])
    return {hour: math.fsum(each) / len(each) for hour, each in values.items()}


def hour_of(seconds):
    return datetime.datetime.fromtimestamp(
        seconds, datetime.timezone.utc).strftime("%Y-%m-%dT%H")


def same(found, wanted):
    assert found.keys() == wanted.keys(), (sorted(found), sorted(wanted))
    for hour, mean in wanted.items():
        assert math.isclose(found[hour], mean, rel_tol=1e-9), (hour, found[hour], mean)


def ask_influx(store, tool):
    text = question("SELECT mean(exit_top_c)").replace(
        "time > now() - 7d", f"tool = '{tool}' AND time > {END_S - 7 * 86400}s"
        f" AND time < {END_S + HOUR_S}s")
    assert "tool = " in text, text
    return {hour_of(row[0] // 10**9): row[1]
            for series in store.query(text, "plant") for row in series["values"]
            if row[1] is not None}


def ask_victoria(store, tool):
    text = question("WITH (shots").replace(
        "outcome='complete'", f"outcome='complete', tool='{tool}'")
    assert "tool=" in text, text
    start = END_S // HOUR_S * HOUR_S - 11 * HOUR_S
    form = urllib.parse.urlencode({"query": text, "step": "1h", "nocache": 1,
                                   "start": start, "end": start + 13 * HOUR_S})
    with influx._open(f"{store.url}/api/v1/query_range?{form}", timeout=30) as answer:
        result = json.load(answer)["data"]["result"]
    # A point tells of the hour before it.
    return {hour_of(int(at) - HOUR_S): float(mean)
            for series in result for at, mean in series["values"] if mean != "NaN"}


def deliver(folder, one, two):
    post(f"{one.url}/write?db=plant&precision=ns", folder.evensoak("export", "--store", "one"))
    post(f"{two.url}/write?precision=ns", folder.evensoak("export", "--store", "two"))
    two.flush()


def check(folder, one, two, tool):
    wanted = hours(folder.shots(), tool)
    same(ask_influx(one, tool), wanted)
    same(ask_victoria(two, tool), wanted)
    return len(wanted)


def main():
    if not influx.available() or not victoria.available():
        print("no influxd or victoria-metrics here")
        return 77
    with Folder() as folder, influx.Influx() as one, victoria.Victoria() as two:
        one.create_database("plant")
        subprocess.run([program("tests/system/fill_ledger"), folder.config, str(SHOTS), str(PERIOD_S),
                        str(END_S)], check=True)
        deliver(folder, one, two)
        asked = check(folder, one, two, "unknown")
        folder.evensoak("context", "tool", "T-9", "--from", "2026-03-02T12:00")
        deliver(folder, one, two)
        asked += check(folder, one, two, "unknown") + check(folder, one, two, "T-9")
        assert asked >= 14, asked
        print(f"{asked} hourly means of either store equal the ledger's")
    return 0


if __name__ == "__main__":
    sys.exit(main())
