# SPDX-License-Identifier: GPL-3.0-or-later
"""Scripted stores: what InfluxDB 1.x, 2.x and 3.x and VictoriaMetrics answer to a write, and
everything that can go wrong instead.

    with Store("influxdb2", secret="t0ken") as store:
        store.script = [answers(503, retry_after="1"), silent(3, keeps=True)]
        ... deliver to store.url ...
        store.points("plant", "shot"); store.complaints; store.requests

A request that is not what that server takes (address, login, precision, gzip) is answered as
that server answers it, and is a complaint; so is a line that some server of the family
would refuse, and a field that is written a second time with another value, which is exact in
1.x and 2.x alone: there the field `current` may be.

How well the answers are known: 1.x and VictoriaMetrics were measured (InfluxDB 1.6.7 and
VictoriaMetrics 1.79.5 of Debian 12); of 2.x and 3.x they are those of the API references at
docs.influxdata.com, no such server was run.
"""

import base64
import json
import threading
import time
import urllib.parse
import zlib

from . import line_protocol
from .wire import Server

KINDS = ("influxdb1", "influxdb2", "influxdb3", "victoriametrics")
EXACT_ANEW = ("influxdb1", "influxdb2")  # where a point may be written again otherwise

# Where lines go, and with which words behind the '?'.
ADDRESSES = {
    "influxdb1": ("/write", {"db": "plant", "precision": "ns"}),
    "influxdb2": ("/api/v2/write",
                  {"org": "works", "bucket": "plant", "precision": "ns"}),
    "influxdb3": ("/api/v3/write_lp",
                  {"db": "plant", "precision": "nanosecond", "accept_partial": "true",
                   "no_sync": "false"}),
    "victoriametrics": ("/write", {"db": "plant", "precision": "ns"}),
}
REASONS = {200: "OK", 204: "No Content", 400: "Bad Request", 401: "Unauthorized",
           413: "Request Entity Too Large", 429: "Too Many Requests",
           503: "Service Unavailable"}


class Request:
    """One that came; `fault` is None where it was answered as it should be."""

    def __init__(self, at, line_count, byte_count, fault):
        self.at, self.lines, self.bytes, self.fault = at, line_count, byte_count, fault
        self.status = None


# --- what can be in a script: functions of (store, wire, lines) that do it all ------------


def _named(name, function):
    function.name = name
    return function


def answers(status, text="", keeps=False, **headers):
    """With `status`; the lines are kept or not, whatever it says.  A header that is a
    function is asked as it is sent."""
    def fault(store, wire, lines):
        if keeps:
            store.take(lines)
        store.reply(wire, status, text, headers)
    return _named(f"{status}", fault)


def silent(seconds, keeps):
    """No answer until the other side has lost patience."""
    def fault(store, wire, lines):
        if keeps:
            store.take(lines)
        time.sleep(seconds)
        wire.reset()
    return _named("no answer", fault)


def resets(keeps):
    def fault(store, wire, lines):
        if keeps:
            store.take(lines)
        wire.reset()
    return _named("reset", fault)


def half(seconds=0.0):
    """The answer breaks off in its headers; the lines are kept."""
    def fault(store, wire, lines):
        store.take(lines)
        wire.send(b"HTTP/1.1 204 No Con")
        time.sleep(seconds)
        wire.reset()
    return _named("half an answer", fault)


def slow(seconds):
    """A good answer, in pieces, just in time."""
    def fault(store, wire, lines):
        status, text = store.take(lines)
        whole = store.form(status, text, {})
        for i in range(0, len(whole), 16):
            time.sleep(seconds * 16 / len(whole))
            wire.send(whole[i:i + 16])
    return _named("slow", fault)


def at_most(byte_count):
    """413 for what is larger."""
    def fault(store, wire, lines):
        if sum(len(line) + 1 for line in lines) > byte_count:
            store.reply(wire, 413, '{"error":"Request Entity Too Large"}', {})
        else:
            store.reply(wire, *store.take(lines), {})
    return _named(f"413 over {byte_count}", fault)


def chokes(word):
    """500 for every request with this in it, as of a line that a store cannot stomach."""
    def fault(store, wire, lines):
        if any(word in line for line in lines):
            store.reply(wire, 500, '{"error":"internal error"}', {})
        else:
            store.reply(wire, *store.take(lines), {})
    return _named("chokes", fault)


class Store(Server):
    def __init__(self, kind, user=None, secret=None, script=(), always=None, refuses=None,
                 refusal=None):
        """`script`: faults for the first requests with lines, one each; `always`: one for
        all others; `refuses(line)`: why this line is refused, or None; `refusal`: the status
        then, 422 for a 2.x that keeps the others."""
        super().__init__(self._talk)
        self.kind, self.user, self.secret = kind, user, secret
        self.script, self.always = list(script), always
        self.refuses, self.refusal = refuses, refusal
        self._lock = threading.Lock()
        self.requests, self.complaints = [], []
        self._points = {}  # (measurement, tags, time): {field: value}
        self._types, self._tag_names = {}, {}
        self.twice = 0     # values that came again, unchanged

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.close()

    # --- the wire ------------------------------------------------------------------------

    def _talk(self, wire):
        while not self.stopped.is_set():
            start, headers, _, body = wire.message()
            wrong = self._wrong(start, headers)
            if wrong is not None:
                self.complain(wrong[1])
                self.reply(wire, *wrong, {})
                continue
            self._write(wire, self._lines(headers, body))

    def _write(self, wire, lines):
        with self._lock:
            fault = None
            if lines:
                fault = self.script.pop(0) if self.script else self.always
            request = Request(time.monotonic(), len(lines),
                              sum(len(line) + 1 for line in lines), fault)
            self.requests.append(request)
        wire.request = request
        if fault is not None:
            fault(self, wire, lines)
        else:
            self.reply(wire, *self.take(lines), {})

    def _wrong(self, start, headers):
        """(status, text) of a request that is none of ours to make; else None."""
        method, target, version = start.split(" ")
        url = urllib.parse.urlsplit(target)
        path, pairs = ADDRESSES[self.kind]
        asked = dict(urllib.parse.parse_qsl(url.query))
        if url.path != path:
            return 404, f"no {url.path} here"
        if method != "POST" or version != "HTTP/1.1" or asked != pairs:
            return 400, f"{method} {version} with {asked}"
        if "expect" in headers or headers.get("content-encoding") != "gzip":
            return 400, f"headers {headers}"
        if headers.get("authorization") != self._authorization():
            return 401, "unauthorized access"
        return None

    def _authorization(self):
        if self.user is not None:
            pair = f"{self.user}:{self.secret}".encode()
            return "Basic " + base64.b64encode(pair).decode()
        if self.secret is None:
            return None
        return ("Token " if self.kind == "influxdb2" else "Bearer ") + self.secret

    def _lines(self, headers, body):
        text = zlib.decompress(body, 31)
        if text and not text.endswith(b"\n"):
            self.complain("the last line has no end")
        return text.split(b"\n")[:-1]

    def form(self, status, text, headers):
        """The bytes of an answer."""
        body = text.encode()
        names = {"Content-Type": "application/json"}
        names.update((k, v() if callable(v) else v) for k, v in headers.items())
        if status != 204:
            names["Content-Length"] = str(len(body))
        head = "".join(f"{k.replace('_', '-')}: {v}\r\n" for k, v in names.items())
        return (f"HTTP/1.1 {status} {REASONS.get(status, 'Other')}\r\n{head}\r\n"
                .encode() + (body if status != 204 else b""))

    def reply(self, wire, status, text, headers):
        if getattr(wire, "request", None) is not None:
            wire.request.status = status
        wire.send(self.form(status, text, headers))

    def complain(self, text):
        with self._lock:
            if len(self.complaints) < 20:
                self.complaints.append(text)

    # --- the lines -----------------------------------------------------------------------

    def take(self, lines):
        """Keeps what such a store keeps of these lines; (status, text) of its answer."""
        if not lines and self.kind == "influxdb2":
            return 400, '{"code":"invalid","message":"writing requires points"}'
        good, bad = [], []
        for number, line in enumerate(lines, 1):
            why = self._examine(line, good)
            if why is not None:
                bad.append((number, line.decode("utf-8", "replace"), why))
        with self._lock:
            if not bad or self.kind != "influxdb2" or self.refusal == 422:
                for each in good:
                    self._keep(*each)
        return self._answer(bad)

    def _examine(self, line, good):
        """Why it is refused; else it is among the good ones."""
        try:
            parsed = line_protocol.parse(line)
        except line_protocol.Refused as error:
            self.complain(f"{error}: {line[:300]}")
            return str(error)
        why = self.refuses(line) if self.refuses is not None else None
        if why is None:
            good.append(parsed)
        return why

    def _answer(self, bad):
        if not bad or self.kind == "victoriametrics":
            return 204, ""  # what cannot be read is dropped without a word
        _, line, why = bad[0]
        if self.kind == "influxdb1":
            return 400, json.dumps({"error": f"partial write: unable to parse '{line}': "
                                             f"{why} dropped=0"})
        if self.kind == "influxdb2":
            code = "unprocessable entity" if self.refusal == 422 else "invalid"
            return self.refusal or 400, json.dumps(
                {"code": code, "message": f"unable to parse '{line}': {why}"})
        return 400, json.dumps({"error": "partial write of line protocol occurred", "data": [
            {"error_message": why, "line_number": number, "original_line": line}
            for number, line, why in bad]})

    def _keep(self, measurement, tags, fields, at):
        names = tuple(tags)
        if self._tag_names.setdefault(measurement, names) != names and (
                self.kind != "victoriametrics"):
            self._say(f"{measurement} has the tags {names}, had "
                      f"{self._tag_names[measurement]}")
        if self.kind == "victoriametrics":
            at = at // 10**6 * 10**6
        point = self._points.setdefault((measurement, tuple(tags.items()), at), {})
        for name, value in fields.items():
            kind = self._types.setdefault((measurement, name), type(value))
            if kind is not type(value):
                self._say(f"{measurement}.{name} is {value!r}, was a {kind.__name__}")
            if self.kind == "victoriametrics" and isinstance(value, str):
                self._say(f"{measurement}.{name} is a string")
            if name in point and point[name] != value and not (
                    name == "current" and self.kind in EXACT_ANEW):
                self._say(f"{measurement}.{name} was {point[name]!r}, now {value!r}, "
                          f"of {tags} at {at}")
            self.twice += name in point and point[name] == value
            point[name] = value

    def _say(self, text):
        if len(self.complaints) < 20:
            self.complaints.append(text)

    def settle(self):
        """What it took is found."""

    def points(self, _, measurement, span=None, line=None):
        """As an Influx tells them."""
        with self._lock:
            return [{"time": at, **dict(tags), **fields}
                    for (name, tags, at), fields in sorted(self._points.items())
                    if name == measurement and (line is None or dict(tags)["line"] == line)
                    and (span is None or span[0] <= at < span[1])]
