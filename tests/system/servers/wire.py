# SPDX-License-Identifier: GPL-3.0-or-later
"""HTTP/1.1 over plain sockets, as far as a scripted store and a proxy need it: here one can
answer late, by half or not at all, and hang up at any byte."""

import select
import socket
import struct
import threading


class Gone(Exception):
    """The other side has closed."""


class Wire:
    """One connection, read message by message."""

    def __init__(self, sock):
        self.sock, self._have = sock, b""
        sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)

    def fileno(self):
        return self.sock.fileno()

    def pending(self):
        return bool(self._have)

    def _more(self):
        try:
            got = self.sock.recv(1 << 16)
        except OSError as error:
            raise Gone from error
        if not got:
            raise Gone
        self._have += got

    def _exactly(self, count):
        parts, length = [self._have], len(self._have)
        while length < count:
            try:
                got = self.sock.recv(1 << 18)
            except OSError as error:
                raise Gone from error
            if not got:
                raise Gone
            parts.append(got)
            length += len(got)
        whole = b"".join(parts)
        self._have = whole[count:]
        return whole[:count]

    def message(self):
        """(start line, {header in lower case: value}, head as sent, body)."""
        while b"\r\n\r\n" not in self._have:
            self._more()
        head, self._have = self._have.split(b"\r\n\r\n", 1)
        lines = head.decode("latin-1").split("\r\n")
        headers = {name.strip().lower(): value.strip() for name, _, value in
                   (line.partition(":") for line in lines[1:])}
        body = self._exactly(int(headers.get("content-length", 0)))
        return lines[0], headers, head + b"\r\n\r\n", body

    def send(self, data):
        try:
            self.sock.sendall(data)
        except OSError as error:
            raise Gone from error

    def reset(self):
        """Ends it as a machine does that knows nothing of it."""
        try:
            self.sock.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER,
                                 struct.pack("ii", 1, 0))
        except OSError:
            pass
        self.close()

    def close(self):
        self.sock.close()


class Server:
    """Listens on 127.0.0.1; `handle(wire)` gets each connection in a thread of its own."""

    def __init__(self, handle, port=0):
        self._listener = socket.create_server(("127.0.0.1", port), backlog=64)
        self.port = self._listener.getsockname()[1]
        self.url = f"http://127.0.0.1:{self.port}"
        self._handle, self.stopped = handle, threading.Event()
        threading.Thread(target=self._accept, daemon=True).start()

    def _accept(self):
        while not self.stopped.is_set():
            if not select.select([self._listener], [], [], 0.1)[0]:
                continue
            sock, _ = self._listener.accept()
            threading.Thread(target=self._serve, args=(Wire(sock),), daemon=True).start()
        self._listener.close()

    def _serve(self, wire):
        try:
            self._handle(wire)
        except Gone:
            pass
        finally:
            wire.close()

    def close(self):
        self.stopped.set()
