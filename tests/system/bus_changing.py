# SPDX-License-Identifier: GPL-3.0-or-later
"""Devices whose registers change all the time (servers/liar.py), for system tests: what is
read from them, and whether the daemon's recording has what they held just then.
"""

import os
import sys

import bus
import recordings
from plant import START, ns_of

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "servers"))
import liar  # noqa: E402

# Two blocks of one length in one table; all tables; both widths.
STRETCHES = [("holding", 0, 10, "uint16"), ("holding", 100, 10, "uint16"),
             ("input", 100, 5, "uint32"), ("coil", 7, 40, "bit"),
             ("discrete", 7, 40, "bit")]


def channels():
    found = []
    for table, first, count, kind in STRETCHES:
        for i in range(count):
            address = first + (2 * i if kind == "uint32" else i)
            found.append(bus.Channel(f"{table}_{address}", table, address, kind, None,
                                     "abcd" if kind == "uint32" else None))
    return found


def held(unit, stretch, epoch):
    table, first, count, kind = stretch
    function = bus.TABLES[table]
    if kind == "uint32":
        words = [liar.value(unit, function, first + i, epoch) for i in range(2 * count)]
        return [words[2 * i] << 16 | words[2 * i + 1] for i in range(count)]
    return [liar.value(unit, function, first + i, epoch) for i in range(count)]


def check_scan(unit, readings, epochs, stretches):
    """Whether all of it is good; fails where something good is wrong."""
    at, all_good = 0, True
    for stretch in stretches:
        part = readings[at:at + stretch[2]]
        at += stretch[2]
        kinds = {what for what, _ in part}
        assert kinds in ({recordings.READ}, {recordings.COMM_FAULT}), (stretch, kinds)
        if kinds == {recordings.COMM_FAULT}:
            all_good = False
            continue
        raw = [bits for _, bits in part]
        assert any(raw == held(unit, stretch, epoch) for epoch in epochs), (
            f"unit {unit} never held that at {stretch} then: {raw}")
    assert at == len(readings)
    return all_good


def judged(plant, devices, machines=(0,), stretches=lambda device: STRETCHES):
    """(scan, when it was sent, whether all of it is good) of a recording; fails where
    something good is not what the server held while it was asked.  `devices`: (name, unit)
    in the configuration's order; those in `machines` have the machine's bits before."""
    def mono_ns(clock_ns):
        return (clock_ns - ns_of(START)) // plant.rate + int(plant.ready["clock-origin-ns"])
    for scan in recordings.scans(plant.recording):
        sent = mono_ns(scan.wall - (scan.at - scan.sent))
        epochs = range(liar.epoch_of(sent), liar.epoch_of(mono_ns(scan.wall)) + 1)
        readings = scan.readings[2:] if scan.device in machines else scan.readings
        yield scan, sent, check_scan(devices[scan.device][1], readings, epochs,
                                     stretches(scan.device))
