# SPDX-License-Identifier: GPL-3.0-or-later
"""A real InfluxDB and a real VictoriaMetrics, both behind TLS and both with users: they are
written to and read back, and take nothing from who has no password."""

import os
import shutil
import ssl
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.parse
import urllib.request

import https_stores
import influx
import victoria
from plant import Plant, wait_for

READY_S = 20
PASSWORD = "a password of: two stores"

INFLUX = """\
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
  auth-enabled = true
  https-enabled = true
  https-certificate = "{certificate}"
  https-private-key = "{key}"
"""


class Real:
    """A server of its own folder, asked with the right password or without."""

    def __init__(self, certificates, ca_file):
        self.folder = tempfile.mkdtemp(prefix="evensoak-tls-")
        self.certificate = os.path.join(certificates, "sound.pem")
        self.key = os.path.join(certificates, "sound.key")
        self.port, self.other_port = influx.free_ports(2)
        self.url = f"https://localhost:{self.port}"
        trusted = urllib.request.HTTPSHandler(
            context=ssl.create_default_context(cafile=ca_file))
        self._open = urllib.request.build_opener(
            urllib.request.ProxyHandler({}), trusted).open
        with open(os.path.join(self.folder, "log"), "ab") as log:
            self.process = subprocess.Popen(
                self.command(), stdin=subprocess.DEVNULL, stdout=log, stderr=log)
        try:
            self.wait()
        except BaseException:
            self.close()
            raise

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.close()

    def close(self):
        self.process.kill()
        self.process.wait()
        shutil.rmtree(self.folder, ignore_errors=True)

    def command(self):
        raise NotImplementedError

    def status(self, path, form=None):
        """The status of one request without a login."""
        try:
            data = form and urllib.parse.urlencode(form).encode()
            with self._open(self.url + path, data=data, timeout=5) as answer:
                return answer.status
        except urllib.error.HTTPError as error:
            return error.code
        except OSError:
            return 0

    def wait(self):
        until = time.monotonic() + READY_S
        while self.status("/ping") == 0:
            if self.process.poll() is not None or time.monotonic() > until:
                with open(os.path.join(self.folder, "log"), encoding="utf-8") as file:
                    raise RuntimeError("the store does not answer:\n" + file.read())
            time.sleep(0.05)


class RealInflux(Real):
    def command(self):
        path = os.path.join(self.folder, "influx.conf")
        with open(path, "w", encoding="ascii") as file:
            file.write(INFLUX.format(
                folder=self.folder, backup=self.other_port, port=self.port,
                certificate=self.certificate, key=self.key))
        return ["influxd", "-config", path]

    def make_user(self):
        """The first one, whom nobody needs to allow."""
        user = "?" + urllib.parse.urlencode({"u": "line", "p": PASSWORD})
        for path, statement in (
                ("/query", f"CREATE USER line WITH PASSWORD '{PASSWORD}' WITH ALL PRIVILEGES"),
                ("/query" + user, "CREATE DATABASE plant")):
            status = self.status(path, {"q": statement})
            assert status == 200, (statement, status)


class RealVictoria(Real):
    def command(self):
        return [victoria.NAME, f"-storageDataPath={self.folder}/data", "-retentionPeriod=100y",
                f"-httpListenAddr=127.0.0.1:{self.port}", "-dedup.minScrapeInterval=1ms",
                "-tls", f"-tlsCertFile={self.certificate}", f"-tlsKeyFile={self.key}",
                "-httpAuth.username=line", f"-httpAuth.password={PASSWORD}",
                "-loggerLevel=WARN"]


def rows(plant, *more):
    code, out, err = plant.evensoak("shots", "--format", "csv", *more)
    assert code == 0, (more, code, err)
    return out.splitlines()


def check(plant, store):
    """What the store has is what the ledger has."""
    there = rows(plant)
    wait_for(f"all shots in {store}", lambda: len(rows(plant, "--from", store)) == len(there),
             90)
    assert rows(plant, "--from", store) == there
    assert len(there) > 10
    print(f"{store}: {len(there) - 1} shots are read back over TLS as the ledger has them")


def check_without_password(stores):
    for store, form in stores:
        assert store.status("/write?db=plant&precision=ns", form) == 401


def main():
    if not (https_stores.available() and influx.available() and victoria.available()):
        print("no openssl, influxd or victoria-metrics here")
        return 77
    with https_stores.HttpsStores() as certificates, \
            RealInflux(certificates.folder, certificates.ca_file) as one, \
            RealVictoria(certificates.folder, certificates.ca_file) as other:
        one.make_user()
        check_without_password([(one, {"a": "b"}), (other, {"a": "b"})])
        login = (f"user = line\npassword_file = password\n"
                 f"ca_file = {certificates.ca_file}\n")
        settings = (f"[store one]\nkind = influxdb1\nurl = {one.url}\ndatabase = plant\n"
                    f"{login}[store other]\nkind = victoriametrics\nurl = {other.url}\n{login}")
        with Plant(rate=240, sheets=20, settings=settings, seed=3) as plant:
            with open(plant.path("password"), "w", encoding="ascii") as file:
                os.fchmod(file.fileno(), 0o600)
                file.write(PASSWORD + "\n")
            plant.start_line()
            plant.start_daemon()
            plant.wait_line()
            wait_for("shots", lambda: len(plant.shots()) > 10, 30)
            time.sleep(3)  # 12 minutes of the line, which stands: no more will come
            check(plant, "one")
            check(plant, "other")
            plant.stop_daemon()
            assert "verify" not in plant.log("daemon.log"), plant.log("daemon.log")
    return 0


if __name__ == "__main__":
    sys.exit(main())
