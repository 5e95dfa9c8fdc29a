# SPDX-License-Identifier: GPL-3.0-or-later
"""A real VictoriaMetrics (Debian's victoria-metrics) for tests, used as an Influx is.

    with Victoria() as store:
        ... deliver to store.url ...
        store.stop(signal.SIGKILL); store.start()     # loses what was written last
        rows = store.points("", "shot")

It lives in a temporary folder, listens on a free port of 127.0.0.1 only, and is ended by
its pid.  It keeps a hundred years and drops samples that come twice, as the README asks
of a plant's.
"""

import json
import os
import shutil
import signal
import subprocess
import tempfile
import time
import urllib.parse

from influx import READY_S, _open, free_ports

NAME = "victoria-metrics"
# A sample's name is measurement_field; where two begin alike the longer one is meant.
MEASUREMENTS = ("shot_channel", "shot_absent", "shot_words", "shot", "event", "reading",
                "device", "logger", "shift", "shift_total")


def available():
    return shutil.which(NAME) is not None


class Victoria:
    def __init__(self, port=None, dedup="1ms"):
        """`port`: where to listen; a free one otherwise.  `dedup` "0s": what comes twice is
        kept twice."""
        self.dedup = dedup
        self.folder = tempfile.mkdtemp(prefix="evensoak-victoria-")
        self.port = port or free_ports(1)[0]
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
        with open(os.path.join(self.folder, "log"), "ab") as log:
            self.process = subprocess.Popen(
                [NAME, f"-storageDataPath={self.folder}/data", "-retentionPeriod=100y",
                 f"-httpListenAddr=127.0.0.1:{self.port}",
                 f"-dedup.minScrapeInterval={self.dedup}",
                 "-search.maxUniqueTimeseries=10000000", "-loggerLevel=WARN"],
                stdin=subprocess.DEVNULL, stdout=log, stderr=log)
        until = time.monotonic() + READY_S
        while not self._answers():
            if self.process.poll() is not None or time.monotonic() > until:
                raise RuntimeError(f"{NAME} does not answer:\n" + self.log())
            time.sleep(0.02)

    def stop(self, how=signal.SIGTERM):
        """Ends it; with SIGKILL it forgets what it had acknowledged last."""
        if self.process is None:
            return
        self.process.send_signal(how)
        try:
            self.process.wait(READY_S)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
        self.process = None

    def close(self):
        """Ends it and removes its folder."""
        self.stop(signal.SIGKILL)
        shutil.rmtree(self.folder, ignore_errors=True)

    def log(self):
        with open(os.path.join(self.folder, "log"), encoding="utf-8",
                  errors="replace") as file:
            return file.read()

    def _answers(self):
        try:
            with _open(self.url + "/health", timeout=1) as answer:
                return answer.status == 200
        except OSError:
            return False

    def create_database(self, name):
        """There are none; a database's name is a label."""

    def settle(self):
        """All that it took is on its disk, and all of that is found from now on: a flush
        leaves out what it still caches of earlier searches."""
        self.stop()
        self.start()

    def flush(self):
        """Most of what was written can be read from now on."""
        with _open(self.url + "/internal/force_flush", timeout=60):
            pass

    def export(self, measurement, span=None, line=None):
        """[(labels, times in ms, values)] of all series of a measurement."""
        self.flush()
        others = "|".join(name for name in MEASUREMENTS if name.startswith(measurement + "_"))
        of_line = f',line="{line}"' if line else ""
        form = {"match[]": f'{{__name__=~"{measurement}_.+",__name__!~"({others})_.+"'
                           f"{of_line}}}"}
        if span is not None:
            form["start"], form["end"] = span[0] / 10**9, span[1] / 10**9 - 0.001
        form = urllib.parse.urlencode(form).encode()
        with _open(self.url + "/api/v1/export", data=form, timeout=300) as answer:
            rows = [json.loads(line) for line in answer]
        return [(row["metric"], row["timestamps"], row["values"]) for row in rows]

    def series(self, _):
        """How many series there are."""
        self.flush()
        with _open(self.url + "/api/v1/series/count", timeout=60) as answer:
            return json.load(answer)["data"][0]

    def points(self, _, measurement, span=None, line=None):
        """All points as dicts by column (tags, fields, time in ns), in order of time.

        A field of which there are two samples at one time is a list of them.  `span`:
        [from, to) in ns, whole milliseconds.
        """
        points = {}
        for labels, times, values in self.export(measurement, span, line):
            field = labels.pop("__name__")[len(measurement) + 1:]
            labels.pop("db", None)
            tags = tuple(sorted(labels.items()))
            for at, value in zip(times, values):
                point = points.setdefault((at, tags), dict(labels, time=at * 10**6))
                point[field] = value if field not in point else [point[field], value]
        return [points[key] for key in sorted(points)]
