# SPDX-License-Identifier: GPL-3.0-or-later
"""A proxy between a logger and a real store: knows where a request ends, so that it can break
it off where it hurts, and can note what was written in which order.

    proxy = Proxy(store.port, random.Random(7), chance=0.2)
    ... deliver to proxy.url ...
    proxy.chance = 0; print(proxy.counts)

When the store's end of a connection closes, so does the logger's: a proxy that hid a store's
restart would hide from the logger that the store may have forgotten something.
"""

import collections
import re
import select
import socket
import time
import zlib

from .wire import Gone, Server, Wire

FAULTS = ("reset before", "reset after", "late", "half a body", "half an answer", "503", "500")
SHOTS = re.compile(rb"^shot,[^\n ]*?line=([^, ]+)[^\n]*? shot_no=(\d+)i", re.MULTILINE)


class Proxy(Server):
    def __init__(self, port, random=None, chance=0.0, late_s=0.3):
        """To `port`; a request in 1 / `chance` meets a fault."""
        self.upstream, self.random, self.chance, self.late_s = port, random, chance, late_s
        self.counts = collections.Counter()
        self.order = None  # a list: (line, shot number) as the store has taken them
        self.lies = 0  # so many requests are answered 204, and go no further
        self._burst = 0
        super().__init__(self._talk)

    def _talk(self, wire):
        try:
            up = Wire(socket.create_connection(("127.0.0.1", self.upstream), timeout=60))
        except OSError:
            wire.reset()
            return
        try:
            while not self.stopped.is_set():
                self._wait(wire, up)
                self._one(wire, up)
        except Gone:
            wire.reset()
        finally:
            up.close()

    def _wait(self, wire, up):
        """Until there is a request; a store that goes away meanwhile is gone."""
        while not wire.pending():
            if self.stopped.is_set():
                raise Gone
            ready, _, _ = select.select([wire, up], [], [], 0.2)
            if up in ready:
                raise Gone
            if wire in ready:
                return

    def _fault(self):
        if self._burst > 0:
            self._burst -= 1
            return "503"
        if self.random is None or self.random.random() >= self.chance:
            return None
        fault = self.random.choice(FAULTS)
        if fault == "503":
            self._burst = self.random.randrange(3)
        return fault

    def _one(self, wire, up):
        _, _, head, body = wire.message()
        if self.lies > 0:
            self.lies -= 1
            wire.send(b"HTTP/1.1 204 No Content\r\n\r\n")
            return
        fault = self._fault()
        self.counts[fault or "good"] += 1
        if fault in ("503", "500"):
            wire.send(f"HTTP/1.1 {fault} Other\r\nContent-Length: 0\r\n\r\n".encode())
            return
        if fault == "reset before":
            raise Gone
        if fault == "half a body":
            up.send(head + body[:len(body) // 2])
            raise Gone
        up.send(head + body)
        start, _, answer, text = up.message()
        if fault == "late":
            time.sleep(self.late_s)
        if self.order is not None and start.split(" ")[1] == "204":
            self.order += [(line.decode(), int(number)) for line, number in
                           SHOTS.findall(zlib.decompress(body, 31))]
        if fault == "reset after":
            raise Gone
        if fault == "half an answer":
            wire.send((answer + text)[:20])
            raise Gone
        wire.send(answer + text)
