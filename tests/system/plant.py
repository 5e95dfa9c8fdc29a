# SPDX-License-Identifier: GPL-3.0-or-later
"""The simulated line and the real daemon on a temporary folder, for system tests.

    with Plant(rate=240, sheets=20, script="sheet 5 cold start_c=-15") as plant:
        plant.start_line(); plant.start_daemon()
        plant.wait_line(); plant.stop_daemon()
        plant.shots(); plant.truth()

Programs come from $EVENSOAK_BUILD (build).  Everything listens on 127.0.0.1; only
processes started here are ended, by their pid.
"""

import csv
import datetime
import os
import shutil
import signal
import sqlite3
import subprocess
import tempfile
import time

import sockets

BUILD = os.environ.get("EVENSOAK_BUILD", "build")
# A folder: every server tells there which function codes it was asked (check-asked).
ASKED = os.environ.get("EVENSOAK_ASKED")
START = "2026-03-02T05:00:00Z"
DEVICES = {"controller": 1502, "pyrometers": 1503, "ovens": 1504, "water": 1505,
           "pyrometers-b": 1506, "ovens-b": 1507, "water-b": 1508}


def program(name):
    return os.path.join(BUILD, name)


def wait_for(what, condition, seconds=20.0):
    until = time.monotonic() + seconds
    while not condition():
        if time.monotonic() > until:
            raise AssertionError(f"waited {seconds} s for {what}")
        time.sleep(0.02)


def ns_of(text):
    """'2026-03-02T05:00:00.100Z' in nanoseconds since 1970; None for a blank."""
    if not text:
        return None
    whole, _, fraction = text.rstrip("Z").partition(".")
    seconds = datetime.datetime.fromisoformat(whole + "+00:00").timestamp()
    return int(seconds) * 10**9 + int((fraction or "0").ljust(9, "0"))


class Plant:
    def __init__(self, rate=240, sheets=None, duration_s=None, script="", seed=1,
                 settings="", machine="rotary", change=lambda text: text, line_rate=None,
                 start=START):
        """`settings` is added to the machine's example under conf/, `change` edits it;
        `line_rate`: the line's clock, where its machine is to be a slow one."""
        self.rate, self.seed = rate, seed
        self.line_rate, self.clock_start = line_rate or rate, start
        self.sheets, self.duration_s, self.script = sheets, duration_s, script
        self.folder = tempfile.mkdtemp(prefix="evensoak-plant-")
        self.ledger = self.path("ledger.db")
        self.config = self.path("plant.ini")
        self.line = self.daemon = None
        self.machine, self._change, self._settings = machine, change, settings

    def __enter__(self):
        return self

    def __exit__(self, *_):
        for process in (self.daemon, self.line):
            if process is not None and process.poll() is None:
                process.kill()
                process.wait()
        shutil.rmtree(self.folder, ignore_errors=True)

    def path(self, name):
        return os.path.join(self.folder, name)

    # --- the line ---------------------------------------------------------------------

    def start_line(self):
        with open(self.path("script"), "w", encoding="utf-8") as file:
            file.write(self.script)
        command = [program("linesim"), "--machine", self.machine, "--seed", str(self.seed),
                   "--clock-rate", str(self.line_rate), "--clock-start", self.clock_start,
                   "--script", self.path("script"), "--truth", self.path("truth.csv"),
                   "--ready", self.path("ready")]
        if ASKED is not None:
            command += ["--asked", os.path.join(ASKED, "linesim")]
        if self.sheets is not None:
            command += ["--sheets", str(self.sheets)]
        if self.duration_s is not None:
            command += ["--duration-s", str(self.duration_s)]
        with open(self.path("line.log"), "ab") as log:
            self.line = subprocess.Popen(
                command, stdin=subprocess.DEVNULL, stdout=log, stderr=log)
        wait_for("the simulated line", lambda: os.path.exists(self.path("ready"))
                 or self.line.poll() is not None)
        assert os.path.exists(self.path("ready")), self.log("line.log")
        with open(self.path("ready"), encoding="ascii") as file:
            self.ready = dict(line.split(None, 1) for line in file.read().splitlines())
        self.write_config()

    def write_config(self, settings=None):
        example = "demo" if self.machine == "rotary" else self.machine
        with open(f"conf/{example}.ini", encoding="utf-8") as file:
            text = file.read()
        for device, port in DEVICES.items():
            if device in self.ready:
                text = text.replace(f"127.0.0.1:{port}\n",
                                    f"127.0.0.1:{self.ready[device]}\n")
        text = self._change(text)
        shutil.copy("conf/materials.ini", self.folder)  # which the demo reads along
        with open(self.config, "w", encoding="utf-8") as file:
            file.write(text + "\n" + (self._settings if settings is None else settings))

    def wait_line(self, seconds=600):
        assert self.line.wait(seconds) == 0, self.log("line.log")

    # --- the daemon -------------------------------------------------------------------

    def start_daemon(self, wait=True, more=()):
        """`more` arguments go to the daemon."""
        command = [program("evensoakd"), "--config", self.config, *self.clock_options(),
                   *more]
        with open(self.path("daemon.log"), "ab") as log:
            self.daemon = subprocess.Popen(
                command, stdin=subprocess.DEVNULL, stdout=log, stderr=log)
        if wait:
            wait_for("the ledger", lambda: self._has_ledger()
                     or self.daemon.poll() is not None)
            assert self.daemon.poll() is None, self.log("daemon.log")

    def clock_options(self):
        """For whoever is to have the daemon's clock."""
        return ("--clock-rate", str(self.rate), "--clock-start", self.clock_start,
                "--clock-origin", self.ready["clock-origin-ns"])

    def _has_ledger(self):
        return os.path.exists(self.ledger) and bool(
            self.query("SELECT 1 FROM sqlite_master WHERE name = 'shot'"))

    def stop_daemon(self, how=signal.SIGTERM, code=0):
        if self.daemon.poll() is None:  # whatever it did until now: nobody can come to it
            sockets.assert_closed(self.daemon.pid)
        self.daemon.send_signal(how)
        got = self.daemon.wait(30)
        assert got == (code if how != signal.SIGKILL else -signal.SIGKILL), (
            f"the daemon ended with {got}\n" + self.log("daemon.log"))
        self.daemon = None

    # --- what came of it --------------------------------------------------------------

    def evensoak(self, *arguments):
        """Runs the command line; (exit code, stdout, stderr)."""
        config = () if "--config" in arguments else ("--config", self.config)
        done = subprocess.run([program("evensoak"), *config, *arguments],
                              stdin=subprocess.DEVNULL, capture_output=True, text=True,
                              timeout=60, check=False)
        return done.returncode, done.stdout, done.stderr

    def log(self, name):
        with open(self.path(name), encoding="utf-8", errors="replace") as file:
            return file.read()

    def query(self, sql, *values):
        """Rows of the ledger as dictionaries, as any SQL tool reads it."""
        with sqlite3.connect(f"file:{self.ledger}?mode=ro", uri=True, timeout=20) as db:
            db.row_factory = sqlite3.Row
            return [dict(row) for row in db.execute(sql, values)]

    def shots(self):
        return self.query("SELECT * FROM shot ORDER BY shot_no")

    def truth(self):
        with open(self.path("truth.csv"), newline="", encoding="utf-8") as file:
            return list(csv.DictReader(file))
