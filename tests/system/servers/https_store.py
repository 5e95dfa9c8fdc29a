#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""https_store.py FOLDER: stores that take everything, behind certificates of every sort.

Makes the certificates in FOLDER (ca.pem vouches for those of KINDS that are sound), listens
on 127.0.0.1, prints "NAME PORT" for each server and then "ready", and ends when its standard
input does.  Each request is a line of JSON in FOLDER/requests: server, connection, method,
path, authorization, lines.  A POST is answered 204, to /query and /api/ with FOLDER/answer
and 200 where that file is there; FOLDER/status holds another status.
"""

import gzip
import http.server
import json
import os
import ssl
import subprocess
import sys
import threading
import warnings

# A server, the names in its certificate, and what is wrong with that.
KINDS = {
    "sound": ("DNS:localhost,IP:127.0.0.1", None),
    "elsewhere": ("DNS:elsewhere.example", None),
    "expired": ("DNS:localhost", "expired"),
    "early": ("DNS:localhost", "early"),
    "stranger": ("DNS:localhost", "stranger"),
    "alone": ("DNS:localhost", "alone"),
    "old": ("DNS:localhost", "old tls"),
    "plain": (None, "http"),
}

AUTHORITY = """
[ca]
default_ca = works
[works]
database = {0}/index
new_certs_dir = {0}
certificate = {0}/ca.pem
private_key = {0}/ca.key
serial = {0}/serial
default_md = sha256
policy = any
unique_subject = no
copy_extensions = copy
[any]
commonName = supplied
"""


def openssl(folder, *words):
    subprocess.run(("openssl",) + words, cwd=folder, check=True, stdin=subprocess.DEVNULL,
                   stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)


def self_signed(folder, name, subject, *more):
    openssl(folder, "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256",
            "-nodes", "-keyout", name + ".key", "-out", name + ".pem", "-days", "2", "-subj",
            "/CN=" + subject, *more)


def make_certificate(folder, name, names, wrong):
    """FOLDER/NAME.pem and .key."""
    if wrong == "alone":
        self_signed(folder, name, "alone", "-addext", "subjectAltName=" + names)
        return
    openssl(folder, "req", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes",
            "-keyout", name + ".key", "-out", name + ".csr", "-subj", "/CN=" + name,
            "-addext", "subjectAltName=" + names)
    issuer = "stranger-ca" if wrong == "stranger" else "ca"
    span = {"expired": ("20200101000000Z", "20200201000000Z"),
            "early": ("20990101000000Z", "20991231000000Z")}.get(wrong)
    dates = ("-startdate", span[0], "-enddate", span[1]) if span else ("-days", "2")
    openssl(folder, "ca", "-batch", "-notext", "-config", "authority", "-cert",
            issuer + ".pem", "-keyfile", issuer + ".key", "-in", name + ".csr", "-out",
            name + ".pem", *dates)


def make_certificates(folder):
    with open(os.path.join(folder, "authority"), "w", encoding="ascii") as file:
        file.write(AUTHORITY.format(folder))
    with open(os.path.join(folder, "serial"), "w", encoding="ascii") as file:
        file.write("01\n")
    with open(os.path.join(folder, "index"), "w", encoding="ascii"):
        pass
    self_signed(folder, "ca", "works authority")
    self_signed(folder, "stranger-ca", "somebody's authority")
    for name, (names, wrong) in KINDS.items():
        if names:
            make_certificate(folder, name, names, wrong)


class Store(http.server.BaseHTTPRequestHandler):
    """Takes everything and writes down who came."""

    protocol_version = "HTTP/1.1"
    folder = name = None
    lock = threading.Lock()

    def path_of(self, name):
        return os.path.join(self.folder, name)

    def read(self, name):
        try:
            with open(self.path_of(name), "rb") as file:
                return file.read()
        except FileNotFoundError:
            return None

    def serve(self):
        body = self.rfile.read(int(self.headers.get("Content-Length", 0)))
        if self.headers.get("Content-Encoding") == "gzip":
            body = gzip.decompress(body)
        entry = {"server": self.name, "connection": self.client_address[1],
                 "method": self.command, "path": self.path,
                 "authorization": self.headers.get("Authorization"),
                 "lines": body.decode()}
        with self.lock, open(self.path_of("requests"), "a", encoding="utf-8") as file:
            file.write(json.dumps(entry) + "\n")
        asks = self.path.startswith(("/query", "/api/v1/"))
        answer = (self.read("answer") if asks else None) or b""
        status = int(self.read("status") or (200 if answer else 204))
        self.send_response(status)
        if status != 204:
            self.send_header("Content-Length", str(len(answer)))
        self.end_headers()
        self.wfile.write(answer)

    do_GET = do_POST = serve

    def log_message(self, *_):
        pass


class Server(http.server.ThreadingHTTPServer):
    """One that does not tell of those who break off a handshake."""

    daemon_threads = True
    context = None

    def finish_request(self, request, client_address):
        if self.context:
            request.settimeout(20)
            request = self.context.wrap_socket(request, server_side=True)
        super().finish_request(request, client_address)

    def handle_error(self, *_):
        pass


def context_of(folder, name, wrong):
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    if wrong == "old tls":
        context.set_ciphers("DEFAULT:@SECLEVEL=0")
        context.minimum_version = ssl.TLSVersion.TLSv1
        context.maximum_version = ssl.TLSVersion.TLSv1_1
    base = os.path.join(folder, name)
    context.load_cert_chain(base + ".pem", base + ".key")
    return context


def start(folder, name, wrong):
    handler = type("Store", (Store,), {"folder": folder, "name": name})
    server = Server(("127.0.0.1", 0), handler)
    if wrong != "http":
        server.context = context_of(folder, name, wrong)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    return server.server_address[1]


def main():
    warnings.simplefilter("ignore", DeprecationWarning)  # of TLS 1.1, which is meant
    folder = os.path.abspath(sys.argv[1])
    make_certificates(folder)
    for name, (_, wrong) in KINDS.items():
        print(name, start(folder, name, wrong))
    print("ready", flush=True)
    sys.stdin.read()


if __name__ == "__main__":
    main()
