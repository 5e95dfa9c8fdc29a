# SPDX-License-Identifier: GPL-3.0-or-later
"""What goes wrong around the daemon: configuration, devices, ledger, disk, reloading."""

import os
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
import tempfile
import time

from plant import Plant, program, wait_for


def run_daemon(config, *more):
    done = subprocess.run([program("evensoakd"), "--config", config, *more],
                          stdin=subprocess.DEVNULL, capture_output=True, text=True,
                          timeout=20, check=False)
    return done.returncode, done.stderr


def wrong_configuration(folder):
    path = os.path.join(folder, "wrong.ini")
    with open("conf/demo.ini", encoding="utf-8") as file:
        text = file.read()
    text = (text.replace("heat_min_s = 30", "heat_mins = 30")
            .replace("upper = 2.0 F", "upper = 2.0")
            .replace("period_ms = 2000", "period_ms = 5"))
    with open(path, "w", encoding="utf-8") as file:
        file.write(text)
    line = text[:text.index("heat_mins")].count("\n") + 1
    code, told = run_daemon(path)
    assert code == 78, (code, told)
    for part in (f"wrong.ini:{line}: ", "'heat_mins'", "'heat_min_s'", "'period_ms'", "2.0 F"):
        assert part in told, (part, told)
    done = subprocess.run([program("evensoak"), "--config", path, "check"],
                          stdin=subprocess.DEVNULL, capture_output=True, text=True,
                          check=False)
    assert done.returncode == 1, done
    lines = [line for line in done.stderr.splitlines() if "wrong.ini:" in line]
    assert len(lines) >= 3, done.stderr
    assert not os.path.exists(os.path.join(folder, "ledger.db"))


def wrong_ledgers(folder):
    """One line, exit 3, and not a byte changed."""
    path = os.path.join(folder, "plant.ini")
    ledger = os.path.join(folder, "ledger.db")
    shutil.copy("conf/demo.ini", path)
    shutil.copy("conf/materials.ini", folder)
    with sqlite3.connect(ledger) as db:
        db.execute("PRAGMA user_version = 9999")
        db.execute("CREATE TABLE later (x)")
    db.close()
    for make in (lambda: None, lambda: open(ledger, "wb").write(b"no ledger at all" * 99)):
        make()
        with open(ledger, "rb") as file:
            before = file.read()
        code, told = run_daemon(path)
        assert code == 3 and len(told.splitlines()) <= 2, (code, told)
        with open(ledger, "rb") as file:
            assert file.read() == before, "the file was touched"
    os.remove(ledger)
    with open(path, encoding="utf-8") as file:
        text = file.read()
    with open(path, "w", encoding="utf-8") as file:
        file.write(text.replace("path = ledger.db", "path = /no/such/folder/ledger.db"))
    code, told = run_daemon(path)
    assert code == 3 and "/no/such/folder" in told, (code, told)


def silent_device():
    """A device that is not there costs its own figures; status names it; the rest go on."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))  # bound, not listening: refuses
        nobody = taken.getsockname()[1]
        with Plant(rate=240, sheets=8, change=lambda text: text.replace(
                "[device ovens]\nline = line-3\naddress = 127.0.0.1:",
                f"[device ovens]\nline = line-3\naddress = 127.0.0.1:{nobody} ; not ")) as plant:
            plant.start_line()
            plant.start_daemon()
            time.sleep(3)
            code, told, _ = plant.evensoak("status")
            assert code == 1 and "ovens" in told, (code, told)
            plant.wait_line()
            plant.stop_daemon()
            shots = [s for s in plant.shots() if s["outcome"] in ("startup", "complete")]
            assert len(shots) >= 6
            assert all(s["energy_kwh"] is None for s in shots)
            seen = [s for s in shots if s["heat_s"] and s["exit_top_c"]]
            assert len(seen) >= len(shots) - 2  # a busy test machine may miss polls
            assert plant.query("SELECT 1 FROM absent WHERE feature = 'energy_kwh'"
                               " AND reason = 'comm_fault'")


def reload():
    """SIGHUP: a wrong file is refused and the old one stays; a right one takes over with
    the sheets in flight left alone."""
    with Plant(rate=240, sheets=12) as plant:
        plant.start_line()
        plant.start_daemon()
        wait_for("two shots", lambda: len(plant.shots()) > 2)
        with open(plant.config, encoding="utf-8") as file:
            right = file.read()
        with open(plant.config, "w", encoding="utf-8") as file:
            file.write(right.replace("upper = 2.0 F", "upper = two"))
        plant.daemon.send_signal(signal.SIGHUP)
        wait_for("the refusal", lambda: "is refused" in plant.log("daemon.log"))
        wait_for("status to say so", lambda: plant.query(
            "SELECT text FROM health WHERE subject = 'configuration'"))
        with open(plant.config, "w", encoding="utf-8") as file:
            file.write(right.replace("upper = 2.0 F", "upper = 3.0 F"))
        plant.daemon.send_signal(signal.SIGHUP)
        wait_for("taking over", lambda: "is in force" in plant.log("daemon.log"))
        wait_for("status to forget it", lambda: not plant.query(
            "SELECT text FROM health WHERE subject = 'configuration'"))
        plant.wait_line()
        plant.stop_daemon()
        setups = plant.query("SELECT id, text FROM setup ORDER BY id")
        assert ["upper = 3.0 F" in s["text"] for s in setups] == [False, True]
        used = [s["setup"] for s in plant.shots()]
        assert used == sorted(used) and len(set(used)) == 2, used
        for shot in plant.shots()[2:]:  # a busy test machine may well miss polls
            assert shot["outcome"] in ("startup", "complete") or (
                "signals were missing" in shot["reason"]), dict(shot)


def other_ledger():
    """A reload that names another ledger is refused, and all goes on as it was."""
    with Plant(rate=240, duration_s=3600) as plant:
        plant.start_line()
        plant.start_daemon()
        wait_for("a shot", lambda: len(plant.shots()) > 0)
        with open(plant.config, encoding="utf-8") as file:
            text = file.read()
        with open(plant.config, "w", encoding="utf-8") as file:
            file.write(text.replace("path = ledger.db", "path = other.db"))
        plant.daemon.send_signal(signal.SIGHUP)
        wait_for("the refusal", lambda: "needs a restart" in plant.log("daemon.log"))
        there = len(plant.shots())
        wait_for("more shots", lambda: len(plant.shots()) > there)
        plant.stop_daemon()
        assert not os.path.exists(plant.path("other.db"))


def fill(path):
    """A file that takes what space there is."""
    with open(path, "wb", buffering=0) as filler:
        for size in (65536, 4096, 512, 1):
            try:
                while True:
                    filler.write(bytes(size))
            except OSError:
                pass


def full_disk(from_the_start):
    """The disk is full for a while: shots wait in memory, none is lost, none is there
    twice, and the log says so once."""
    with Plant(rate=240, sheets=24) as plant:
        disk = plant.path("disk")
        os.mkdir(disk)
        mounted = subprocess.run(
            ["mount", "-t", "tmpfs", "-o", "size=12m", "tmpfs", disk],
            capture_output=True, check=False)
        if mounted.returncode != 0:
            print("full disk: not tried, no right to mount")
            return
        try:
            plant.ledger = os.path.join(disk, "ledger.db")
            plant._change = lambda text: text.replace("path = ledger.db",
                                                      f"path = {plant.ledger}")
            if from_the_start:
                fill(os.path.join(disk, "filler"))
            plant.start_line()
            plant.start_daemon(wait=not from_the_start)
            if not from_the_start:
                wait_for("three shots", lambda: len(plant.shots()) >= 3)
                fill(os.path.join(disk, "filler"))
            wait_for("the ledger to refuse",
                     lambda: "wait in memory" in plant.log("daemon.log"), 30)
            plant.wait_line()
            there = 0 if from_the_start else len(plant.shots())
            os.remove(os.path.join(disk, "filler"))
            wait_for("the ledger", plant._has_ledger, 30)
            wait_for("the shots in memory", lambda: len(plant.shots()) > there + 3, 30)
            time.sleep(1)
            plant.stop_daemon()
            numbers = [s["shot_no"] for s in plant.shots()]
            assert numbers == list(range(1, len(numbers) + 1)) and len(numbers) >= 24
            assert plant.query("PRAGMA integrity_check") == [{"integrity_check": "ok"}]
            assert plant.log("daemon.log").count("wait in memory") == 1
            print(f"full disk: {there} shots on file while full, {len(numbers)} afterwards")
        finally:
            subprocess.run(["umount", "-l", disk], check=False)


def told_to_systemd():
    """READY=1 once it runs, WATCHDOG=1 while it lives, STOPPING=1 when it ends."""
    with Plant(rate=240, duration_s=3600) as plant:
        with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as service:
            service.bind(plant.path("notify"))
            service.settimeout(5)
            os.environ["NOTIFY_SOCKET"] = plant.path("notify")
            try:
                plant.start_line()
                plant.start_daemon()
            finally:
                del os.environ["NOTIFY_SOCKET"]
            told = [service.recv(100).decode() for _ in range(3)]
            assert told == ["READY=1", "WATCHDOG=1", "WATCHDOG=1"], told
            plant.stop_daemon()
            service.settimeout(0.1)
            while told[-1] == "WATCHDOG=1":
                told.append(service.recv(100).decode())
            assert told[-1] == "STOPPING=1", told


def two_daemons():
    with Plant(rate=240, duration_s=3600) as plant:
        plant.start_line()
        plant.start_daemon()
        time.sleep(0.5)
        code, told = run_daemon(plant.config)
        assert code == 3, (code, told)
        plant.stop_daemon()


def main():
    with tempfile.TemporaryDirectory() as folder:
        wrong_configuration(folder)
        wrong_ledgers(folder)
    for check in (silent_device, told_to_systemd, two_daemons, reload, other_ledger):
        print(check.__name__)
        check()
    for from_the_start in (False, True):
        full_disk(from_the_start)
    return 0


if __name__ == "__main__":
    sys.exit(main())
