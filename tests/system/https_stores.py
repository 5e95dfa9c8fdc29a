# SPDX-License-Identifier: GPL-3.0-or-later
"""The servers of servers/https_store.py, and what they were asked.

    with HttpsStores() as stores:
        ... deliver to stores.url("sound"), trusting stores.ca_file ...
        stores.requests()
"""

import json
import os
import shutil
import subprocess
import sys
import tempfile

SERVERS = os.path.join(os.path.dirname(os.path.abspath(__file__)), "servers", "https_store.py")


def available():
    return shutil.which("openssl") is not None


class HttpsStores:
    def __init__(self):
        self.folder = tempfile.mkdtemp(prefix="evensoak-https-")
        self.ca_file = os.path.join(self.folder, "ca.pem")
        self.process = None
        self.ports = {}

    def __enter__(self):
        self.process = subprocess.Popen(
            [sys.executable, SERVERS, self.folder], stdin=subprocess.PIPE,
            stdout=subprocess.PIPE, text=True)
        for line in self.process.stdout:
            if line == "ready\n":
                return self
            name, port = line.split()
            self.ports[name] = int(port)
        self.__exit__()
        raise RuntimeError("the https servers did not start")

    def __exit__(self, *_):
        self.process.stdin.close()
        self.process.wait()
        self.process.stdout.close()
        shutil.rmtree(self.folder, ignore_errors=True)

    def url(self, name):
        scheme = "http" if name == "plain" else "https"
        return f"{scheme}://localhost:{self.ports[name]}"

    def answer_with(self, status):
        """Every request from now on; None: as the servers like it."""
        path = os.path.join(self.folder, "status")
        if status is None:
            os.remove(path)
            return
        with open(path + ".new", "w", encoding="ascii") as file:
            file.write(str(status))
        os.replace(path + ".new", path)

    def requests(self):
        try:
            with open(os.path.join(self.folder, "requests"), encoding="utf-8") as file:
                return [json.loads(line) for line in file if line.endswith("\n")]
        except FileNotFoundError:
            return []
