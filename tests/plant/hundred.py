#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""A hundred line PCs into one central store, all on this machine: as many simulated lines and
loggers, each logger with its own configuration, ledger and connection, live readings every
ten seconds beside the shots.

    tests/plant/hundred.py [STORE]...        influxdb1 (unless said), victoriametrics

EVENSOAK_LINES (100), EVENSOAK_PLANT_S (600: how long), EVENSOAK_RATE (1: the lines' clock).
Prints what loggers, lines and stores took of the processors and of memory, points a second,
the backlog; and holds what each store has in the end against each ledger, value by value.
"""

import os
import sys
import time

sys.path.insert(0, os.path.join(os.path.dirname(__file__), "..", "system"))

import delivered  # noqa: E402
from influx import Influx  # noqa: E402
from logger import section  # noqa: E402
from plant import Plant, wait_for  # noqa: E402
from victoria import Victoria  # noqa: E402

LINES = int(os.environ.get("EVENSOAK_LINES", "100"))
SECONDS = float(os.environ.get("EVENSOAK_PLANT_S", "600"))
RATE = float(os.environ.get("EVENSOAK_RATE", "1"))
READINGS_S = 10
LOOK_S = 15
STORES = {"influxdb1": Influx, "victoriametrics": Victoria}
TICKS = os.sysconf("SC_CLK_TCK")
# A reading of every interval is in the ring that was told of; the last may be on its way.
MEASUREMENTS = ("shot", "shot_channel", "shot_absent", "shot_words", "event", "reading",
                "device", "logger")


def say(text):
    print(time.strftime("%H:%M:%S"), text, flush=True)


def cpu_s(pid):
    with open(f"/proc/{pid}/stat", encoding="ascii") as file:
        fields = file.read().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / TICKS


def memory_mb(pid):
    with open(f"/proc/{pid}/statm", encoding="ascii") as file:
        return int(file.read().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6


def disk_mb(folder):
    size = 0
    for path, _, names in os.walk(folder):
        for name in names:
            try:
                size += os.stat(os.path.join(path, name)).st_blocks * 512
            except FileNotFoundError:
                pass  # merged away meanwhile
    return size / 1e6


class Group:
    """Processes of one sort."""

    def __init__(self, name, pids):
        self.name, self.pids = name, pids
        self.began, self.first, self.most_mb = time.monotonic(), self._cpu_s(), []

    def _cpu_s(self):
        return sum(cpu_s(pid) for pid in self.pids)

    def look(self):
        self.most_mb.append(sum(memory_mb(pid) for pid in self.pids))

    def told(self):
        share = (self._cpu_s() - self.first) / (time.monotonic() - self.began)
        quarter = self.most_mb[len(self.most_mb) // 4]
        return (f"{self.name}: {share * 100:.1f} % of a core, {quarter:.0f} MB after a "
                f"quarter, {self.most_mb[-1]:.0f} MB at the end ({len(self.pids)} processes)")


def name_of(i):
    return f"line-{i + 1:03}"


def start_plant(i, stores):
    settings = "".join(section(kind, kind, store.url, readings_s=READINGS_S)
                       for kind, store in stores.items())
    plant = Plant(rate=RATE, duration_s=10**8, seed=i + 1, settings=settings,
                  change=lambda text: text.replace("line-3", name_of(i)))
    plant.start_line()
    plant.start_daemon()
    return plant


def backlog(plants, kind):
    """(shots that the store lacks, over all; of how many lines)."""
    lacking = []
    for plant in plants:
        row = plant.query(
            "SELECT count(*) AS n FROM shot WHERE change > coalesce((SELECT change FROM"
            " delivery WHERE destination = ? AND stream = 'shot'), 0)", kind)[0]
        lacking.append(row["n"])
    return sum(lacking), sum(1 for n in lacking if n)


def counts_of(store, kind):
    """How many points of each measurement there are."""
    if kind == "victoriametrics":
        return {name: sum(len(times) for _, times, _ in store.export(name))
                for name in MEASUREMENTS}
    counts = {}
    for name, field in zip(MEASUREMENTS, ("shot_no", "coverage", "shot_no", "shot_no", "count",
                                          "quality", "requests", "up_s")):
        found = store.query(f'SELECT count("{field}") FROM "{name}"', "plant")
        counts[name] = found[0]["values"][0][1] if found else 0
    return counts


def run(plants, stores):
    groups = [Group("loggers", [plant.daemon.pid for plant in plants]),
              Group("lines", [plant.line.pid for plant in plants])]
    groups += [Group(kind, [store.process.pid]) for kind, store in stores.items()]
    most = dict.fromkeys(stores, 0)
    until = time.monotonic() + SECONDS
    while time.monotonic() < until:
        time.sleep(max(0, min(LOOK_S, until - time.monotonic())))
        for group in groups:
            group.look()
        for kind in stores:
            most[kind] = max(most[kind], backlog(plants, kind)[0])
    for group in groups:
        say(group.told())
    for kind in stores:
        say(f"{kind}: at most {most[kind]} shots of all lines were on file and not yet there")


def stop(plants, stores):
    """The lines end, all is delivered, the loggers end."""
    for plant in plants:
        plant.line.terminate()
    for plant in plants:
        plant.line.wait(30)
    began = time.monotonic()
    for kind in stores:
        wait_for(f"{kind} to have everything", lambda name=kind: backlog(plants, name)[0] == 0,
                 180)
    say(f"all there {time.monotonic() - began:.1f} s after the lines stood still")
    for plant in plants:
        plant.stop_daemon()


def judge(plants, stores, seconds):
    shots = sum(len(plant.shots()) for plant in plants)
    say(f"{shots} shots of {len(plants)} lines in {seconds:.0f} s")
    lost = sum(row["lost"] for plant in plants for row in plant.query(
        "SELECT lost FROM delivery"))
    refused = sum(len(plant.query("SELECT 1 FROM refusal")) for plant in plants)
    assert lost == refused == 0, (lost, refused)
    for kind, store in stores.items():
        store.settle()
        values = 0
        for i, plant in enumerate(plants):
            values += delivered.check(plant.ledger, store, kind, kind,
                                      line=name_of(i)).get("values", 0)
        counts = counts_of(store, kind)
        total = sum(counts.values())
        say(f"{kind}: {values} values of the shots equal the {len(plants)} ledgers; "
            f"{'samples' if kind == 'victoriametrics' else 'points'} {counts}, in all {total}")
        wanted = len(plants) * seconds * RATE / READINGS_S
        say(f"{kind}: {store.series('plant')} series, {total / seconds:.0f} a second, "
            f"{disk_mb(store.folder):.1f} MB on disk, "
            f"{disk_mb(store.folder) * 1e6 / total:.2f} bytes each; readings of "
            f"{counts['reading'] / wanted:.1f} channels (or fields) a line and interval")


def main():
    kinds = sys.argv[1:] or ["influxdb1"]
    stores, plants = {}, []
    say(f"{LINES} lines at {RATE:g} times the clock for {SECONDS:.0f} s into "
        f"{' and '.join(kinds)}, readings every {READINGS_S} s; {os.cpu_count()} processors")
    try:
        for kind in kinds:
            stores[kind] = STORES[kind]()
            stores[kind].start()
            stores[kind].create_database("plant")
        began = time.monotonic()
        for i in range(LINES):
            plants.append(start_plant(i, stores))
        say(f"all lines and loggers run after {time.monotonic() - began:.1f} s")
        run(plants, stores)
        stop(plants, stores)
        judge(plants, stores, time.monotonic() - began)
    finally:
        for plant in plants:
            plant.__exit__()
        for store in stores.values():
            store.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
