# SPDX-License-Identifier: GPL-3.0-or-later
"""Devices that hold one of everything, for system tests: what stands in their registers,
the configuration that reads it, and servers that serve it.

A unit's content is told to a server as lines "UNIT FUNCTION ADDRESS VALUE", the function
being the code that reads it, so that servers in any language hold the same.  What a
reading must be is coded here with Python's struct and nothing of evensoak's.
"""

import json
import os
import shutil
import socket
import struct
import subprocess
import sys
import time

import influx
from plant import ASKED, BUILD, Plant, wait_for

SERVERS = os.path.join(os.path.dirname(os.path.abspath(__file__)), "servers")
TABLES = {"coil": 1, "discrete": 2, "holding": 3, "input": 4}
ORDERS = {"abcd": (0, 1, 2, 3), "badc": (1, 0, 3, 2), "cdab": (2, 3, 0, 1),
          "dcba": (3, 2, 1, 0)}


def is_sanitized():
    """Whether the daemon was built with a sanitizer, which takes memory of its own."""
    with open(os.path.join(BUILD, "evensoakd"), "rb") as file:
        return b"__asan_init" in (data := file.read()) or b"__tsan_init" in data


class Channel:
    """`raw` is what its register holds, or the bits of a 32-bit value, high word first."""

    def __init__(self, name, table, address, kind, value, order=None, bit=None):
        self.name, self.table, self.address, self.kind = name, table, address, kind
        self.value, self.order, self.bit = value, order, bit

    def words(self):
        """Of a number: its registers as they come on the wire."""
        code = {"int16": ">h", "uint16": ">H", "int32": ">i", "uint32": ">I",
                "float32": ">f"}[self.kind]
        data = struct.pack(code, self.value)
        if len(data) == 4:
            data = bytes(data[i] for i in ORDERS[self.order])
        return list(struct.unpack(f">{len(data) // 2}H", data))

    def section(self, device):
        lines = [f"[channel {device}.{self.name}]", "role = other",
                 f"table = {self.table}", f"address = {self.address}",
                 f"type = {self.kind}"]
        if self.order is not None:
            lines.append(f"word_order = {self.order}")
        if self.bit is not None:
            lines.append(f"bit = {self.bit}")
        return "\n".join(lines) + "\n"


def zoo(unit):
    """Channels of every table, type and order; every unit holds something else."""
    channels = []
    for table in ("holding", "input"):
        at = 10 + TABLES[table]
        sign = 1 if table == "holding" else -1
        singles = [("int16", -32768 + unit), ("int16", -1 - unit), ("uint16", 65535 - unit),
                   ("uint16", 0x0102 + unit)]
        doubles = [("int32", -2000000000 + 4099 * unit), ("int32", sign * (70000 + unit)),
                   ("uint32", 4294967295 - 77 * unit), ("uint32", 0x01020304 + unit),
                   ("float32", struct.unpack(">f", struct.pack(">f", 123.456 * unit))[0]),
                   ("float32", sign * 1.5 / 1024 * unit)]
        for i, (kind, value) in enumerate(singles):
            channels.append(Channel(f"{table}_{kind}_{i}", table, at, kind, value))
            at += 1
        at += 2  # registers between that nobody asked for are read along
        for i, (kind, value) in enumerate(doubles):
            for order in ORDERS:
                channels.append(Channel(f"{table}_{kind}_{i}_{order}", table, at, kind,
                                        value, order))
                at += 2
        word = 0x8001 | unit << 4
        for bit in (0, 1, 4, 5, 6, 15):
            channels.append(Channel(f"{table}_bit_{bit}", table, at, "bit",
                                    word >> bit & 1, bit=bit))
    for table in ("coil", "discrete"):
        for i in range(21):
            value = (0xB5A3 * (unit + TABLES[table])) >> i % 16 & 1
            channels.append(Channel(f"{table}_{i}", table, 5 + i, "bit", value))
    return channels


def cells_of(channels):
    """{(function, address): value}, registers that only bits are in included."""
    cells = {}
    for channel in channels:
        function = TABLES[channel.table]
        if channel.bit is not None:
            key = (function, channel.address)
            cells[key] = cells.get(key, 0) | channel.value << channel.bit
        elif channel.kind == "bit":
            cells[(function, channel.address)] = channel.value
        else:
            for i, word in enumerate(channel.words()):
                cells[(function, channel.address + i)] = word
    return cells


def write_cells(path, units):
    """`units`: {unit: channels}.  Each table has all registers from 0 to its last."""
    with open(path, "w", encoding="ascii") as file:
        for unit, channels in units.items():
            cells = cells_of(channels)
            for function in TABLES.values():
                last = max(address for f, address in cells if f == function)
                for address in range(last + 1):
                    print(unit, function, address, cells.get((function, address), 0),
                          file=file)


HEAD = """[site]
name = pond-works
timezone = Europe/Berlin
[ledger]
path = ledger.db
[line line-1]
machine = rotary
stations = load, oven, form
heat_timer_s = 230
"""

# What a rotary must have; the first device of a line carries it.
MACHINE = """[channel {0}.rotating]
role = rotating
table = coil
address = 0
type = bit
[channel {0}.form_closed]
role = form_closed
table = coil
address = 1
type = bit
"""


def configuration(devices, buses="", period_ms=500, timeout_ms=500, more=""):
    """`devices`: {name: (where, unit, channels)}, `where` an address or bus line."""
    parts = [HEAD, buses]
    for i, (name, (where, unit, channels)) in enumerate(devices.items()):
        parts.append(f"[device {name}]\nline = line-1\n{where}\nunit_id = {unit}\n"
                     f"period_ms = {period_ms}\ntimeout_ms = {timeout_ms}\n{more}")
        if i == 0:
            parts.append(MACHINE.format(name))
        parts += [channel.section(name) for channel in channels]
    return "\n".join(parts)


# --- servers --------------------------------------------------------------------------


def asked(server, function, seen=set()):
    """For a server: it was asked this function code."""
    if ASKED is not None and (server, function) not in seen:
        seen.add((server, function))
        with open(os.path.join(ASKED, server), "a", encoding="ascii") as file:
            print(server, function, file=file)


def tell_functions(decoder):
    """For a server of pymodbus: whatever is asked, known to its ServerDecoder or not."""
    decode = decoder.decode

    def telling(self, message):
        asked("pymodbus", message[0])
        return decode(self, message)
    decoder.decode = telling


def read_cells(path):
    """For a server: {unit: {function: {address: value}}}."""
    units = {}
    with open(path, encoding="ascii") as file:
        for line in file:
            unit, function, address, value = map(int, line.split())
            units.setdefault(unit, {}).setdefault(function, {})[address] = value
    return units


class Server:
    """A program that serves: ended when the `with` is left."""

    def __init__(self, command, ready, log):
        """`ready()`: it answers."""
        self._command, self._ready, self._log = command, ready, log
        self._process = None

    def start(self):
        with open(self._log, "ab") as log:
            self._process = subprocess.Popen(self._command, stdin=subprocess.DEVNULL,
                                             stdout=log, stderr=log)
        wait_for(f"{self._command[1:3]} to answer",
                 lambda: self._ready() or self._process.poll() is not None, 30)
        if self._process.poll() is not None:
            with open(self._log, encoding="utf-8", errors="replace") as log:
                raise AssertionError(f"{self._command}: {log.read()}")

    def stop(self):
        if self._process is not None:
            self._process.kill()
            self._process.wait()
            self._process = None

    def signal(self, number):
        self._process.send_signal(number)

    def __enter__(self):
        self.start()
        return self

    def __exit__(self, *_):
        self.stop()


def listens(port):
    with socket.socket() as tried:
        return tried.connect_ex(("127.0.0.1", port)) == 0


def free_port():
    return influx.free_ports(1)[0]


# --- what came of it ------------------------------------------------------------------


def mbpoll(where, unit, kind, first, count):
    """What mbpoll reads; `where` are its words for the bus, `kind` its -t."""
    done = subprocess.run(
        ["mbpoll", "-q", "-a", str(unit), "-0", "-r", str(first), "-c", str(count),
         "-t", kind, "-1", *where], stdin=subprocess.DEVNULL, capture_output=True,
        text=True, timeout=20, check=False)
    lines = [line for line in done.stdout.splitlines() if line.startswith("[")]
    return [line.split(":", 1)[1].split()[0] for line in lines]


def mbpoll_tcp(port):
    return ["-m", "tcp", "-p", str(port), "127.0.0.1"]


def mbpoll_rtu(path):
    return ["-m", "rtu", "-b", "19200", "-P", "none", "-s", "2", path]


def mbpoll_cells(where, unit, functions):
    """All registers and bits as another program reads them; `functions` as in cells_of."""
    kinds = {1: "0", 2: "1", 3: "4:hex", 4: "3:hex"}
    cells = {}
    for function in TABLES.values():
        addresses = sorted(a for f, a in functions if f == function)
        at = addresses[0]
        while at <= addresses[-1]:
            count = min(100, addresses[-1] - at + 1)
            values = mbpoll(where, unit, kinds[function], at, count)
            assert len(values) == count, f"mbpoll read {len(values)} of {count}"
            for i, value in enumerate(values):
                cells[(function, at + i)] = int(value, 16 if function > 2 else 10)
            at += count
    return {key: cells[key] for key in functions}


def watched(plant, device=None):
    """{channel of a device: (value, quality)} of `evensoak watch --once`."""
    words = ["watch", "--once", "--format", "json"]
    code, told, wrong = plant.evensoak(*words, *(["--device", device] if device else []))
    devices = json.loads(told)["devices"]
    assert code == 0, (code, [(d["device"], d["failure"]) for d in devices], wrong)
    return {(d["device"], c["channel"]): (c["value"], c["quality"])
            for d in devices for c in d["channels"]}


class Bus(Plant):
    """A daemon on a configuration of its own, recording."""

    def __init__(self, text, rate=1):
        super().__init__(rate=rate)
        self.ready = {"clock-origin-ns": str(time.monotonic_ns())}
        self.recording = self.path("recording")
        self.configure(text)

    def configure(self, text):
        with open(self.config, "w", encoding="utf-8") as file:
            file.write(text)

    def start(self):
        self.start_daemon(more=("--record", self.recording))

    def device_states(self):
        rows = self.query("SELECT * FROM health")
        return {row["subject"].split()[1]: row for row in rows
                if row["subject"].startswith("device ")}

    def wait_answering(self, count, seconds=20):
        wait_for(f"{count} devices to answer", lambda: sum(
            row["state"] == "ok" for row in self.device_states().values()) == count, seconds)


def skip(why):
    print(why)
    sys.exit(77)


class SerialLine:
    """Two pseudo terminals with socat between: what a cable is to a port at each end."""

    def __init__(self, plant, name):
        self.ours, self.theirs = plant.path(name), plant.path(name + ".far")
        self._process = None

    def plug(self):
        """Or plug in again."""
        self._process = subprocess.Popen(
            ["socat", f"pty,raw,echo=0,link={self.ours}", f"pty,raw,echo=0,link={self.theirs}"],
            stdin=subprocess.DEVNULL)
        wait_for("the serial line", lambda: all(map(os.path.exists, (self.ours, self.theirs))))

    def unplug(self):
        if self._process is not None:
            self._process.kill()
            self._process.wait()
            self._process = None
            for path in (self.ours, self.theirs):
                if os.path.lexists(path):
                    os.remove(path)

    def __enter__(self):
        self.plug()
        return self

    def __exit__(self, *_):
        self.unplug()


def pymodbus_server(plant, kind, where, cells, ready):
    return Server([sys.executable, os.path.join(SERVERS, "pymodbus_server.py"), kind,
                   str(where), cells], ready, plant.path("pymodbus.log"))


def honest_server(plant, name, ports, timeout_ms=100):
    """servers/liar.py that tells no lies: registers that change all the time, any unit."""
    return Server([sys.executable, os.path.join(SERVERS, "liar.py"), str(timeout_ms), "0",
                   plant.path(name + ".told"), *(f"honest:{port}" for port in ports)],
                  lambda: all(map(listens, ports)), plant.path(name + ".log"))


def libmodbus_server(plant, kind, where, cells, ready):
    return Server([os.path.join(BUILD, "tests", "system", "libmodbus_server"), kind,
                   str(where), cells], ready, plant.path("libmodbus.log"))


def node_modules():
    """The folder in which npm has installed what servers/node/package.json names."""
    there = os.path.join(SERVERS, "node", "package.json")
    folder = os.path.join(BUILD, "node")
    if shutil.which("node") is None or shutil.which("npm") is None:
        skip("there is no node, or no npm")
    with open(there, encoding="utf-8") as file:
        wanted = json.load(file)["dependencies"]

    def installed(name):
        path = os.path.join(folder, "node_modules", name, "package.json")
        if not os.path.exists(path):
            return None
        with open(path, encoding="utf-8") as file:
            return json.load(file)["version"]
    if all(installed(name) == version for name, version in wanted.items()):
        return folder
    os.makedirs(folder, exist_ok=True)
    shutil.copy(there, folder)
    done = subprocess.run(
        ["npm", "install", "--omit=optional", "--ignore-scripts", "--no-package-lock",
         "--no-audit", "--no-fund", "--prefer-offline"], cwd=folder,
        stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=120, check=False)
    if done.returncode != 0:
        skip(f"npm cannot install modbus-serial: {done.stderr[-500:]}")
    for name, version in wanted.items():
        assert installed(name) == version, (name, installed(name))
    return folder


def node_server(plant, where, cells, ready):
    return Server(["node", os.path.join(SERVERS, "node", "server.js"), node_modules(),
                   str(where), cells], ready, plant.path("node.log"))


def answers_tcp(port, unit):
    return lambda: bool(mbpoll(mbpoll_tcp(port), unit, "4", 0, 1))


def answers_rtu(line, unit):
    return lambda: bool(mbpoll(mbpoll_rtu(line.ours), unit, "4", 0, 1))
