# SPDX-License-Identifier: GPL-3.0-or-later
"""The real daemon on servers that misbehave: no reading in its recording, which is what
its trackers got, is one that the server did not hold at that address while it was asked;
once the servers behave, so do all devices.

The clock runs at 20 times the true one: a period of 2 s is 100 ms.  Time-outs are true;
what the servers wait for is measured in them, so that a byte a second of a device that has
a second is a byte in 50 ms here.
"""

import collections
import contextlib
import json
import os
import signal
import sys
import time

import bus
import bus_changing
from plant import wait_for

sys.path.insert(0, bus.SERVERS)
import liar  # noqa: E402

RATE, PERIOD_MS, TIMEOUT_MS = 20, 2000, 50
PORTS, UNIT_ID = 8, 17  # TCP servers, each alone on its bus
LINES, SERIAL_UNITS = 3, (1, 2)  # serial lines, and the units on each
LYING_S, HONEST_S = 15, 3
LAST = 20  # scans of a serial line that must be good at the end
STALLS = 5  # but for those that a busy test machine stalls for a time-out
# On it an answer that drips goes on for a while, into everybody's answers.
DRIP_S = 35 * TIMEOUT_MS / 1000
# A unit on a shared line that failed thrice in a row is left alone for 120 times as long as
# asking it took, and for 30 s of the clock at least: then it must be back.
LEFT_ALONE_S = 40
def check(plant, devices, honest_ns):
    """Good and other scans of each device while lied to, and since."""
    before, since = collections.Counter(), collections.defaultdict(list)
    for scan, sent, good in bus_changing.judged(plant, devices):
        name, _ = devices[scan.device]
        if sent > honest_ns:
            since[name].append(good)
        else:
            before[(name, good)] += 1
    return before, since


def check_recovery(name, good):
    """`good`: of each scan since the server is honest."""
    print(f"{name}: of {len(good)} scans since, not good: "
          f"{[i for i, one in enumerate(good) if not one]}")
    assert len(good) > LAST
    if name.startswith("tcp"):
        assert any(good[:3])  # one may still find out that its connection is gone
        assert good[1:].count(False) <= STALLS
    else:
        assert good[-LAST:].count(False) <= STALLS


def judge(plant, devices, told):
    before, since = check(plant, devices, told["honest_ns"])
    print(f"{told['lies']} misbehaviours in {told['requests']} requests: {told['told']}")
    print(f"scans while lied to: {dict(before)}")
    assert told["lies"] >= liar.LEAST, told
    assert set(liar.TCP) <= set(told["told"]), told
    assert len((set(liar.RTU) - set(liar.TCP)) & set(told["told"])) >= 3, told  # they are rare
    for name, _ in devices:
        assert before[(name, True)] > 5 and before[(name, False)] > 5, before
        check_recovery(name, since[name])


def configuration(ports, lines):
    devices = {f"tcp-{i}": (f"address = 127.0.0.1:{port}", UNIT_ID, bus_changing.channels())
               for i, port in enumerate(ports)}
    for i in range(LINES):
        devices |= {f"serial-{i}-{unit}": (f"bus = serial-{i}", unit, bus_changing.channels())
                    for unit in SERIAL_UNITS}
    buses = "".join(f"[bus serial-{i}]\nport = {line.ours}\nbaud = 115200\nparity = none\n"
                    for i, line in enumerate(lines))
    return devices, bus.configuration(devices, buses, period_ms=PERIOD_MS,
                                      timeout_ms=TIMEOUT_MS, more="holes = holding 50-60\n")


def main():
    seed = int(os.environ.get("EVENSOAK_SEED", time.time()))
    print(f"EVENSOAK_SEED={seed}")
    ports = [bus.free_port() for _ in range(PORTS)]
    with bus.Bus("", rate=RATE) as plant, contextlib.ExitStack() as stack:
        lines = [stack.enter_context(bus.SerialLine(plant, f"serial-{i}"))
                 for i in range(LINES)]
        devices, text = configuration(ports, lines)
        plant.configure(text)
        told_path = plant.path("told")
        server = bus.Server(
            [sys.executable, os.path.join(bus.SERVERS, "liar.py"), str(TIMEOUT_MS), str(seed),
             told_path, *(f"tcp:{port}" for port in ports), *(f"rtu:{line.theirs}" for line in lines)],
            lambda: all(map(bus.listens, ports)), plant.path("liar.log"))
        with server:
            plant.start()
            time.sleep(LYING_S)
            server.signal(signal.SIGUSR1)
            wait_for("honesty", lambda: os.path.exists(told_path), 60)
            time.sleep(DRIP_S)
            plant.wait_answering(len(devices), LEFT_ALONE_S)
            time.sleep(HONEST_S)
            plant.stop_daemon()
        with open(told_path, encoding="ascii") as file:
            told = json.load(file)
        assert "Traceback" not in plant.log("liar.log"), plant.log("liar.log")
        judge(plant, [(name, unit) for name, (_, unit, _) in devices.items()], told)


if __name__ == "__main__":
    main()
