# SPDX-License-Identifier: GPL-3.0-or-later
"""The whole way into a real InfluxDB, stopped and started in the middle: every shot and
every channel of it that is read back equals the ledger, bit for bit."""

import sys
import time

import influx
from plant import Plant, wait_for

SHOT_TAGS = ("recipe", "tool", "material", "outcome")
NUMBERS = ("min", "mean", "max", "sd", "last", "coverage")


def point_time(shot):
    return shot["filed_at"] // 1000 * 1000 + shot["shot_no"] % 1000


def same_tags(point, row, names):
    for name in names:
        assert point[name] == str(row[name] if row[name] not in (None, "") else "unknown"), (
            name, point[name], row[name])


def check_shots(plant, store):
    features = [row["name"] for row in plant.query("SELECT name FROM feature")]
    points = {p["time"]: p for p in store.points("plant", "shot")}
    shots = plant.shots()
    assert len(points) == len(shots), (len(points), len(shots))
    values = 0
    for shot in shots:
        point = points[point_time(shot)]
        assert point["shot_no"] == shot["shot_no"] and point["line"] == "line-3"
        same_tags(point, shot, SHOT_TAGS)
        for feature in features:
            assert point.get(feature) == shot[feature], (shot["shot_no"], feature)
            values += shot[feature] is not None
    print(f"{len(shots)} shots, {values} values equal the ledger")
    return {shot["id"]: shot for shot in shots}


def check_channels(plant, store, shots):
    rows = plant.query(
        "SELECT shot_channel.*, device || '.' || channel.name AS name, role"
        " FROM shot_channel JOIN channel ON channel.id = shot_channel.channel")
    points = {(p["time"], p["channel"]): p for p in store.points("plant", "shot_channel")}
    compared = 0
    for row in rows:
        point = points.pop((point_time(shots[row["shot"]]), row["name"]), None)
        if point is None:
            assert all(row[name] is None for name in NUMBERS), row
            continue
        assert point["role"] == row["role"]
        for name in NUMBERS:
            assert point[name] == row[name], (row, name, point[name])
        compared += 1
    assert not points, f"{len(points)} points that the ledger does not have"
    assert compared > 1000
    print(f"{compared} channel points equal the ledger")


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
            time.sleep(0.2)
            check_channels(plant, store, check_shots(plant, store))
            assert not plant.query("SELECT * FROM refusal")
    return 0


if __name__ == "__main__":
    sys.exit(main())
