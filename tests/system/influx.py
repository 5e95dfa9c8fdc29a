# SPDX-License-Identifier: GPL-3.0-or-later
"""A real InfluxDB 1.x (Debian's influxd) for tests and demonstrations.

    with Influx() as influx:
        influx.create_database("plant")
        ... deliver to influx.url ...
        influx.stop(); influx.start()          # an outage: same port, same data
        rows = influx.points("plant", "shot")

It lives in a temporary folder, listens on free ports of 127.0.0.1 only, and is
ended by its pid.  `available()` says whether there is an influxd at all.
"""

import json
import os
import random
import shutil
import signal
import socket
import subprocess
import tempfile
import time
import urllib.error
import urllib.parse
import urllib.request

CONFIGURATION = """\
reporting-disabled = true
bind-address = "127.0.0.1:{backup}"
[meta]
  dir = "{folder}/meta"
  logging-enabled = false
[data]
  dir = "{folder}/data"
  wal-dir = "{folder}/wal"
  query-log-enabled = false
[monitor]
  store-enabled = false
[http]
  bind-address = "127.0.0.1:{port}"
  log-enabled = false
  auth-enabled = false
"""

READY_S = 20

PORTS = 10000, 32000

# Straight to 127.0.0.1, whatever proxy the environment names.
_open = urllib.request.build_opener(urllib.request.ProxyHandler({})).open


def available():
    return shutil.which("influxd") is not None


def free_ports(count):
    """Ports that were free a moment ago, all different: below those that connections going out
    and sockets bound to 0 get, since one of many scripts would soon have taken them."""
    sockets = []
    while len(sockets) < count:
        each = socket.socket()
        try:
            each.bind(("127.0.0.1", random.randint(*PORTS)))
            sockets.append(each)
        except OSError:
            each.close()
    ports = [each.getsockname()[1] for each in sockets]
    for each in sockets:
        each.close()
    return ports


class Influx:
    def __init__(self, port=None):
        """`port`: where to listen; a free one otherwise."""
        self.folder = tempfile.mkdtemp(prefix="evensoak-influx-")
        self.port, self._backup = free_ports(2)
        self.port = port or self.port
        self.url = f"http://127.0.0.1:{self.port}"
        self.process = None

    def __enter__(self):
        try:
            self.start()
        except BaseException:
            self.close()
            raise
        return self

    def __exit__(self, *_):
        self.close()

    def start(self):
        """Starts it on the data there are and waits until it answers."""
        configuration = os.path.join(self.folder, "influx.conf")
        with open(configuration, "w", encoding="ascii") as file:
            file.write(CONFIGURATION.format(
                folder=self.folder, port=self.port, backup=self._backup))
        with open(os.path.join(self.folder, "log"), "ab") as log:
            self.process = subprocess.Popen(
                ["influxd", "-config", configuration],
                stdin=subprocess.DEVNULL, stdout=log, stderr=log)
        until = time.monotonic() + READY_S
        while not self._answers():
            if self.process.poll() is not None or time.monotonic() > until:
                raise RuntimeError("influxd does not answer:\n" + self.log())
            time.sleep(0.02)

    def stop(self, how=signal.SIGTERM):
        """Ends it (SIGKILL: at once); the data stay."""
        if self.process is None:
            return
        self.process.send_signal(how)
        try:
            self.process.wait(READY_S)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
        self.process = None

    def settle(self):
        """What it took is on its disk, and found."""

    def close(self):
        """Ends it and removes its folder."""
        self.stop()
        shutil.rmtree(self.folder, ignore_errors=True)

    def log(self):
        with open(os.path.join(self.folder, "log"), encoding="utf-8",
                  errors="replace") as file:
            return file.read()

    def _answers(self):
        try:
            with _open(self.url + "/ping", timeout=1) as answer:
                return answer.status == 204
        except OSError:
            return False

    def query(self, statement, database=""):
        """The result's series, [{"name", "columns", "values", "tags"?}]; [] when none.

        Times are nanoseconds.  Numbers read back as the doubles that are stored.
        """
        form = urllib.parse.urlencode(
            {"q": statement, "db": database, "epoch": "ns"}).encode()
        try:
            with _open(self.url + "/query", data=form, timeout=60) as answer:
                result = json.load(answer)["results"][0]
        except urllib.error.HTTPError as error:
            raise RuntimeError(f"{statement}: {error.read().decode()}") from error
        if "error" in result:
            raise RuntimeError(f"{statement}: {result['error']}")
        return result.get("series", [])

    def create_database(self, name):
        self.query(f'CREATE DATABASE "{name}"')

    def series(self, database):
        """How many series there are."""
        found = self.query("SHOW SERIES EXACT CARDINALITY", database)
        return sum(row[0] for each in found for row in each["values"])

    def points(self, database, measurement, span=None, line=None):
        """All points as dicts by column (tags, fields, time), in order of time.

        A field that a point does not have is None.  `span`: [from, to) in ns.
        """
        conditions = [f"time >= {span[0]} AND time < {span[1]}"] if span else []
        conditions += [f"\"line\" = '{line}'"] if line else []
        where = " WHERE " + " AND ".join(conditions) if conditions else ""
        series = self.query(f'SELECT * FROM "{measurement}"{where}', database)
        return [dict(zip(each["columns"], row))
                for each in series for row in each["values"]]
