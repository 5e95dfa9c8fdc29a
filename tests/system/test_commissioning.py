#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The first hour at a machine: `evensoak registers` and `check --live` on a server that is
not ours (pymodbus), over TCP and over a serial line, beside a client that is not ours
(mbpoll) and beside the daemon.

What a register holds is coded here with Python's struct and nothing of evensoak's.
"""

import csv
import io
import json
import os
import socket
import struct
import subprocess
import time

import bus
import recordings
from plant import program

UNIT = 3
# 123.456 is 42F6 E979 as an IEEE 754 binary32, 123456 is 47F1 2000.
FLOATS = {"abcd": (0x42F6, 0xE979), "badc": (0xF642, 0x79E9), "cdab": (0xE979, 0x42F6),
          "dcba": (0x79E9, 0xF642)}
LARGE = (0x47F1, 0x2000)
FIRST, COUNT = 95, 60
HOLES = (*range(95, 100), 108, 109, *range(130, 145), 150)


def holding():
    """{address: register}: tenths, sentinels, floats in four orders, a counter."""
    cells = {100 + i: tenths & 0xFFFF
             for i, tenths in enumerate((1853, 1861, -125, 2017, 224, 219, 0x7FFF, 0))}
    for i, words in enumerate((*FLOATS.values(), LARGE)):
        cells[110 + 2 * i], cells[111 + 2 * i] = words
    for address in range(120, FIRST + COUNT):
        cells[address] = address * 257 & 0xFFFF
    return {a: w for a, w in cells.items() if a not in HOLES}


def write(path):
    with open(path, "w", encoding="ascii") as file:
        for address, word in holding().items():
            print(UNIT, 3, address, word, file=file)
            print(UNIT, 4, address, word ^ 0xFFFF, file=file)
        for address in range(23):
            print(UNIT, 1, address, int(address % 3 == 0), file=file)
            print(UNIT, 2, address, int(address % 5 == 0), file=file)


def rows_of(plant, *words):
    code, told, wrong = plant.evensoak("registers", *words, "--format", "csv")
    assert code == 0, (code, told, wrong)
    return {int(row["address"]): row for row in csv.DictReader(io.StringIO(told))}


def check_values(rows, cells):
    """Every decoding of every register, against struct."""
    for address, row in rows.items():
        assert int(row["address_from_1"]) == address + 1
        if address not in cells:
            assert row["state"] == "refused" and row["uint16"] == "", row
            continue
        word = cells[address]
        signed = struct.unpack(">h", struct.pack(">H", word))[0]
        assert row["state"] == "there" and int(row["hex"], 16) == word, row
        assert int(row["uint16"]) == word and int(row["int16"]) == signed
        assert abs(float(row["tenths"]) - signed / 10) < 1e-9
        assert abs(float(row["hundredths"]) - signed / 100) < 1e-9
        assert row["bits"].replace(" ", "") == f"{word:016b}"
        for order, places in bus.ORDERS.items():
            if address + 1 not in rows or address + 1 not in cells:
                assert row[f"float32_{order}"] == row[f"int32_{order}"] == ""
                continue
            wire = struct.pack(">HH", word, cells[address + 1])
            value = bytearray(4)
            for i, place in enumerate(places):
                value[place] = wire[i]
            for key, kind in (("float32", ">f"), ("uint32", ">I"), ("int32", ">i")):
                wanted = struct.unpack(kind, value)[0]
                got = row[f"{key}_{order}"]
                if wanted != wanted or abs(wanted) == float("inf"):
                    assert got == "", (address, order, got)
                else:
                    assert float(got) == wanted, (address, key, order, got, wanted)


def check_orders(rows):
    """The published value is found in each order, and marked in no other."""
    for i, order in enumerate(FLOATS):
        row = rows[110 + 2 * i]
        assert abs(float(row[f"float32_{order}"]) - 123.456) < 1e-5, row
        assert f"float32_{order}" in row["likely"].split(), row
        assert row["likely"].count("float32") == 1, row
    assert float(rows[118]["float32_abcd"]) == 123456


def check_mbpoll(where, rows):
    """The same registers by another client, block by block between the holes."""
    there = [a for a, row in rows.items() if row["state"] == "there"]
    at = there[0]
    while at <= there[-1]:
        count = 1
        while at + count in there:
            count += 1
        values = bus.mbpoll(where, UNIT, "4:hex", at, count)
        assert [int(v, 16) for v in values] == [int(rows[a]["hex"], 16)
                                                for a in range(at, at + count)], at
        at = min((a for a in there if a >= at + count), default=there[-1] + 1)
    for order, words in (("abcd", ["-B"]), ("cdab", [])):
        address = 110 + 2 * list(FLOATS).index(order)
        shown = float(bus.mbpoll([*words, *where], UNIT, "4:float", address, 1)[0])
        assert abs(shown - float(rows[address][f"float32_{order}"])) < 1e-3, (order, shown)


def check_pages(plant, where):
    """What people read."""
    words = ("registers", *where, "--first", str(FIRST), "--count", str(COUNT))
    code, told, wrong = plant.evensoak(*words, "--expect", "100..130")
    assert (code, wrong) == (0, ""), wrong
    assert "\n  130..144: no such registers, the device says\n" in told, told
    assert "\n  150: no such register, the device says\n" in told, told
    assert "*123.456" in told
    code, told, wrong = plant.evensoak("registers", *where, "--document", "40115",
                                       "--count", "1")
    assert (code, wrong) == (0, ""), wrong
    assert ("\n[channel DEVICE.NAME]\nrole = other\ntable = holding\naddress = 114\n"
            "type = float32\nword_order = cdab\n") in told, told


def check_bits(plant, where):
    for table, step in (("coil", 3), ("discrete", 5)):
        rows = rows_of(plant, *where, "--table", table, "--first", "0", "--count", "30")
        for address, row in rows.items():
            wanted = {True: "true", False: "false"}[address % step == 0]
            assert row["bit"] == (wanted if address < 23 else ""), (table, row)


BUSES = "[bus line]\nport = {}\nbaud = 19200\nparity = none\n"
CHANNELS = [bus.Channel("surface", "holding", 100, "int16", 1853),
            bus.Channel("gone", "holding", 106, "int16", 0x7FFF),
            *(bus.Channel(f"float_{order}", "holding", 110 + 2 * i, "float32", 123.456, order)
              for i, order in enumerate(FLOATS))]


def live(plant, code):
    got, told, wrong = plant.evensoak("check", "--live", "--format", "json")
    assert got == code, (got, told, wrong)
    page = json.loads(told)
    return ({row["channel"]: row for row in page["live_channels"]},
            {row["device"]: row for row in page["live_devices"]})


def check_live(plant, where, dead, buses=""):
    """Every channel once, a sentinel and a device that is not there by name."""
    text = bus.configuration({"plc": (where, UNIT, CHANNELS)}, buses, timeout_ms=300)
    plant.configure(text)
    channels, devices = live(plant, 1)
    assert channels["surface"]["quality"] == "comm_fault", channels["surface"]
    assert "--first 100 --count 18' shows which are there" in devices["plc"]["why"], devices
    text = text.replace("timeout_ms = 300", "timeout_ms = 300\nholes = holding 108-109")
    plant.configure(text)
    channels, devices = live(plant, 0)
    assert devices["plc"]["answers"] == "yes" and devices["plc"]["slowest_s"] > 0, devices
    assert channels["surface"]["value"] == 1853 and channels["surface"]["raw"] == "073D"
    for order, words in FLOATS.items():
        row = channels[f"float_{order}"]
        assert abs(row["value"] - 123.456) < 1e-5, row
        assert row["raw"] == "%04X %04X" % words, row
    plant.configure(text.replace("address = 106", "address = 106\nsentinels = 0x7fff") + f"""
[device meter]
line = line-1
{dead}
unit_id = 9
timeout_ms = 300
[channel meter.hall]
role = other
table = input
address = 0
type = int16
""")
    began = time.monotonic()
    channels, devices = live(plant, 1)
    assert time.monotonic() - began < 2.5
    assert channels["gone"]["quality"] == "sensor_fault", channels["gone"]
    assert "sentinel" in channels["gone"]["why"], channels["gone"]
    assert channels["surface"]["quality"] == "good", channels["surface"]
    assert (devices["meter"]["answers"], channels["hall"]["quality"]) == ("no", "comm_fault")


def over_tcp(plant, cells):
    port = bus.free_port()
    where = ("--address", f"127.0.0.1:{port}", "--unit", str(UNIT))
    ready = bus.listens
    with bus.pymodbus_server(plant, "tcp", port, cells, lambda: ready(port)):
        rows = rows_of(plant, *where, "--first", str(FIRST), "--count", str(COUNT))
        check_values(rows, holding())
        assert sorted(a for a, r in rows.items() if r["state"] == "refused") == sorted(HOLES)
        check_orders(rows)
        check_mbpoll(bus.mbpoll_tcp(port), rows)
        inputs = rows_of(plant, *where, "--table", "input", "--first", "100", "--count", "8")
        check_values(inputs, {a: w ^ 0xFFFF for a, w in holding().items()})
        check_pages(plant, where)
        check_bits(plant, where)
        code, _, wrong = plant.evensoak("registers", *where[:2], "--unit", "77",
                                        "--timeout-ms", "200")
        assert code == 3 and "unit id" in wrong, (code, wrong)
        check_live(plant, f"address = 127.0.0.1:{port}",
                   f"address = 127.0.0.1:{bus.free_port()}")
    code, _, wrong = plant.evensoak("registers", *where)
    assert code == 3 and "Connection refused; " in wrong, (code, wrong)
    return rows


def over_serial(plant, cells, wanted):
    """The same registers through a serial port, first alone, then beside the daemon."""
    with bus.SerialLine(plant, "line") as line:
        where = ("--port", line.ours, "--baud", "19200", "--parity", "none", "--unit",
                 str(UNIT), "--timeout-ms", "500")
        block = ("--first", str(FIRST), "--count", str(COUNT))
        with bus.pymodbus_server(plant, "rtu", line.theirs, cells,
                                 lambda: bool(bus.mbpoll(bus.mbpoll_rtu(line.ours), UNIT, "4",
                                                         100, 1))):
            assert rows_of(plant, *where, *block) == wanted
            check_mbpoll(bus.mbpoll_rtu(line.ours), wanted)
            check_live(plant, "bus = line", "bus = line", BUSES.format(line.ours))
        code, _, wrong = plant.evensoak("registers", *where)
        assert code == 3 and "baud, parity" in wrong, (code, wrong)
    code, _, wrong = plant.evensoak("registers", *where)
    assert code == 3 and "no such port" in wrong, (code, wrong)


def beside_the_daemon(plant, cells, wanted):
    """Both read the same port: neither takes the other's answers."""
    with bus.SerialLine(plant, "line") as line:
        plant.configure(bus.configuration({"plc": ("bus = line", UNIT, CHANNELS)},
                                          BUSES.format(line.ours), period_ms=200,
                                          more="holes = holding 108-109\n"))
        with bus.pymodbus_server(plant, "rtu", line.theirs, cells,
                                 lambda: bool(bus.mbpoll(bus.mbpoll_rtu(line.ours), UNIT, "4",
                                                         100, 1))):
            plant.start()
            plant.wait_answering(1)
            for _ in range(12):
                rows = rows_of(plant, "--device", "plc", "--first", str(FIRST), "--count",
                               str(COUNT))
                for a, row in rows.items():
                    assert row["hex"] == wanted[a]["hex"], (row, wanted[a])
                    assert row["state"] == ("hole_of_set_up" if a in (108, 109)
                                            else wanted[a]["state"]), row
                live(plant, 0)
            plant.stop_daemon()
    scans = [scan for scan in recordings.scans(plant.recording)]
    wrong = [scan for scan in scans for what, raw in scan.readings[2:3]
             if what == recordings.READ and raw != 1853]
    assert len(scans) > 15 and not wrong, (len(scans), len(wrong))
    return len(scans)


def on_a_terminal(plant, *words):
    """What somebody sees of `registers`, until it ends."""
    terminal, side = os.openpty()
    with subprocess.Popen([program("evensoak"), "registers", *words],
                          stdin=subprocess.DEVNULL, stdout=side, stderr=side) as command:
        os.close(side)
        seen = b""
        while True:
            try:
                more = os.read(terminal, 4096)
            except OSError:  # the other side is closed
                break
            if not more:
                break
            seen += more
    os.close(terminal)
    return command.returncode, seen.decode()


def a_silent_device(plant):
    """On a terminal a line says that it goes on, and is gone before the sentence; silence
    is asked once."""
    with socket.create_server(("127.0.0.1", 0)) as nobody:
        where = f"127.0.0.1:{nobody.getsockname()[1]}"
        began = time.monotonic()
        code, seen = on_a_terminal(plant, "--address", where, "--timeout-ms", "2500")
        assert 2.5 <= time.monotonic() - began < 5, seen
        line, wiped, sentence = seen.rpartition("\r\033[K")
        assert code == 3 and wiped, seen
        assert "\rasked 0 of 20, request 1 ..." in line and "timed out" not in line, seen
        assert "timed out after 2500 ms; " in sentence, seen
        code, told, wrong = plant.evensoak("registers", "--address", where, "--timeout-ms",
                                           "1500")
        assert (code, told) == (3, "") and "asked" not in wrong, wrong


def who_is_there(plant, cells):
    """A range of units on a serial line: one answers, the others cost their time-outs."""
    with bus.SerialLine(plant, "line") as line:
        with bus.pymodbus_server(plant, "rtu", line.theirs, cells,
                                 lambda: bool(bus.mbpoll(bus.mbpoll_rtu(line.ours), UNIT, "4",
                                                         100, 1))):
            began = time.monotonic()
            code, told, wrong = plant.evensoak(
                "registers", "--port", line.ours, "--baud", "19200", "--parity", "none",
                "--unit", f"1..{UNIT + 2}", "--first", "100", "--timeout-ms", "200",
                "--format", "csv")
            took_s = time.monotonic() - began
    rows = {int(row["unit_id"]): row for row in csv.DictReader(io.StringIO(told))}
    assert code == 0, (code, told, wrong)
    assert {unit for unit, row in rows.items() if row["state"] == "answers"} == {UNIT}, told
    assert rows[UNIT]["hex"] == f"{holding()[100]:04X}", told
    assert [row["state"] for row in rows.values()].count("silent") == UNIT + 1, told
    assert f"up to {0.4 * (UNIT + 2):.0f} s" in wrong, wrong
    return took_s


def main():
    with bus.Bus("") as plant:
        cells = plant.path("cells")
        write(cells)
        plant.configure("")
        a_silent_device(plant)
        rows = over_tcp(plant, cells)
        took_s = who_is_there(plant, cells)
        over_serial(plant, cells, rows)
        scans = beside_the_daemon(plant, cells, rows)
    print(f"{COUNT} registers with {len(HOLES)} holes, {scans} scans beside the commands; "
          f"{UNIT + 2} units looked for in {took_s:.1f} s")


if __name__ == "__main__":
    main()
