# SPDX-License-Identifier: GPL-3.0-or-later
"""Whether a process has a socket that somebody else could come to: one that listens, or one
of datagrams that is connected to nobody.  From /proc alone."""

import os
import socket
import subprocess
import sys

LISTENS, ACCEPTS = "0A", 0x10000  # of tcp; of unix: __SO_ACCEPTCON


def inodes(pid):
    found = set()
    for name in os.listdir(f"/proc/{pid}/fd"):
        try:
            to = os.readlink(f"/proc/{pid}/fd/{name}")
        except OSError:
            continue  # closed meanwhile
        if to.startswith("socket:["):
            found.add(to[len("socket:["):-1])
    return found


def rows(pid, table):
    with open(f"/proc/{pid}/net/{table}", encoding="ascii", errors="replace") as file:
        return [line.split() for line in file.readlines()[1:]]


def open_to_others(pid):
    """What stands open, as words."""
    # Tables first: what is opened and closed between the two is not known by its inode.
    tcp = {row[9]: row for table in ("tcp", "tcp6") for row in rows(pid, table)}
    udp = {row[9]: row for table in ("udp", "udp6") for row in rows(pid, table)}
    unix = {row[6]: row for row in rows(pid, "unix")}
    told = []
    for inode in inodes(pid):
        if inode in tcp and tcp[inode][3] == LISTENS:
            told.append(f"tcp {tcp[inode][1]} listens")
        if inode in udp and udp[inode][2].split(":")[1] == "0000":
            told.append(f"udp {udp[inode][1]} is connected to nobody")
        if inode in unix and int(unix[inode][3], 16) & ACCEPTS:
            told.append(f"unix {unix[inode][7:]} listens")
    return told


def assert_closed(pid):
    told = open_to_others(pid)
    assert not told, f"process {pid}: {told}"


OPENER = """
import socket, sys
family, kind = getattr(socket, sys.argv[1]), getattr(socket, sys.argv[2])
s = socket.socket(family, kind)
s.bind("" if family == socket.AF_UNIX else ("localhost", 0))
if kind == socket.SOCK_STREAM:
    s.listen()
print("open", flush=True)
sys.stdin.read()
"""


def assert_seen():
    """The check finds each kind in another process."""
    for family, kind, words in (("AF_INET", "SOCK_STREAM", "tcp"), ("AF_UNIX", "SOCK_STREAM", "unix"),
                                ("AF_INET", "SOCK_DGRAM", "udp")):
        with subprocess.Popen([sys.executable, "-c", OPENER, family, kind], text=True,
                              stdin=subprocess.PIPE, stdout=subprocess.PIPE) as opener:
            assert opener.stdout.readline() == "open\n"
            told = open_to_others(opener.pid)
            opener.stdin.close()
        assert len(told) == 1 and told[0].startswith(words), (family, kind, told)
    left, right = socket.socketpair()
    with left, right:
        assert_closed(os.getpid())
