# SPDX-License-Identifier: GPL-3.0-or-later
"""One of everything read by the real daemon from a server that is not ours: what the
daemon recorded, what `evensoak watch`, `check --live` and `registers` show beside it and
what mbpoll reads must be what was put into the registers, to the bit.
"""

import json
import struct
import time

import bus
import recordings

PERIOD_MS = 250
SCANS = 8  # of each device, at least


def raw_of(channel):
    """What the daemon must have read for a channel."""
    if channel.kind in ("bit", "uint16", "uint32"):
        return channel.value
    code = {"int16": ">h", "int32": ">i", "float32": ">f"}[channel.kind]
    return int.from_bytes(struct.pack(code, channel.value), "big")


def check_recording(path, zoos):
    """`zoos`: the channels of each device, in the configuration's order."""
    good = [0] * len(zoos)
    for scan in recordings.scans(path):
        channels = zoos[scan.device]
        readings = scan.readings
        if scan.device == 0:
            assert len(readings) == len(channels) + 2  # the machine's bits
            readings = readings[2:]
        assert len(readings) == len(channels), (scan.device, len(readings))
        if any(what != recordings.READ for what, _ in readings):
            continue
        good[scan.device] += 1
        for channel, (_, raw) in zip(channels, readings):
            wanted = raw_of(channel)
            if channel.bit is not None:  # the whole register is kept
                raw = raw >> channel.bit & 1
            assert raw == wanted, f"{scan.device} {channel.name}: {raw:#x}, not {wanted:#x}"
    assert all(count >= SCANS for count in good), good
    return good


def same(shown, value):
    """As printed: twelve digits are more than a float32 has, an int32 needs ten."""
    return shown is not None and abs(shown - value) <= 1e-11 * abs(value)


def check_watch(plant, zoos):
    shown = bus.watched(plant)
    for (name, _), channels in zoos.items():
        for channel in channels:
            value, quality = shown[(name, channel.name)]
            assert quality == "good", (name, channel.name, quality)
            assert same(value, channel.value), (name, channel.name, value, channel.value)


def check_live(plant, zoos):
    """`evensoak check --live`: value, and the registers as they came."""
    code, told, wrong = plant.evensoak("check", "--live", "--format", "json")
    rows = {(row["device"], row["channel"]): row
            for row in json.loads(told)["live_channels"]}
    assert code == 0, (code, wrong, {(row["device"], row["why"]) for row in rows.values()})
    for (name, _), channels in zoos.items():
        cells = bus.cells_of(channels)
        for channel in channels:
            row = rows[(name, channel.name)]
            assert row["quality"] == "good" and same(row["value"], channel.value), row
            words = 2 if channel.order else 1
            wanted = [cells[(bus.TABLES[channel.table], channel.address + i)]
                      for i in range(words)]
            assert [int(word, 16) for word in row["raw"].split()] == wanted, row


def check_registers(plant, device, channels):
    """`evensoak registers`: every register, and each channel's own reading among those
    that it could have."""
    cells = bus.cells_of(channels)
    for table, function in bus.TABLES.items():
        addresses = [address for f, address in cells if f == function]
        code, told, wrong = plant.evensoak(
            "registers", "--device", device, "--table", table, "--first",
            str(min(addresses)), "--count", str(max(addresses) - min(addresses) + 1),
            "--format", "json")
        assert code == 0, (code, wrong)
        rows = {row["address"]: row for row in json.loads(told)["registers"]}
        for address in addresses:
            raw = int(rows[address]["hex"], 16) if function > 2 else rows[address]["bit"]
            assert raw == cells[(function, address)], rows[address]
        for channel in channels:
            if channel.table == table and channel.kind != "bit":
                column = "_".join(filter(None, (channel.kind, channel.order)))
                shown = rows[channel.address][column]
                assert same(shown, channel.value), (channel.name, shown, channel.value)


def check_mbpoll(where, unit, channels):
    """The same by another client; of floats also what it makes of their words."""
    cells = bus.cells_of(channels)
    assert bus.mbpoll_cells(where, unit, cells) == cells
    floats = {c.order: c for c in channels if c.kind == "float32" and c.table == "holding"}
    for order, words in (("abcd", ["-B"]), ("cdab", [])):
        channel = floats[order]
        shown = float(bus.mbpoll([*words, *where], unit, "4:float", channel.address, 1)[0])
        assert abs(shown - channel.value) <= 1e-5 * abs(channel.value), (order, shown)


def check_run(plant, zoos, period_ms=PERIOD_MS):
    """The daemon runs and all answer: the commands beside it, then its recording."""
    check_watch(plant, zoos)
    check_live(plant, zoos)
    for (name, _), channels in zoos.items():
        check_registers(plant, name, channels)
    time.sleep((SCANS + 2) * period_ms / 1000)
    plant.stop_daemon()
    good = check_recording(plant.recording, list(zoos.values()))
    print(f"{sum(len(c) for c in zoos.values())} channels, full scans of each device: {good}")


def over_tcp(units, serve):
    """All units behind one socket; `serve(plant, port, cells)` makes the server."""
    zoos = {(f"unit-{unit}", unit): bus.zoo(unit) for unit in units}
    port = bus.free_port()
    text = bus.configuration(
        {name: (f"address = 127.0.0.1:{port}", unit, channels)
         for (name, unit), channels in zoos.items()}, period_ms=PERIOD_MS)
    with bus.Bus(text) as plant:
        cells = plant.path("cells")
        bus.write_cells(cells, {unit: channels for (_, unit), channels in zoos.items()})
        with serve(plant, port, cells):
            plant.start()
            plant.wait_answering(len(zoos))
            for (_, unit), channels in zoos.items():
                check_mbpoll(bus.mbpoll_tcp(port), unit, channels)
            check_run(plant, zoos)
            assert "silent" not in plant.log("daemon.log"), plant.log("daemon.log")
