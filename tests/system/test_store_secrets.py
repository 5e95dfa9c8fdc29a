# SPDX-License-Identifier: GPL-3.0-or-later
"""Every way to log in to a store, over TLS: the store sees the secret, and nothing else
does: no process list, no log, no sentence of a command, no ledger, whatever goes wrong."""

import base64
import os
import sys

import https_stores
from plant import Plant, wait_for

# A store, the settings of its login, and what it must see.
STORES = {
    "basic": ("kind = influxdb1\ndatabase = plant\nuser = line-3\n"
              "password_file = basic-secret\n", "Basic"),
    "token": ("kind = influxdb2\norganization = works\ndatabase = plant\n"
              "token_file = token-secret\n", "Token"),
    "bearer": ("kind = influxdb3\ndatabase = plant\ntoken_file = bearer-secret\n", "Bearer"),
    "handed": ("kind = victoriametrics\ncredential = handed-secret\n", "Bearer"),
    "handed-user": ("kind = victoriametrics\ndatabase = a\nuser = line-3\n"
                    "credential = handed-user-secret\n", "Basic"),
}
PATHS = {"basic": "/write?db=plant", "token": "/api/v2/write", "bearer": "/api/v3/write_lp",
         "handed": "/write?precision=ns", "handed-user": "/write?db=a"}


class Secrets:
    """One a store, in files of their own."""

    def __init__(self, plant):
        self.plant = plant
        self.now, self.ever = {}, []
        os.mkdir(plant.path("credentials"), 0o700)
        for name in STORES:
            self.change(name)

    def path(self, name):
        folder = "credentials/" if name.startswith("handed") else ""
        return self.plant.path(f"{folder}{name}-secret")

    def change(self, name):
        secret = f"sesame-{name}-{os.urandom(12).hex()}"
        with open(self.path(name) + ".new", "w", encoding="ascii") as file:
            os.fchmod(file.fileno(), 0o640)
            file.write(secret + "\n")
        os.replace(self.path(name) + ".new", self.path(name))
        self.now[name] = secret
        # as it is, and as Basic sends it
        self.ever += [secret, base64.b64encode(f"line-3:{secret}".encode()).decode()]

    def authorization(self, name):
        word = STORES[name][1]
        return f"{word} {self.ever[self.ever.index(self.now[name]) + (word == 'Basic')]}"

    def check_absent(self, what, text):
        for secret in self.ever:
            assert secret not in text, f"a secret is in {what}"
        assert "sesame-" not in text, f"a piece of a secret is in {what}"


def settings_of(stores, server):
    return "".join(
        f"[store {name}]\nurl = {stores.url(server)}\nca_file = {stores.ca_file}\n{login}"
        for name, (login, _) in STORES.items())


def name_of(path):
    return next(name for name, start in PATHS.items() if path.startswith(start))


def seen(stores, since=0):
    """The last authorization of each store's posts."""
    return {name_of(each["path"]): each["authorization"]
            for each in stores.requests()[since:] if each["method"] == "POST"
            and not each["path"].startswith("/query")}


def read_bytes(path):
    with open(path, "rb") as file:
        return file.read().decode("latin-1")


def check_everything(plant, secrets):
    """Nothing outside of the files themselves and the store has a secret."""
    if plant.daemon is not None:
        for name in ("cmdline", "environ"):
            secrets.check_absent(name, read_bytes(f"/proc/{plant.daemon.pid}/{name}"))
    for entry in os.scandir(plant.folder):
        if entry.is_file() and not entry.name.endswith("-secret"):
            secrets.check_absent(entry.name, read_bytes(entry.path))
    said = {}
    for words in (("status",), ("status", "--format", "json"), ("check",),
                  ("report", "--from", "basic"), ("shots", "--from", "token")):
        code, out, err = plant.evensoak(*words)
        said[" ".join(words)] = out + err
        secrets.check_absent(f"'evensoak {' '.join(words)}' ({code})", out + err)
    return said


def check_logins(plant, stores, secrets):
    def all_seen():
        return len(seen(stores)) == len(STORES)

    wait_for("posts to every store", all_seen, 60)
    for name, authorization in seen(stores).items():
        assert authorization == secrets.authorization(name), (name, authorization)
    check_everything(plant, secrets)
    print(f"{len(STORES)} logins are seen by their stores, and by nobody else")


def check_new_secrets(plant, stores, secrets):
    before = len(stores.requests())
    for name in STORES:
        secrets.change(name)

    def all_new():
        now = seen(stores, before)
        return all(now.get(name) == secrets.authorization(name) for name in STORES)

    wait_for("the new secrets", all_new, 60)
    check_everything(plant, secrets)
    print("another secret counts without a restart")


def check_trouble(plant, stores, secrets):
    os.chmod(secrets.path("token"), 0o644)
    os.remove(secrets.path("handed"))
    wait_for("the daemon to say which secrets will not do", lambda: all(
        words in plant.log("daemon.log")
        for words in ("is open to everybody", "LoadCredential=handed-secret:PATH")), 60)
    said = check_everything(plant, secrets)
    assert "is open to everybody" in said["shots --from token"], said
    stores.answer_with(401)
    wait_for("status to name every store", lambda: all(
        f"wrong: store {name}" in plant.evensoak("status")[1] for name in STORES), 60)
    check_everything(plant, secrets)
    print("refused logins and secrets that will not do are told without them")


def check_command_without_credential(plant, secrets):
    del os.environ["CREDENTIALS_DIRECTORY"]
    code, out, err = plant.evensoak("report", "--from", "handed")
    assert code == 3 and "handed to the service alone" in err, (code, out, err)
    secrets.check_absent("report --from handed", out + err)
    print("a command says that a credential is the service's")


def check_strangers(plant, stores, secrets):
    """Another server has taken the place of the store: it must see nothing at all."""
    plant.stop_daemon()
    os.environ["CREDENTIALS_DIRECTORY"] = plant.path("credentials")
    secrets.change("handed")
    secrets.change("token")
    stores.answer_with(None)
    plant.write_config(settings_of(stores, "stranger"))
    before = len(stores.requests())
    plant.start_daemon()
    wait_for("the daemon to tell of the certificate",
             lambda: plant.log("daemon.log").count("write 'ca_file'") == len(STORES), 60)
    check_everything(plant, secrets)
    assert len(stores.requests()) == before
    print("a store with a stranger's certificate gets no login and no line")


def main():
    if not https_stores.available():
        print("no openssl here")
        return 77
    with https_stores.HttpsStores() as stores, Plant(
            rate=240, duration_s=24 * 3600, settings=settings_of(stores, "sound")) as plant:
        secrets = Secrets(plant)
        os.environ["CREDENTIALS_DIRECTORY"] = plant.path("credentials")
        plant.start_line()
        plant.start_daemon()
        check_logins(plant, stores, secrets)
        check_new_secrets(plant, stores, secrets)
        check_trouble(plant, stores, secrets)
        check_command_without_credential(plant, secrets)
        check_strangers(plant, stores, secrets)
        plant.stop_daemon()
        check_everything(plant, secrets)
    return 0


if __name__ == "__main__":
    sys.exit(main())
