# SPDX-License-Identifier: GPL-3.0-or-later
# Not under the sanitizers: it is about memory; test_store_answers.py delivers there.
"""An outage of many days: four lines have filed their shots, no store was there.  Then both
stores come back: everything gets there, in the order in which it was filed, the logger's
memory stays flat.

And an outage with live readings on: the oldest of them are dropped and counted, the newest
are there afterwards, and shots never wait behind them.

EVENSOAK_OUTAGE_DAYS: how many (0.5).
"""

import os
import sys
import time

import delivered
import influx
import victoria
from influx import Influx
from logger import Logger, section
from plant import START, Plant, ns_of, wait_for
from servers.proxy import Proxy
from victoria import Victoria

DAYS = float(os.environ.get("EVENSOAK_OUTAGE_DAYS", "0.5"))
LINES, PERIOD_S = 4, 200
# Of what it takes at the end, against a quarter of the way.
GROWTH, GROWTH_MB = 1.1, 2

RING_RATE, READINGS_S, KEEP_H = 480, 10, 0.25


def memory_mb(pid):
    with open(f"/proc/{pid}/statm", encoding="ascii") as file:
        return int(file.read().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6


def disk_bytes(folder):
    return sum(os.stat(os.path.join(path, name)).st_blocks * 512
               for path, _, names in os.walk(folder) for name in names)


def has_all(logger, kind):
    """All shots, and a settle time later the cursor says so."""
    return logger.delivered(kind) >= logger.newest()


def drain(logger, proxies):
    """Until both have everything; [(share of the shots that were out, MB)]."""
    shots, began, looks = len(logger.shots()), time.monotonic(), []
    ended = {}
    while len(ended) < len(proxies):
        time.sleep(0.1)
        out = sum(len(proxy.order) for proxy in proxies.values()) / len(proxies) / shots
        if out < 1:
            looks.append((out, memory_mb(logger.daemon.pid)))
        for kind in proxies.keys() - ended.keys():
            if has_all(logger, kind):
                ended[kind] = time.monotonic() - began
        assert logger.daemon.poll() is None, logger.log("daemon.log")
        assert time.monotonic() - began < 120 + 60 * DAYS, (ended, out)
    for kind, took in ended.items():
        print(f"{kind}: {shots} shots in {took:.1f} s")
    return looks


def check_order(logger, proxy):
    """As they were filed; what a store was too slow to answer comes twice."""
    wanted = [(row["name"], row["shot_no"]) for row in logger.query(
        "SELECT name, shot_no FROM shot JOIN line ON line.id = shot.line ORDER BY change")]
    first = list(dict.fromkeys(proxy.order))
    assert first == wanted, (len(first), len(wanted), first[:3])
    if len(proxy.order) > len(first):
        print(f"{len(proxy.order) - len(first)} shots came twice")


def check_memory(looks):
    starts = [mb for out, mb in looks if 0 < out <= 0.25]
    ends = [mb for out, mb in looks if out > 0.5]
    if not starts or not ends:
        print("memory: it went too fast to be looked at")
        return
    print(f"memory: {max(starts):.1f} MB in the first quarter, {max(ends):.1f} MB in the "
          f"second half, {len(looks)} looks")
    assert max(ends) <= max(starts) * GROWTH + GROWTH_MB, looks


def long_outage():
    one, other = Influx(), Victoria()
    proxies = {"influxdb1": Proxy(one.port), "victoriametrics": Proxy(other.port)}
    for proxy in proxies.values():
        proxy.order = []
    stores = "".join(section(kind, kind, proxy.url,
                             **({"settle_s": 2} if kind == "victoriametrics" else {}))
                     for kind, proxy in proxies.items())
    try:
        with Logger(lines=LINES, stores=stores) as logger:
            began = time.monotonic()
            logger.fill(int(DAYS * 86400 / PERIOD_S), PERIOD_S)
            print(f"{DAYS:g} days of {LINES} lines filed in {time.monotonic() - began:.1f} s, "
                  f"{os.path.getsize(logger.ledger) / 1e6:.0f} MB")
            logger.start()
            wait_for("status to name both stores", lambda: all(
                f"wrong: store {kind}" in logger.evensoak("status")[1] for kind in proxies))
            one.start()
            other.start()
            one.create_database("plant")
            looks = drain(logger, proxies)
            logger.stop()
            check_memory(looks)
            for (kind, proxy), store in zip(proxies.items(), (one, other)):
                check_order(logger, proxy)
                store.settle()
                counts = delivered.check(logger.ledger, store, kind, kind)
                print(f"{kind}: {store.series('plant')} series, "
                      f"{disk_bytes(store.folder) / counts['values']:.1f} bytes on disk a "
                      f"value; equal: {counts}")
            assert not logger.query("SELECT * FROM refusal")
    finally:
        one.close()
        other.close()


def lost_readings(plant):
    rows = plant.query("SELECT lost FROM delivery WHERE stream = 'reading'")
    return rows[0]["lost"] if rows else 0


def clock_ns(plant):
    """What the clock of line and logger shows."""
    gone_ns = time.clock_gettime_ns(time.CLOCK_MONOTONIC) - int(
        plant.ready["clock-origin-ns"])
    return ns_of(START) + gone_ns * plant.rate


def all_there(plant):
    return not plant.query(
        "SELECT 1 FROM shot WHERE change > (SELECT coalesce(max(change), 0) FROM delivery"
        " WHERE stream = 'shot')") and plant.query(
            "SELECT 1 FROM delivery WHERE stream = 'reading' AND change >="
            " (SELECT max(number) - 2 FROM reading)")


def readings_outage():
    """Four times as long as readings are kept."""
    with Influx() as store:
        store.create_database("plant")
        store.stop()
        settings = section("central", "influxdb1", store.url, readings_s=READINGS_S,
                           readings_keep_h=KEEP_H)
        with Plant(rate=RING_RATE, duration_s=10**7, settings=settings, seed=9) as plant:
            plant.start_line()
            plant.start_daemon()
            time.sleep(4 * KEEP_H * 3600 / RING_RATE)
            store.start()
            back_ns = clock_ns(plant)
            wait_for("shots and readings to be there", lambda: all_there(plant), 60)
            plant.line.terminate()
            plant.line.wait(10)
            wait_for("the rest", lambda: all_there(plant), 20)
            plant.stop_daemon()
            lost = lost_readings(plant)
            points = store.points("plant", "reading")
            intervals = {p["time"] for p in points}
            made = plant.query("SELECT max(number) AS n FROM reading")[0]["n"]
            left = plant.query("SELECT count(*) AS n FROM reading WHERE number > (SELECT"
                               " change FROM delivery WHERE stream = 'reading')")[0]["n"]
            print(f"readings: of {made} intervals {lost} were dropped and {len(intervals)} "
                  f"sent, {len(points)} points of {len({p['channel'] for p in points})} "
                  "channels")
            assert lost > 0 and lost + len(intervals) + left == made, left
            assert min(intervals) > back_ns - KEEP_H * 1.1 * 3600e9
            assert len(intervals) > KEEP_H * 3600 / READINGS_S * 0.8
            good = [p for p in points if p["quality"] > 0]
            assert len(good) > len(points) // 3, len(good)
            assert all(p["mean"] is not None and p["last"] is not None for p in good)
            print(f"shots: {delivered.check(plant.ledger, store, 'influxdb1', 'central')}")


def main():
    if not influx.available() or not victoria.available():
        print("no influxd or no victoria-metrics here")
        return 77
    long_outage()
    readings_outage()
    return 0


if __name__ == "__main__":
    sys.exit(main())
