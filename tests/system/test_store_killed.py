# SPDX-License-Identifier: GPL-3.0-or-later
# Not under the sanitizers: who is killed tells no leak.
"""The logger killed with SIGKILL at random instants of its delivery, while stores and network
fail at random too: a proxy before each store breaks requests and answers off, answers 503 and
comes late; the stores themselves are killed and started again; people correct tools and lots
in between; the line goes on running.

In the end an InfluxDB and a VictoriaMetrics both equal the ledger: the current revision of
every shot with every value and channel, every earlier one marked, every event.

EVENSOAK_KILLS: how many (40); EVENSOAK_SEED: other instants.
"""

import os
import random
import subprocess
import sys
import time

import delivered
import influx
import victoria
from influx import Influx
from logger import section
from plant import START, Plant, ns_of, program, wait_for
from servers.proxy import Proxy
from victoria import Victoria

KILLS = int(os.environ.get("EVENSOAK_KILLS", "40"))
RATE = 240
EARLIER = 60  # shots on file before it begins
# What a VictoriaMetrics has acknowledged is lost with it for some seconds (12 were enough).
SETTLE_S = 15
# One up-time in so many is long enough for what is sent to settle.
LONG_ONE_IN = 41
CHANCE = 0.15
CORRECTING = 0.3 if KILLS < 100 else 0.08  # each costs more, the more there were before


class Central:
    """A real store behind its faulty proxy."""

    def __init__(self, store, kind, chance):
        self.store, self.kind = store, kind
        store.create_database("plant")
        self.proxy = Proxy(store.port, chance, CHANCE)
        self.kills = 0

    def section(self):
        settle = {"settle_s": SETTLE_S} if self.kind == "victoriametrics" else {}
        return section(self.kind, self.kind, self.proxy.url, batch_lines=400, timeout_s=5,
                       **settle)

    def maybe_kill(self, chance):
        if chance.random() < 0.1:
            self.store.stop(9)
            time.sleep(chance.uniform(0, 0.3))
            self.store.start()
            self.kills += 1


def correct(plant, chance):
    """Somebody says which tool or lot it was for some shots of the last hours."""
    shots = plant.shots()
    if not shots:
        return 0
    at = chance.choice(shots[-100:])["filed_at"] // 10**9
    key = chance.choice(("tool", "lot"))
    code, told, wrong = plant.evensoak(
        "context", "--line", "line-3", "--from",
        time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime(at)), key,
        f"{key}-{chance.randrange(1000)}")
    assert code == 0, (code, told, wrong)
    return 1


def torment(plant, centrals, chance):
    corrected = 0
    for kill in range(KILLS):
        plant.start_daemon(wait=False)
        up_s = chance.expovariate(1 / 0.4)
        if kill % LONG_ONE_IN == LONG_ONE_IN - 1:
            up_s = SETTLE_S + 3
        half = chance.uniform(0, up_s)
        time.sleep(half)
        if chance.random() < CORRECTING:
            corrected += correct(plant, chance)
        for central in centrals:
            central.maybe_kill(chance)
        time.sleep(up_s - half)
        plant.stop_daemon(how=9)
    return corrected


def everything_there(plant, name):
    newest = plant.query("SELECT max(change) AS n FROM shot")[0]["n"]
    events = plant.query("SELECT max(change) AS n FROM event")[0]["n"]
    there = {row["stream"]: row["change"] for row in plant.query(
        "SELECT stream, change FROM delivery WHERE destination = ?", name)}
    return there.get("shot", 0) >= newest and there.get("event", 0) >= events


def finish(plant, centrals):
    """The last start, with nothing in its way: all of it gets there."""
    for central in centrals:
        central.proxy.chance = 0
    plant.line.terminate()
    plant.line.wait(10)
    starts = plant.log("daemon.log").count("logging begins")
    plant.start_daemon()
    wait_for("the last logger", lambda: plant.log("daemon.log").count(
        "logging begins") > starts)
    began = time.monotonic()
    for central in centrals:
        wait_for(f"{central.kind} to have everything",
                 lambda name=central.kind: everything_there(plant, name),
                 120 + KILLS // 4)
        print(f"{central.kind}: all there {time.monotonic() - began:.1f} s after the last start")
    plant.stop_daemon()


def main():
    if not influx.available() or not victoria.available():
        print("no influxd or no victoria-metrics here")
        return 77
    seed = int(os.environ.get("EVENSOAK_SEED", "77"))
    print(f"seed {seed}, {KILLS} kills")
    chance = random.Random(seed)
    with Influx() as one, Victoria() as other:
        centrals = [Central(one, "influxdb1", random.Random(seed + 1)),
                    Central(other, "victoriametrics", random.Random(seed + 2))]
        with Plant(rate=RATE, duration_s=10**7, seed=seed,
                   settings="".join(central.section() for central in centrals)) as plant:
            plant.start_line()
            subprocess.run([program("tests/system/fill_ledger"), plant.config, str(EARLIER),
                            "200", str(ns_of(START) // 10**9 - 3600), str(seed)], check=True)
            began = time.monotonic()
            corrected = torment(plant, centrals, chance)
            took = time.monotonic() - began
            finish(plant, centrals)
            for central in centrals:
                central.store.settle()
            counts = [delivered.check(plant.ledger, central.store, central.kind, central.kind)
                      for central in centrals]
            assert not plant.query("SELECT * FROM refusal")
            print(f"{KILLS} kills in {took:.0f} s, {corrected} corrections")
            for central, count in zip(centrals, counts):
                print(f"{central.kind}: killed {central.kills} times, "
                      f"{dict(central.proxy.counts)}; equal: {count}")
                assert sum(central.proxy.counts.values()) > KILLS
    return 0


if __name__ == "__main__":
    sys.exit(main())
