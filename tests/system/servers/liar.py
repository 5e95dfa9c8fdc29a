#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""liar.py TIMEOUT_MS SEED TOLD (tcp:PORT | honest:PORT | rtu:TTY)...: Modbus servers that misbehave as
devices, gateways and cables do, until SIGUSR1 makes them honest; then the file TOLD says
since when (CLOCK_MONOTONIC, ns), how often which lie was told, and how often in all.

What a register holds follows from unit, function, address and the time (`value`), so that
one from elsewhere or from earlier is told apart.  An honest one lies never.  Waiting is measured in the client's
time-outs: a drip is a byte a time-out.  On a serial line a unit answers in order: what it
is asked while an answer of its is late is answered after that one, or never.
"""

import asyncio
import json
import os
import random
import signal
import socket
import struct
import sys
import termios
import time
import tty

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), ".."))

EPOCH_NS = 20_000_000
# Of all requests; rarer on a serial line, where a unit that fails thrice in a row is left
# alone for a while.
LIES_AT = {"tcp": 0.2, "rtu": 0.04, "honest": -1}
LEAST = 600  # lies, before those who lie become honest
UNITS = range(1, 5)  # on a serial line


def epoch_of(mono_ns):
    return mono_ns // EPOCH_NS


def value(unit, function, address, epoch):
    if function == 1 and address < 2:
        return 0  # the machine's bits: it stands still
    mask = (1 << 64) - 1
    mixed = (epoch * 0x9E3779B97F4A7C15 + unit * 4 + function) & mask
    mixed = ((mixed ^ mixed >> 31) * 0xBF58476D1CE4E5B9 + address) & mask
    mixed = ((mixed ^ mixed >> 29) * 0x94D049BB133111EB) & mask
    mixed ^= mixed >> 32
    return mixed & 1 if function <= 2 else mixed & 0xFFFF


def crc(data):
    """CRC-16 of Modbus over Serial Line V1.02, 6.2.2: polynomial A001, from FFFF."""
    rest = 0xFFFF
    for byte in data:
        rest ^= byte
        for _ in range(8):
            rest = rest >> 1 ^ 0xA001 if rest & 1 else rest >> 1
    return struct.pack("<H", rest)


class Liar:
    def __init__(self, kind, timeout_s, seed):
        self.timeout_s, self.lies_at = timeout_s, LIES_AT[kind]
        self.random = random.Random(seed)
        self.honest_ns = None
        self.told = {}
        self.requests = 0

    def choose(self, lies):
        self.requests += 1
        if self.honest_ns is not None or self.random.random() > self.lies_at:
            return None
        lie = self.random.choice(lies)
        self.told[lie] = self.told.get(lie, 0) + 1
        return lie

    def answer(self, ask, more=0):
        """To "unit, function, first, count": the same, and data; `more` registers."""
        unit, function, first, count = struct.unpack(">BBHH", ask[:6])
        count = max(0, count + more)
        epoch = epoch_of(time.monotonic_ns())
        values = [value(unit, function, (first + i) & 0xFFFF, epoch) for i in range(count)]
        if function <= 2:
            data = sum(bit << i for i, bit in enumerate(values)).to_bytes(
                (count + 7) // 8, "little")
        else:
            data = b"".join(struct.pack(">H", word) for word in values)
        return bytearray([unit, function, len(data) & 0xFF]) + data

    def spoiled(self, lie, ask):
        """Unit, function and data, wrong in one of the ways that both kinds know."""
        pick = self.random
        pdu = self.answer(ask, {"too_many": 8, "too_few": -8}.get(lie, 0))
        other = 1 + pick.randrange(255)
        if lie == "unit":
            pdu[0] = (pdu[0] + other) & 0xFF
        elif lie == "function":
            pdu[1] = (pdu[1] + other) & 0xFF
        elif lie == "byte_count":
            pdu[2] = (pdu[2] + other) & 0xFF
        elif lie == "exception":
            pdu = bytearray([pdu[0], pdu[1] | 0x80, pick.choice(
                [*range(12), pick.randrange(256)])])
        elif lie == "exception_other":
            pdu = bytearray([pdu[0], (pdu[1] % 4 + 1) | 0x80, 1 + pick.randrange(11)])
        elif lie == "garbage":
            pdu = bytearray(pick.randbytes(1 + pick.randrange(300)))
        if lie in WRONG:  # whoever believes it is found out by what he reads
            pdu[3:] = bytes(byte ^ other for byte in pdu[3:])
        return pdu

    def late_s(self):
        return self.timeout_s * (1 + 2 * self.random.random())


BOTH = ["slow", "late", "silent", "drip", "truncated", "unit", "function", "byte_count",
        "too_few", "too_many", "garbage", "twice", "exception", "exception_other"]
WRONG = ["unit", "function", "byte_count", "too_few", "too_many", "transaction", "protocol",
         "length"]
TCP = BOTH + ["transaction", "protocol", "length", "half_open", "close", "reset",
              "close_after", "extra", "in_parts", "previous"]
RTU = BOTH + ["crc", "bit", "noise_before", "noise_after", "echo", "in_parts"]


# --- TCP ------------------------------------------------------------------------------


class Connection:
    def __init__(self, liar, reader, writer):
        self.liar, self.reader, self.writer = liar, reader, writer
        self.previous = b""

    def frame(self, lie, head, pdu):
        pick = self.liar.random
        frame = bytearray(head[:4] + struct.pack(">H", len(pdu))) + pdu
        at = {"transaction": 0, "protocol": 2, "length": 4}.get(lie)
        if at is not None:
            at += pick.randrange(2)
            frame[at] = (frame[at] + 1 + pick.randrange(255)) & 0xFF
        if lie == "garbage":
            frame = pdu
        elif lie == "truncated":
            frame = frame[:pick.randrange(len(frame))]
        elif lie == "extra":
            frame += pick.randbytes(1 + pick.randrange(16))
        elif lie == "twice":
            frame = frame + frame
        elif lie == "previous":
            frame = self.previous
        return bytes(frame)

    async def drip(self, frame, pause_s):
        for byte in frame:
            self.writer.write(bytes([byte]))
            await asyncio.sleep(pause_s)

    async def serve(self):
        """False: the connection ends."""
        liar, timeout_s = self.liar, self.liar.timeout_s
        head = await self.reader.readexactly(6)
        ask = await self.reader.readexactly(struct.unpack(">H", head[4:])[0])
        bus.asked("liar", ask[1])
        lie = liar.choose(TCP)
        honest = self.frame(None, head, liar.answer(ask))
        frame = self.frame(lie, head, liar.spoiled(lie, ask))
        self.previous = honest
        if lie in ("slow", "late"):
            await asyncio.sleep(timeout_s / 3 if lie == "slow" else liar.late_s())
        if lie == "half_open":
            await asyncio.sleep(3600)
        if lie == "reset":
            self.writer.get_extra_info("socket").setsockopt(
                socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
        if lie in ("close", "reset"):
            return False
        if lie == "drip":
            await self.drip(frame, timeout_s)
        elif lie == "in_parts":
            await self.drip(frame, timeout_s / 1000)
        elif lie != "silent":
            self.writer.write(frame)
        await self.writer.drain()
        return lie != "close_after"


async def serve_tcp(liar, port):
    async def connected(reader, writer):
        connection = Connection(liar, reader, writer)
        try:
            while await connection.serve():
                pass
        except (OSError, asyncio.IncompleteReadError):
            pass
        writer.close()
    return await asyncio.start_server(connected, "127.0.0.1", port)


# --- a serial line --------------------------------------------------------------------


class Line:
    def __init__(self, liar, path):
        self.liar = liar
        self.fd = os.open(path, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
        tty.setraw(self.fd, termios.TCSANOW)
        self.have, self.heard_s = b"", 0.0
        self.queues = {unit: asyncio.Queue() for unit in UNITS}
        self.busy = set()  # units that owe a late answer
        self.tasks = [asyncio.create_task(self.be_unit(unit)) for unit in UNITS]
        asyncio.get_running_loop().add_reader(self.fd, self.heard)

    def heard(self):
        try:
            data = os.read(self.fd, 4096)
        except OSError:
            return
        now_s = time.monotonic()
        if now_s - self.heard_s > self.liar.timeout_s / 4:
            self.have = b""  # what came before was no whole request
        self.heard_s = now_s
        self.have += data
        while len(self.have) >= 8:
            ask, self.have = self.have[:8], self.have[8:]
            if crc(ask[:6]) == ask[6:]:
                bus.asked("liar", ask[1])
                self.take(ask)

    def take(self, ask):
        queue = self.queues.get(ask[0])
        if queue is None or (ask[0] in self.busy and self.liar.random.random() < 0.5):
            return
        queue.put_nowait(ask)

    def put(self, data):
        try:
            os.write(self.fd, bytes(data))
        except OSError:
            pass

    async def be_unit(self, unit):
        while True:
            ask = await self.queues[unit].get()
            await self.reply(unit, ask)

    def frame(self, lie, ask):
        pick = self.liar.random
        pdu = self.liar.spoiled(lie, ask)
        frame = pdu + crc(pdu)
        if lie == "garbage":
            return pdu
        if lie == "crc":
            frame[-1 - pick.randrange(2)] ^= 1 + pick.randrange(255)
        elif lie == "bit":
            at = pick.randrange(8 * len(frame))
            frame[at // 8] ^= 1 << at % 8
        elif lie == "truncated":
            frame = frame[:pick.randrange(len(frame))]
        elif lie == "noise_before":
            frame = pick.randbytes(1 + pick.randrange(8)) + frame
        elif lie == "noise_after":
            frame += pick.randbytes(1 + pick.randrange(8))
        elif lie == "echo":
            frame = bytearray(ask) + frame
        elif lie == "twice":
            frame = frame + frame
        return frame

    async def reply(self, unit, ask):
        liar, timeout_s = self.liar, self.liar.timeout_s
        lie = liar.choose(RTU)
        frame = self.frame(lie, ask)
        if lie == "slow":
            await asyncio.sleep(timeout_s / 3)
        elif lie == "late":
            self.busy.add(unit)
            await asyncio.sleep(liar.late_s())
            self.busy.discard(unit)
        if lie in ("drip", "in_parts"):
            for byte in frame:
                self.put([byte])
                await asyncio.sleep(timeout_s if lie == "drip" else timeout_s / 1000)
        elif lie != "silent":
            self.put(frame)


async def main():
    timeout_s, seed, path = float(sys.argv[1]) / 1000, int(sys.argv[2]), sys.argv[3]
    liars, held = [], []
    for i, where in enumerate(sys.argv[4:]):
        kind, place = where.split(":", 1)
        liars.append(Liar(kind, timeout_s, seed + i))
        if kind in ("tcp", "honest"):
            held.append(await serve_tcp(liars[-1], int(place)))
        else:
            held.append(Line(liars[-1], place))
    honest = asyncio.Event()
    asyncio.get_running_loop().add_signal_handler(signal.SIGUSR1, honest.set)
    await honest.wait()
    lying = [one for one in liars if one.lies_at > 0]
    while lying and sum(sum(one.told.values()) for one in lying) < LEAST:
        await asyncio.sleep(0.1)
    now_ns = time.monotonic_ns()
    told = {}
    for liar in liars:
        liar.honest_ns = now_ns
        for lie, times in liar.told.items():
            told[lie] = told.get(lie, 0) + times
    with open(path + ".new", "w", encoding="ascii") as file:
        json.dump({"honest_ns": now_ns, "told": told, "lies": sum(told.values()),
                   "requests": sum(liar.requests for liar in liars)}, file)
    os.rename(path + ".new", path)
    await asyncio.sleep(3600)


if __name__ == "__main__":
    import bus
    asyncio.run(main())
