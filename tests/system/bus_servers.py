#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The real daemon on a Modbus server that is not ours (pymodbus), beside a client
that is not ours (mbpoll).

The server has the registers of conf/demo.ini and no others: a read that crosses a
hole is answered with exception 2.  All four devices are units of one address, so one
connection carries them.  The machine's bits turn a carousel with constant readings;
what the ledger says of them must be what was put into the registers, coded here with
Python's struct, and what mbpoll reads there.
"""

import os
import shutil
import struct
import subprocess
import sys
import threading
import time

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import bus
import influx
import plant as plants

RATE = 40
CYCLE_S, INDEX_S, CLOSE_S, OPEN_S, SAG_S = 75, 8, 11, 50, 60
SENSOR_FAULT = 0x7FFF
DEVICES = ("controller", "pyrometers", "ovens", "water")  # of a plain rotary

# What the sensors tell; every one something else.
SURFACES = [151.3, 152.4, -12.5, 154.6, 155.7, 156.8]
STACK, AMBIENT = 21.7, -3.4
ZONES_TOP = [0.300 + 0.007 * i for i in range(24)]
ZONES_BOTTOM = [0.4021 + 0.0057 * i for i in range(24)]
TOOLS = [60.125 + 1.0625 * i for i in range(8)]
RETURNS = [41.5 + 0.3 * i for i in range(8)]
SUPPLY = 38.390625
FLOWS_L_MIN = [11.3 + 0.9 * i for i in range(8)]


# --- the server -----------------------------------------------------------------------

def word(value):
    return struct.unpack(">H", struct.pack(">h", round(value)))[0]


def float_words(value, order):
    a, b, c, d = struct.pack(">f", value)
    wire = {"cdab": (c, d, a, b), "badc": (b, a, d, c)}[order]
    return list(struct.unpack(">HH", bytes(wire)))


def block(values, *spans):
    """Registers first..last of each span, 0 where `values` has none."""
    from pymodbus.datastore import ModbusSparseDataBlock
    cells = {at: 0 for first, last in spans for at in range(first, last + 1)}
    for first, words in values.items():
        cells.update(zip(range(first, first + len(words)), words))
    return ModbusSparseDataBlock(cells)


def units():
    from pymodbus.datastore import ModbusSlaveContext
    line = ModbusSlaveContext(
        di=block({}, (0, 2)),
        hr=block({10: [0b111, 12, 0, 0]}, (10, 13)),
        ir=block({0: [word(t * 10) for t in SURFACES],
                  20: [word(STACK * 10), word(AMBIENT * 10)]}, (0, 5), (20, 21)),
        zero_mode=True)
    water = ModbusSlaveContext(
        hr=block({**{2 * i: float_words(t, "cdab") for i, t in enumerate(TOOLS)},
                  40: [word(t * 10) for t in RETURNS],
                  60: float_words(SUPPLY, "badc"),
                  70: [word(f * 10) for f in FLOWS_L_MIN]},
                 (0, 15), (40, 47), (60, 61), (70, 77)),
        zero_mode=True)
    ovens = ModbusSlaveContext(
        hr=block({0: [word(u * 1000) for u in ZONES_TOP],
                  100: [word(u * 10000) for u in ZONES_BOTTOM],
                  200: [0x86A0, 0x0001],
                  300: [word(u * 1000) for u in ZONES_TOP + ZONES_BOTTOM]},
                 (0, 201), (300, 347)),
        zero_mode=True)
    return {1: line, 2: water, 5: ovens}


def turn(line, origin_ns):
    """One sheet after another, all alike."""
    def put(function, address, value):
        line.setValues(function, address, [value])

    def until(at_s):
        left_s = origin_ns / 1e9 + at_s / RATE - time.monotonic()
        if left_s > 0:
            time.sleep(left_s)

    first = int((time.monotonic() - origin_ns / 1e9) * RATE / CYCLE_S) + 1
    for cycle in range(first, 10**6):
        start = cycle * CYCLE_S
        until(start)
        put(2, 2, 0)
        put(2, 0, 1)
        until(start + INDEX_S)
        put(2, 0, 0)
        line.setValues(3, 12, [cycle >> 16, cycle & 0xFFFF])
        until(start + CLOSE_S)
        put(2, 1, 1)
        until(start + OPEN_S)
        put(2, 1, 0)
        until(start + SAG_S)
        put(2, 2, 1)


def serve(port, origin_ns, broken):
    from pymodbus.datastore import ModbusServerContext
    from pymodbus.factory import ServerDecoder
    from pymodbus.server import StartTcpServer
    bus.tell_functions(ServerDecoder)
    slaves = units()
    if broken:
        slaves[1].setValues(4, 1, [SENSOR_FAULT])
    threading.Thread(target=turn, args=(slaves[1], origin_ns), daemon=True).start()
    StartTcpServer(context=ModbusServerContext(slaves=slaves, single=False),
                   address=("127.0.0.1", port), allow_reuse_address=True)


class Server:
    def __init__(self, origin_ns):
        self.origin_ns = origin_ns
        self.port = influx.free_ports(1)[0]
        self.process = None

    def start(self, broken=False):
        self.process = subprocess.Popen(
            [sys.executable, os.path.abspath(__file__), "--serve", str(self.port),
             str(self.origin_ns), "broken" if broken else "whole"],
            stdin=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        plants.wait_for("pymodbus", lambda: read_raw(self.port, 1, "3", 0, 1) != [])

    def stop(self):
        if self.process is not None:
            self.process.kill()
            self.process.wait()


def read_raw(port, unit, kind, first, count):
    """What mbpoll prints for registers; `kind` is its -t."""
    done = subprocess.run(
        ["mbpoll", "-q", "-m", "tcp", "-p", str(port), "-a", str(unit), "-0",
         "-r", str(first), "-c", str(count), "-t", kind, "-1", "127.0.0.1"],
        stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=20, check=False)
    lines = [line for line in done.stdout.splitlines() if line.startswith("[")]
    return [float(line.split(":")[1].split()[0]) for line in lines]


# --- what is checked ------------------------------------------------------------------

def channels_of(plant, shot_no):
    rows = plant.query(
        "SELECT c.device || '.' || c.name AS channel, c.unit, s.* FROM shot_channel s"
        " JOIN channel c ON c.id = s.channel JOIN shot ON shot.id = s.shot"
        " WHERE shot.shot_no = ?", shot_no)
    return {row["channel"]: row for row in rows}


def complete(plant):
    return [shot["shot_no"] for shot in plant.shots() if shot["outcome"] == "complete"]


def device_states(plant):
    rows = plant.query("SELECT subject, state, text FROM health")
    return {row["subject"].split()[1]: row for row in rows
            if row["subject"].startswith("device ")}


def expected():
    family = lambda name, values: {f"{name}_{i + 1}": v for i, v in enumerate(values)}
    return {
        **family("pyrometers.surface_top", SURFACES[:3]),
        **family("pyrometers.surface_bottom", SURFACES[3:]),
        "pyrometers.stack": STACK, "pyrometers.ambient": AMBIENT,
        **family("ovens.zone_top", [round(u, 3) for u in ZONES_TOP]),
        **family("ovens.zone_bottom", [round(u, 4) for u in ZONES_BOTTOM]),
        **family("water.tool", TOOLS),
        **family("water.water_return", RETURNS),
        "water.water_supply": SUPPLY,
        **family("water.water_flow", [f / 60000 for f in FLOWS_L_MIN]),  # m3/s
    }


def near(got, wanted):
    return got is not None and abs(got - wanted) <= 1e-9 * abs(wanted)


def check_values(plant, shot_no):
    rows = channels_of(plant, shot_no)
    told = 0
    for channel, value in expected().items():
        if channel not in rows:
            continue  # a channel that no window is about
        row, told = rows[channel], told + 1
        for kind in ("min", "mean", "max", "last"):
            assert near(row[kind], value), f"{channel}: {kind} {row[kind]} not {value}"
        assert row["coverage"] > 0.9, f"{channel}: coverage {row['coverage']}"
    assert told >= 70, f"only {told} channels of a shot told: {sorted(rows)}"
    return rows


def check_against_mbpoll(rows, port):
    surfaces = read_raw(port, 1, "3", 0, 6)
    tools = read_raw(port, 2, "4:float", 0, 8)
    zones = read_raw(port, 5, "4", 100, 24)
    for i in range(3):
        assert near(rows[f"pyrometers.surface_bottom_{i + 1}"]["last"],
                    surfaces[3 + i] / 10)
    for i in range(8):
        assert near(rows[f"water.tool_{i + 1}"]["last"], tools[i])
    for i in range(24):
        assert near(rows[f"ovens.zone_bottom_{i + 1}"]["last"], zones[i] / 10000)


def check_sensor_fault(plant, shot_no):
    rows = channels_of(plant, shot_no)
    row = rows["pyrometers.surface_top_2"]
    assert row["absent"] == "sensor_fault" and row["last"] is None, row
    assert near(rows["pyrometers.surface_top_1"]["last"], SURFACES[0])


def run(plant, server):
    server.start()
    plant.ready = {device: server.port for device in DEVICES}
    plant.ready["clock-origin-ns"] = str(server.origin_ns)
    plant.write_config()
    plant.start_daemon()
    plants.wait_for("all devices to answer",
                    lambda: plant.log("daemon.log").count("' answers\n") == 4)
    plants.wait_for("two complete shots", lambda: len(complete(plant)) >= 2, 60)
    rows = check_values(plant, complete(plant)[-1])
    check_against_mbpoll(rows, server.port)

    server.stop()
    plants.wait_for("silence to be told", lambda: all(
        row["state"] == "silent" and "Connection refused" in row["text"]
        for row in device_states(plant).values()), 30)
    before = complete(plant)[-1]
    server.start(broken=True)
    plants.wait_for("all devices to answer again", lambda: all(
        row["state"] == "ok" for row in device_states(plant).values()), 30)
    plants.wait_for("three more complete shots",
                    lambda: len([n for n in complete(plant) if n > before]) >= 3, 60)
    check_sensor_fault(plant, complete(plant)[-1])
    plant.stop_daemon()
    log = plant.log("daemon.log")
    for device in DEVICES:
        for text in (f"device '{device}' answers\n", f"device '{device}' silent: ",
                     f"device '{device}' answers again after "):
            assert log.count(text) == 1, f"{log.count(text)} times: {text}\n{log}"


def main():
    if sys.argv[1:2] == ["--serve"]:
        serve(int(sys.argv[2]), int(sys.argv[3]), sys.argv[4] == "broken")
    try:
        import pymodbus.server  # noqa: F401
    except ImportError as missing:
        print(f"python3-pymodbus cannot be used: {missing}")
        sys.exit(77)
    if shutil.which("mbpoll") is None:
        print("there is no mbpoll")
        sys.exit(77)
    server = Server(time.monotonic_ns())
    try:
        with plants.Plant(rate=RATE) as plant:
            try:
                run(plant, server)
            except BaseException:
                if os.path.exists(plant.path("daemon.log")):
                    print(plant.log("daemon.log"))
                raise
    finally:
        server.stop()


if __name__ == "__main__":
    main()
