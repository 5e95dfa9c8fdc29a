# SPDX-License-Identifier: GPL-3.0-or-later
"""A gateway with several units behind one socket: it hangs, it is switched off and on
again, and each time all of its units are read as before.

The clock runs at 3 times the true one, since units that were silent are left alone for
half a minute and more.
"""

import signal
import time

import bus
import bus_changing

RATE, PERIOD_MS, TIMEOUT_MS = 3, 600, 100
UNITS = range(1, 7)
STEADY_S = 3
STALLS = 3  # scans that a busy test machine may stall for a time-out
# Silent units are left alone for 120 times as long as asking them took, or 30 s.
LEFT_ALONE_S = 30


def states(plant):
    return {row["state"] for row in plant.device_states().values()}


def wait_silent(plant):
    bus.wait_for("silence", lambda: states(plant) == {"silent"}, 20)


def hangs(plant, gateway):
    """It takes requests and answers none: the connection stays."""
    gateway.signal(signal.SIGSTOP)
    wait_silent(plant)
    gateway.signal(signal.SIGCONT)


def power_cycle(plant, gateway):
    """Nobody is there for a while."""
    gateway.stop()
    wait_silent(plant)
    gateway.start()


def main():
    port = bus.free_port()
    devices = [(f"unit-{unit}", unit) for unit in UNITS]
    text = bus.configuration(
        {name: (f"address = 127.0.0.1:{port}", unit, bus_changing.channels())
         for name, unit in devices}, period_ms=PERIOD_MS, timeout_ms=TIMEOUT_MS)
    with bus.Bus(text, rate=RATE) as plant, bus.honest_server(
            plant, "gateway", [port], TIMEOUT_MS) as gateway:
        plant.start()
        plant.wait_answering(len(devices))
        back = []
        for trouble in (hangs, power_cycle, power_cycle):
            trouble(plant, gateway)
            start = time.monotonic()
            plant.wait_answering(len(devices), LEFT_ALONE_S)
            print(f"after {trouble.__name__}: all answer after {time.monotonic() - start:.1f} s")
            back.append(time.monotonic_ns())
            time.sleep(STEADY_S)
        plant.stop_daemon()
        bad = 0
        good = {name: [0] * len(back) for name, _ in devices}
        for scan, sent, all_good in bus_changing.judged(plant, devices):
            name = devices[scan.device][0]
            for i, since in enumerate(back):
                if since < sent < since + STEADY_S * 1e9:
                    bad += not all_good
                    good[name][i] += all_good
        print(f"full scans after each: {good}; others: {bad}")
        assert bad <= STALLS
        assert all(min(counts) >= 4 for counts in good.values())


if __name__ == "__main__":
    main()
