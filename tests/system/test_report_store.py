# SPDX-License-Identifier: GPL-3.0-or-later
# Not under the sanitizers: it is about figures; test_read_back.py and test_store_queries.py read stores there.
"""Two lines, the real daemons, a real InfluxDB and a real VictoriaMetrics: after labels that
come late, a correction of the set-up and two restarts, 'report' and 'shots' say of either
store what they say of the ledger, to the last printed character; and a PC in the office
reports over both lines without a ledger."""

import json
import os
import sys

import influx
import victoria
from plant import Plant, wait_for
from test_recompute import RIGHT, WRONG, scale_surfaces

STORES = ("near", "far")
SPANS = (("--shift", "early", "--date", "2026-03-02"), ("--date", "2026-03-02"),
         ("--since", "9999d"), ("--from", "2026-03-02T06:20", "--to", "2026-03-02T06:50"), ())
LISTS = (*SPANS, ("--last", "7"), ("--outcome", "partial", "--date", "2026-03-02"))
# What only the line's own PC has, and where it was read from.
OWN_PARTS = ("calibrated", "found", "findings", "references", "reference_runs")
OWN_WORDS = ("calibrated", "calibrations, findings", "evensoak ")


def settings(near, far):
    return (f"[store near]\nkind = influxdb1\nurl = {near.url}\ndatabase = plant\n"
            f"[store far]\nkind = victoriametrics\nurl = {far.url}\nsettle_s = 1\n")


def delivered(plant):
    rows = plant.query("SELECT destination, stream, change FROM delivery")
    at = {(row["destination"], row["stream"]): row["change"] for row in rows}
    newest = {stream: plant.query(f"SELECT max(change) AS n FROM {stream}")[0]["n"]
              for stream in ("shot", "event")}
    return all(at.get((store, stream), 0) >= (newest[stream] or 0)
               for store in STORES for stream in newest)


def deliver(plant, far):
    wait_for("both stores to have everything", lambda: delivered(plant), 60)
    plant.stop_daemon()
    far.flush()


def bare_json(text):
    """A page without what only the line's own PC has."""
    page = json.loads(text)
    page.get("remarks", {}).pop("program", None)
    if page.get("title", "").startswith("the last "):
        page.pop("from")  # counted from now
    for line in page.get("lines", []):
        for name in OWN_PARTS:
            line.pop(name, None)
        for run in line.get("runs", []):
            run.pop("zones", None)  # outputs of heaters are read of the ledger alone
    return page


def bare_text(text):
    """The same: without the lines that tell of it, and the blanks that it stood in."""
    lines = [" ".join(line.split()) for line in text.splitlines()]
    kept = []
    skipping = False
    for line in lines:
        if line.startswith(("Findings", "held against", "against reference")):
            skipping = True
        elif not line:
            skipping = False
        if line and not skipping and not line.startswith(OWN_WORDS):
            kept.append(line)
    if any(": the last 9999d" in line for line in kept):
        kept = [line for line in kept if not line.startswith("from ")]  # counted from now
    return kept


def told(plant, *arguments):
    code, out, err = plant.evensoak(*arguments)
    assert code in (0, 1), (arguments, code, err)
    return code, out


def compare(plant, *line):
    """`line`: the option that says it, as the stores know others too."""
    compared = 0
    for command, spans in (("report", SPANS), ("shots", LISTS)):
        for span in spans:
            for form, bare in (("json", bare_json), ("text", bare_text),
                               ("csv", str.splitlines)):
                question = (command, *line, *span, "--format", form)
                code, out = told(plant, *question)
                assert code == 0 or "partial" in span, question
                for store in STORES:
                    got = told(plant, *question, "--store", store)
                    assert got[0] == code, (question, store)
                    assert bare(got[1]) == bare(out), (
                        question, store, first_difference(bare(out), bare(got[1])))
                    compared += 1
    print(f"{compared} pages from a store equal those from the ledger")


def first_difference(one, other):
    if isinstance(one, dict):
        for name in one.keys() | other.keys():
            if one.get(name) != other.get(name):
                return name, first_difference(one.get(name), other.get(name))
    if isinstance(one, list) and isinstance(other, list):
        for i, (a, b) in enumerate(zip(one, other)):
            if a != b:
                return i, first_difference(a, b) if isinstance(a, dict) else (a, b)
        return len(one), len(other)
    return one, other


def run_line(plant, far):
    """A line's whole life: logged, stopped in between, labelled late, corrected."""
    plant.start_line()
    plant.start_daemon()
    wait_for("some shots", lambda: len(plant.shots()) > 5, 60)
    plant.stop_daemon()
    plant.start_daemon()
    plant.wait_line()
    wait_for("the last shots", lambda: len(plant.shots()) > 15, 60)
    for label, value, since in (("tool", "T-118", "2026-03-02T06:15"),
                                ("lot", 'A "4" b', "2026-03-02T06:10"),
                                ("lot", "A-0413", "2026-03-02T06:30")):
        code, _, err = plant.evensoak("context", label, value, "--from", since)
        assert code == 0, err
    deliver(plant, far)


def recompute(plant, far):
    plant.write_config()
    code, out, err = plant.evensoak("recompute", "--date", "2026-03-02")
    assert code == 0, (out, err)
    plant.start_daemon()
    deliver(plant, far)


def check_office(plants, near):
    """Over all lines, with a configuration that knows none."""
    office = plants[0].path("office.ini")
    with open("conf/office.ini", encoding="utf-8") as file:
        text = file.read()
    text = text.replace("http://127.0.0.1:8086", near.url).replace(
        "database = evensoak", "database = plant")
    with open(office, "w", encoding="utf-8") as file:
        file.write(text)
    code, out, err = plants[0].evensoak("report", "--config", office, "--store", "plant",
                                        "--date", "2026-03-02", "--format", "json")
    assert code == 0, err
    lines = json.loads(out)["lines"]
    assert [line["line"] for line in lines] == ["line-3", "line-6"]
    for line, plant in zip(lines, plants):
        assert line["shots"] == len(plant.shots()), (line["line"], line["shots"])
    code, out, err = plants[0].evensoak("shots", "--config", office, "--from", "plant",
                                        "--from", "2026-03-02T06:20", "--line", "line-6")
    assert code == 0 and "line-6" in out, (code, err)
    code, out, err = plants[0].evensoak("shots", "--config", office, "--from", "plnt")
    assert code == 2 and "did you mean 'plant'" in err, (code, err)
    near.stop()
    code, out, err = plants[0].evensoak("report", "--config", office, "--store", "plant",
                                        "--date", "2026-03-02")
    assert code == 3 and not out and err.count("\n") == 1, (code, out, err)
    print("the office reports over both lines")


def main():
    if not influx.available() or not victoria.available():
        print("no influxd or no victoria-metrics here")
        return 77
    with influx.Influx() as near, victoria.Victoria() as far:
        near.create_database("plant")
        more = settings(near, far)
        wrong = {"on": True}

        def change(text):
            return scale_surfaces(text, WRONG) if wrong["on"] else text

        with Plant(rate=240, sheets=24, settings=more, seed=3, change=change) as rotary, \
                Plant(rate=240, sheets=18, settings=more, seed=4, machine="shuttle") as shuttle:
            run_line(rotary, far)
            wrong["on"] = False
            recompute(rotary, far)
            assert RIGHT in open(rotary.config, encoding="utf-8").read()
            run_line(shuttle, far)
            compare(rotary, "--line", "line-3")
            compare(shuttle, "--line", "line-6")
            os.rename(rotary.ledger, rotary.path("away.db"))
            code, out, err = rotary.evensoak("report", "--store", "far", "--line", "line-3")
            assert code == 0 and "line-3" in out, err
            os.rename(rotary.path("away.db"), rotary.ledger)
            check_office((rotary, shuttle), near)
    return 0


if __name__ == "__main__":
    sys.exit(main())
