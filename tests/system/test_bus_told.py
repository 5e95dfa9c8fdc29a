# SPDX-License-Identifier: GPL-3.0-or-later
"""What the real daemon tells of its buses: a serial port that is missing, set points that
are read as each heat begins, also while a reload goes on, and the devices' counts in a real InfluxDB."""

import json
import signal
import sys
import time

import influx
import recordings
from plant import Plant, wait_for

MISSING = """
[bus loop]
port = {port}
baud = 19200
parity = even

[device dryer]
line = line-3
bus = loop
unit_id = 7
period_ms = 1000

[channel dryer.air]
role = other
table = input
address = 0
type = int16
"""


def device_of(plant, name):
    code, told, _ = plant.evensoak("status", "--format", "json")
    rows = {row["device"]: row for row in json.loads(told)["devices"]}
    return code, rows.get(name)


def a_missing_port_costs_its_device_alone():
    with Plant(rate=240, sheets=6) as plant:
        plant.start_line()
        port = plant.path("ttyUSB0")
        plant.write_config(MISSING.format(port=port))
        plant.start_daemon()
        wait_for("the dryer to be silent",
                 lambda: (device_of(plant, "dryer")[1] or {}).get("state") == "silent")
        code, told, _ = plant.evensoak("status")
        assert code == 1, told
        assert f"wrong: device dryer: open '{port}': there is no such port" in told, told
        assert "what is lost with the connection or the port" in told, told
        code, dryer = device_of(plant, "dryer")
        assert dryer["why"] == "lost" and dryer["bus"] == "loop", dryer
        assert dryer["requests"] == 0 and dryer["failures"] > 0, dryer
        wait_for("the ovens to be counted", lambda: plant.query(
            "SELECT 1 FROM device WHERE device = 'ovens' AND good > 0"))
        _, ovens = device_of(plant, "ovens")
        assert ovens["state"] == "ok" and ovens["good"] > 0, ovens
        assert ovens["requests"] == sum(ovens[kind] for kind in (
            "good", "illegal", "busy", "fault", "gateway", "none", "wrong", "lost")), ovens
        plant.wait_line()
        plant.stop_daemon()
        assert len(plant.shots()) >= 5
        assert not plant.query("SELECT * FROM device")  # nobody counts any more


def set_points_are_read_as_a_heat_begins():
    """Once in an hour else: what is read more often was hurried."""
    rate = 60
    with Plant(rate=rate, sheets=8, change=lambda text: text.replace(
            "[channel ovens.set_point]\n",
            "[channel ovens.set_point]\nat_heat = yes\nperiod_ms = 3600000\n")) as plant:
        plant.start_line()
        record = plant.path("record")
        plant.start_daemon(more=("--record", record))
        plant.wait_line()
        plant.stop_daemon()
        heats = [shot["heat_start_at"] for shot in plant.shots() if shot["heat_start_at"]]
        scans = [scan for scan in recordings.scans(record) if len(scan.readings) == 48]
        late_ms = []
        for heat in heats:
            after = [(scan.wall - heat) / 1e6 / rate for scan in scans
                     if scan.wall > heat]
            late_ms.append(min(after))
        print(f"{len(heats)} heats, {len(scans)} readings of the set points, "
              f"{sorted(round(ms, 1) for ms in late_ms)} ms after")
        assert len(heats) >= 6
        # The edge is seen with the next poll, half a second of the line's time; the first
        # heat may have begun before the daemon did.  Behind the last sheet frames go in
        # that nobody loaded: two or three until the simulated line ends.
        assert len(scans) <= len(heats) + 6, len(scans)
        seen = sorted(late_ms)[:len(heats) - 1]
        assert seen[-1] < 1000 / rate + 250, seen
        kept = [shot for shot in plant.shots() if shot["set_points"]]
        assert len(kept) >= len(heats) - 1


def pollers_go_and_come_while_heats_begin():
    """Each reload is of another machine: what hurries the pollers meets none for a while."""
    def at_heat(text):
        return text.replace("[channel ovens.set_point]\n",
                            "[channel ovens.set_point]\nat_heat = yes\n")
    with Plant(rate=240, sheets=40, change=at_heat) as plant:
        plant.start_line()
        plant.start_daemon()
        with open(plant.config, encoding="utf-8") as file:
            text = file.read()
        for turn in range(12):
            with open(plant.config, "w", encoding="utf-8") as file:
                file.write(text.replace("unit_id = 5\n", f"unit_id = 5\ngap_ms = {turn}\n"))
            plant.daemon.send_signal(signal.SIGHUP)
            wait_for("taking over", lambda turn=turn: plant.log("daemon.log").count(
                "is in force") == turn + 1)
            time.sleep(0.4)
        wait_for("the ovens to be read", lambda: plant.query(
            "SELECT 1 FROM device WHERE device = 'ovens' AND state = 'ok'"))
        plant.wait_line()
        plant.stop_daemon()
        assert "ThreadSanitizer" not in plant.log("daemon.log"), plant.log("daemon.log")


def counts_reach_the_store():
    with influx.Influx() as store:
        store.create_database("plant")
        settings = (f"[store central]\nkind = influxdb1\nurl = {store.url}\n"
                    "database = plant\n")
        with Plant(rate=240, sheets=30, settings=settings) as plant:
            plant.start_line()
            plant.start_daemon()
            wait_for("the devices' counts in the store",
                     lambda: len(store.points("plant", "device")) >= 4, 60)
            points = {p["device"]: p for p in store.points("plant", "device")}
            assert sorted(points) == ["controller", "ovens", "pyrometers", "water"]
            for point in points.values():
                assert point["site"] == "pond-works" and point["line"] == "line-3", point
                assert point["answering"] == 1 and point["good"] > 0, point
                assert point["requests"] >= point["good"], point
            plant.wait_line()
            wait_for("the backlog to be delivered",
                     lambda: len(store.points("plant", "shot")) == len(plant.shots()), 60)
            plant.stop_daemon()
            assert not plant.query("SELECT * FROM refusal")


def main():
    a_missing_port_costs_its_device_alone()
    set_points_are_read_as_a_heat_begins()
    pollers_go_and_come_while_heats_begin()
    if not influx.available():
        print("no influxd here (Debian package influxdb)")
        return 77
    counts_reach_the_store()
    return 0


if __name__ == "__main__":
    sys.exit(main())
