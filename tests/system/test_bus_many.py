# SPDX-License-Identifier: GPL-3.0-or-later
"""One daemon with 10 lines, 64 devices and 3,000 channels, each read once a second: every
device answers in full, no scan is late, lost or wrong, and memory stays within a bound.
Then a device dies, which costs nobody else a scan, and comes back.
"""

import time

import bus
import bus_changing

LINES, DEVICES, CHANNELS = 10, 64, 3000
PROCESSES, PORTS_EACH = 3, 15
# The rest share a socket with another unit.  The one that dies is alone on its own.
MORTAL = 20
PERIOD_MS, TIMEOUT_MS = 1000, 1000
RUN_S, DEAD_S = 20, 4
MEMORY_MB = 40
LATE_RATIO = 0.002  # of scans; this test machine may be busy

HEAD = """[site]
name = pond-works
timezone = Europe/Berlin
[ledger]
path = ledger.db
"""


def line_of(device):
    return device % LINES


def machines():
    """The first device of each line carries the machine's bits."""
    return range(LINES)


def channels_of(device):
    """3,000 in all, in two tables, the machine's two bits of each line among them."""
    count = CHANNELS // DEVICES + (device < CHANNELS % DEVICES)
    count -= 2 if device in machines() else 0
    half = count // 2
    return ([bus.Channel(f"top_{i}", "holding", 20 + i, "uint16", None)
             for i in range(half)]
            + [bus.Channel(f"bottom_{i}", "input", 300 + i, "uint16", None)
               for i in range(count - half)])


def stretches_of(device):
    channels = channels_of(device)
    half = len(channels) // 2
    return [("holding", 20, half, "uint16"), ("input", 300, len(channels) - half, "uint16")]


def configuration(where):
    parts = [HEAD]
    for line in range(LINES):
        parts.append(f"[line line-{line}]\nmachine = rotary\nstations = load, oven, form\n"
                     "heat_timer_s = 230\n")
    for device, (port, unit) in enumerate(where):
        parts.append(f"[device d-{device}]\nline = line-{line_of(device)}\n"
                     f"address = 127.0.0.1:{port}\nunit_id = {unit}\n"
                     f"period_ms = {PERIOD_MS}\ntimeout_ms = {TIMEOUT_MS}\n")
        if device in machines():
            parts.append(bus.MACHINE.format(f"d-{device}"))
        parts += [channel.section(f"d-{device}") for channel in channels_of(device)]
    return "\n".join(parts)


def memory_mb(process, what):
    with open(f"/proc/{process.pid}/status", encoding="ascii") as file:
        for row in file:
            if row.startswith(what + ":"):
                return int(row.split()[1]) / 1024
    raise AssertionError(what)


def check_recording(plant, where, died_ns, back_ns):
    """All scans of all devices; the mortal one's may be missing while it was dead."""
    full, bad = [0] * DEVICES, [0] * DEVICES
    for scan, sent, good in bus_changing.judged(
            plant, where, machines(), lambda device: stretches_of(device)):
        if scan.device == MORTAL and died_ns - 2e9 < sent < back_ns + 2e9:
            continue
        full[scan.device] += good
        bad[scan.device] += not good
    assert sum(bad) == 0, [(i, count) for i, count in enumerate(bad) if count]
    others = [count for device, count in enumerate(full) if device != MORTAL]
    print(f"full scans: {min(others)} to {max(others)} of each device, none other")
    assert min(others) >= RUN_S and max(others) - min(others) <= 2, full
    return sum(full)


def check_counts(plant):
    """What the daemon itself counts."""
    rows = plant.query("SELECT * FROM device WHERE device <> ?", f"d-{MORTAL}")
    assert len(rows) == DEVICES - 1
    for row in rows:
        failed = {column: row[column] for column in
                  ("failures", "illegal", "busy", "fault", "gateway", "none", "wrong", "lost")}
        assert not any(failed.values()), (row["device"], failed)
    scans, late = (sum(row[column] for row in rows) for column in ("scans", "late"))
    worst_s = max(row["late_worst_s"] for row in rows)
    print(f"counted: {scans} scans, {late} late by a period; at worst {worst_s * 1000:.1f} ms")
    assert late <= LATE_RATIO * scans, (late, scans)


def run(plant, where, mortal):
    plant.start()
    plant.wait_answering(DEVICES, 60)
    time.sleep(RUN_S)
    mortal.stop()
    died_ns = time.monotonic_ns()
    time.sleep(DEAD_S)
    bus.wait_for("its death to be told", lambda: [
        name for name, row in plant.device_states().items() if row["state"] != "ok"]
        == [f"d-{MORTAL}"], 30)
    mortal.start()
    back_ns = time.monotonic_ns()
    plant.wait_answering(DEVICES, 30)
    code, told, _ = plant.evensoak("status", "--format", "json")
    assert code == 0, told
    check_counts(plant)
    resident, most = memory_mb(plant.daemon, "VmRSS"), memory_mb(plant.daemon, "VmHWM")
    assert ", 0 lost" in told, told
    plant.stop_daemon()
    scans = check_recording(plant, where, died_ns, back_ns)
    print(f"{scans} scans of {CHANNELS} channels; memory {resident:.1f} MB, at most {most:.1f}")
    return most


def main():
    free = [bus.free_port() for _ in range(PROCESSES * PORTS_EACH + 1)]
    mortal_port, ports = free[0], free[1:]
    where = [(ports[device % len(ports)], 1 + device // len(ports))
             for device in range(DEVICES)]
    where[MORTAL] = (mortal_port, 1)
    with bus.Bus(configuration(where)) as plant:
        servers = [bus.honest_server(plant, f"server-{i}", ports[i::PROCESSES])
                   for i in range(PROCESSES)]
        mortal = bus.honest_server(plant, "mortal", [mortal_port])
        with servers[0], servers[1], servers[2], mortal:
            most = run(plant, [(f"d-{i}", unit) for i, (_, unit) in enumerate(where)], mortal)
        if bus.is_sanitized():
            print("memory is not judged: built with a sanitizer")
        else:
            assert most < MEMORY_MB, most


if __name__ == "__main__":
    main()
