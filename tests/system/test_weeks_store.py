# SPDX-License-Identifier: GPL-3.0-or-later
# Not under the sanitizers: it is about figures; test_read_back.py and test_store_queries.py read stores there.
"""A real InfluxDB and a real VictoriaMetrics: 'trend' and 'hold' say of either what they say of
the ledger."""

import json
import subprocess
import sys

import influx
import victoria
from plant import program
from test_store_queries import END_S, PERIOD_S, SHOTS, Folder, deliver

LOWER = {"cycle_s": "-1 s", "exit_top_c": "0 C"}


def say(folder, *words):
    done = subprocess.run([program("evensoak"), *words, "--config", folder.config, "--format",
                           "json"], capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode in (0, 1), done
    return done.returncode, json.loads(done.stdout)


def point_at(folder, one, two):
    with open(folder.config, encoding="utf-8") as file:
        text = file.read()
    text = text.replace("url = http://127.0.0.1:1\n", f"url = {one.url}\n")
    text = text.replace("url = http://127.0.0.1:2\n", f"url = {two.url}\n")
    with open(folder.config, "w", encoding="utf-8") as file:
        file.write(text)


def main():
    if not influx.available() or not victoria.available():
        print("no influxd or victoria-metrics here")
        return 77
    told = 0
    with Folder() as folder, influx.Influx() as one, victoria.Victoria() as two:
        one.create_database("plant")
        point_at(folder, one, two)
        subprocess.run([program("tests/system/fill_ledger"), folder.config, str(SHOTS),
                        str(PERIOD_S), str(END_S)], check=True)
        folder.evensoak("context", "tool", "T-9", "--from", "2026-03-02T12:00")
        deliver(folder, one, two)
        for feature, lower in LOWER.items():
            asked = ("trend", "--characteristic", feature), (
                "hold", "--characteristic", feature, "--lower", lower)
            for words in asked:
                wanted = say(folder, *words)
                for store in ("one", "two"):
                    got = say(folder, *words, "--store", store)
                    assert got == wanted, (words, store, got, wanted)
                told += len(json.dumps(wanted))
    print(f"trend and hold: {told} characters of JSON, of either store as of the ledger")
    return 0


if __name__ == "__main__":
    sys.exit(main())
