# SPDX-License-Identifier: GPL-3.0-or-later
"""The whole way into a real InfluxDB, stopped and started in the middle: every shot and
every channel of it that is read back equals the ledger, bit for bit."""

import sys

import delivered
import influx
from plant import Plant, wait_for


def main():
    if not influx.available():
        print("no influxd here (Debian package influxdb)")
        return 77
    with influx.Influx() as store:
        store.create_database("plant")
        settings = (f"[store central]\nkind = influxdb1\nurl = {store.url}\n"
                    "database = plant\n")
        with Plant(rate=240, sheets=40, settings=settings, seed=5) as plant:
            plant.start_line()
            plant.start_daemon()
            wait_for("the first shots in the store",
                     lambda: len(store.points("plant", "shot")) > 3, 60)
            store.stop(9)
            there = len(plant.shots())
            wait_for("shots while the store is down",
                     lambda: len(plant.shots()) > there + 3, 60)
            wait_for("status to name the store", lambda: plant.evensoak("status")[0] == 1)
            assert "wrong: store central" in plant.evensoak("status")[1]
            store.start()
            plant.wait_line()
            wait_for("the backlog to be delivered",
                     lambda: len(store.points("plant", "shot")) == len(plant.shots()), 60)
            plant.stop_daemon()
            counts = delivered.check(plant.path("ledger.db"), store, "influxdb1")
            assert counts["shot_channel"] > 1000, counts
            print(f"equal to the ledger: {counts}")
            assert not plant.query("SELECT * FROM refusal")
    return 0


if __name__ == "__main__":
    sys.exit(main())
