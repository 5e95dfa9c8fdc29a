# SPDX-License-Identifier: GPL-3.0-or-later
# Not under the sanitizers: it copies files.
"""`make install` and `make uninstall`: everything is where it belongs, with the folders that
were asked for; uninstalling takes that away and nothing else."""

import hashlib
import os
import re
import stat
import subprocess
import sys
import tempfile

BUILD = os.path.abspath(os.environ.get("EVENSOAK_BUILD", "build"))
PREFIX = "/opt/plant"
DATA = PREFIX + "/share/evensoak"
# Folders that a computer has, and what others have put in ours.
FOLDERS = ("bin", "sbin", "lib/systemd/system", "lib/sysusers.d", "lib/tmpfiles.d",
           "share/bash-completion/completions", "share/zsh/site-functions",
           *(f"share/man/man{section}" for section in range(1, 9)))
FOREIGN = (PREFIX + "/bin/other", PREFIX + "/share/man/man1/other.1",
           DATA + "/examples/our-own.ini")
KEPT = ("/etc/evensoak/evensoak.ini", "/var/lib/evensoak/ledger.db")


def make(target, root):
    # Not the make that runs the tests: what was told to that one is not meant for this.
    environ = {name: value for name, value in os.environ.items()
               if not name.startswith("MAKE") and name not in ("MFLAGS", "MODE", "OUT")}
    done = subprocess.run(["make", target, f"OUT={BUILD}", f"DESTDIR={root}", f"PREFIX={PREFIX}"],
                          env=environ, capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 0, done


def tree(root):
    """Path within the root: kind, mode and contents of everything there."""
    found = {}
    for folder, folders, files in os.walk(root):
        for name in folders + files:
            path = os.path.join(folder, name)
            text = b"" if os.path.isdir(path) else open(path, "rb").read()
            found[path[len(root):]] = (stat.filemode(os.lstat(path).st_mode),
                                       hashlib.sha256(text).hexdigest())
    return found


def put(root, path, text):
    os.makedirs(os.path.dirname(root + path), exist_ok=True)
    with open(root + path, "w", encoding="ascii") as file:
        file.write(text)


def read(root, path):
    with open(root + path, encoding="utf-8") as file:
        return file.read()


def everything_is_where_it_belongs(root, now):
    for path in (PREFIX + "/bin/evensoak", PREFIX + "/sbin/evensoakd"):
        assert now[path][0] == "-rwxr-xr-x", now[path]
        subprocess.run([root + path, "--version"], check=True, capture_output=True, timeout=20)
    units = [path for path in now if path.startswith(PREFIX + "/lib/systemd/system/")]
    assert PREFIX + "/lib/systemd/system/evensoakd.service" in units
    for path in units + [PREFIX + "/lib/sysusers.d/evensoak.conf",
                         PREFIX + "/lib/tmpfiles.d/evensoak.conf"]:
        assert now[path][0] == "-rw-r--r--", path
        assert not re.search(r"@[A-Z]+@", read(root, path)), path
    unit = read(root, PREFIX + "/lib/systemd/system/evensoakd.service")
    assert f"ExecStart={PREFIX}/sbin/evensoakd --config /etc/evensoak/evensoak.ini\n" in unit
    for name in os.listdir("conf"):
        if name.endswith(".ini"):
            path = f"{DATA}/examples/{name}"
            ledger = re.search(r"^path = (.*)$", read(root, path), re.M)
            assert not ledger or ledger[1] == "/var/lib/evensoak/ledger.db", (path, ledger)
    print(len(now), "files and folders")


def main():
    with tempfile.TemporaryDirectory() as root:
        for folder in FOLDERS:
            os.makedirs(f"{root}{PREFIX}/{folder}")
        for path in FOREIGN:
            put(root, path, "not ours\n")
        os.chmod(f"{root}{PREFIX}/bin", 0o2775)  # as they came, folders stay
        before = tree(root)
        make("install-built", root)
        now = tree(root)
        assert {path: now.get(path) for path in before} == before
        everything_is_where_it_belongs(root, now)

        put(root, KEPT[0], "[site]\n")
        put(root, KEPT[1], "shots\n")
        kept = {path: value for path, value in tree(root).items()
                if path.startswith(("/etc", "/var"))}
        make("uninstall", root)
        assert tree(root) == before | kept, set(tree(root)) ^ set(before | kept)

    # Where nothing of it was there before, and no settings were made, no folder of ours is left.
    with tempfile.TemporaryDirectory() as root:
        make("install-built", root)
        make("uninstall", root)
        left = [path for path in tree(root) if "evensoak" in path]
        assert left == [], left
    return 0


if __name__ == "__main__":
    sys.exit(main())
