# SPDX-License-Identifier: GPL-3.0-or-later
"""A logger whose ledger was filled beforehand: lines whose devices are not there, and the
stores that it delivers to.

    with Logger(lines=4, stores=section("a", "influxdb1", url)) as logger:
        logger.fill(shots=500, period_s=200)
        logger.start(); ...; logger.stop()

An example's configuration is what the lines are made of; see plant.Plant for the rest.
"""

import os
import re
import shutil
import signal
import subprocess
import time

from influx import free_ports
from plant import DEVICES, Plant, program, wait_for


def section(name, kind, url, **settings):
    """A [store NAME] for a configuration."""
    pairs = {"kind": kind, "url": url, "database": "plant", **settings}
    if kind == "influxdb2":
        pairs.setdefault("organization", "works")
    return f"[store {name}]\n" + "".join(f"{k} = {v}\n" for k, v in pairs.items()) + "\n"


def of_line(text, name, suffix, ports):
    """The sections of the example's line and what hangs on it, as another line's."""
    kept = []
    for part in re.split(r"(?m)^(?=\[)", text)[1:]:
        what = re.match(r"\[(line|device|channel) ", part)
        if not what:
            continue
        part = part.replace("[line line-3]", f"[line {name}]")
        part = part.replace("line = line-3\n", f"line = {name}\n")
        for device, port in ports.items():
            part = re.sub(rf"^\[(device|channel) {device}(?=[.\]])",
                          rf"[\1 {device}{suffix}", part)
            part = part.replace(f"127.0.0.1:{DEVICES[device]}\n", f"127.0.0.1:{port}\n")
        kept.append(part)
    return "".join(kept)


def rest(text):
    """Everything else: site, ledger, recipes, tools, shifts, limits."""
    return "".join(part for part in re.split(r"(?m)^(?=\[)", text)
                   if not re.match(r"\[(line|device|channel) ", part))


def configuration(names, ports, stores):
    """The demo plant with these lines; `ports`: {device: port} of each."""
    with open("conf/demo.ini", encoding="utf-8") as file:
        text = file.read()
    suffixes = [""] + [f"-{i}" for i in range(1, len(names))]
    return rest(text) + "\n" + "".join(
        of_line(text, name, suffix, there)
        for name, suffix, there in zip(names, suffixes, ports)) + "\n" + stores


class Logger(Plant):
    def __init__(self, stores="", lines=1, change=lambda text: text):
        """The lines are line-3, line-4 ...; `change` edits the configuration."""
        super().__init__(rate=1)
        self.names = [f"line-{3 + i}" for i in range(lines)]
        devices = list(DEVICES)[:4]
        ports = free_ports(lines * len(devices))  # where nobody listens
        there = [dict(zip(devices, ports[i::lines])) for i in range(lines)]
        self._text = lambda settings: change(configuration(self.names, there, settings))
        shutil.copy("conf/materials.ini", self.folder)
        self.write(stores)

    def write(self, stores):
        with open(self.config, "w", encoding="utf-8") as file:
            file.write(self._text(stores))

    def fill(self, shots, period_s=200, end_s=None, seed=1):
        """So many on each line, the last of them now or at `end_s`."""
        done = subprocess.run(
            [program("tests/system/fill_ledger"), self.config, str(shots), str(period_s),
             str(end_s or int(time.time())), str(seed)],
            stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stderr

    def start(self):
        with open(self.path("daemon.log"), "ab") as log:
            self.daemon = subprocess.Popen(
                [program("evensoakd"), "--config", self.config],
                stdin=subprocess.DEVNULL, stdout=log, stderr=log)

    def stop(self, how=signal.SIGTERM):
        if self.daemon is not None:
            self.stop_daemon(how)

    def delivered(self, store, stream="shot"):
        """How far the store has it, by change number."""
        rows = self.query("SELECT change FROM delivery WHERE destination = ? AND stream = ?",
                          store, stream)
        return rows[0]["change"] if rows else 0

    def newest(self):
        return self.query("SELECT max(change) AS n FROM shot")[0]["n"]

    def wait_delivered(self, store, seconds=60):
        wait_for(f"store {store} to have all shots",
                 lambda: self.delivered(store) >= self.newest(), seconds)

    def secret(self, name, text):
        """Path of a file for its owner alone to read."""
        path = self.path(name)
        with open(os.open(path, os.O_WRONLY | os.O_CREAT, 0o600), "w",
                  encoding="ascii") as file:
            file.write(text + "\n")
        return path
