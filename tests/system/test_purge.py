# SPDX-License-Identifier: GPL-3.0-or-later
# Not under the sanitizers: it runs a script of the package.
"""What purging the package takes away: settings, ledger and the drop-in that was proposed."""

import os
import subprocess
import sys
import tempfile

SCRIPT = "contrib/packaging/debian/evensoak.postrm"
DROP_INS = "/etc/systemd/system/evensoakd.service.d"
OURS = ("/etc/evensoak/evensoak.ini", "/var/lib/evensoak/ledger.db", DROP_INS + "/reach.conf")


def run(root, action):
    """The script as the package manager runs it, in a root of its own."""
    with open(SCRIPT, encoding="ascii") as file:
        text = file.read()
    for folder in ("/etc/", "/var/"):
        text = text.replace(" " + folder, f" {root}{folder}")
    done = subprocess.run(["sh", "-s", action], input=text, text=True, capture_output=True,
                          timeout=20, check=False)
    assert done.returncode == 0, done


def put(root, paths):
    for path in paths:
        os.makedirs(os.path.dirname(root + path), exist_ok=True)
        with open(root + path, "w", encoding="ascii") as file:
            file.write("\n")


def left(root):
    return sorted(os.path.join(folder, name)[len(root):]
                  for folder, _, names in os.walk(root) for name in names)


def main():
    other = DROP_INS + "/plant-network.conf"
    with tempfile.TemporaryDirectory() as root:
        put(root, OURS)
        run(root, "remove")
        assert left(root) == sorted(OURS), left(root)
        run(root, "purge")
        assert not left(root), left(root)
        for folder in ("/etc/evensoak", "/var/lib/evensoak", DROP_INS):
            assert not os.path.exists(root + folder), folder
        run(root, "purge")  # where nothing is

        put(root, (*OURS, other))
        run(root, "purge")
        assert left(root) == [other], left(root)
    return 0


if __name__ == "__main__":
    sys.exit(main())
