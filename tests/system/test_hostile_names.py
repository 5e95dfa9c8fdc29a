# SPDX-License-Identifier: GPL-3.0-or-later
"""A ledger that came from elsewhere, with names and texts made to do harm in each place that
holds one: whatever evensoak is asked, in whatever format, what comes out is well formed, steers
no terminal, starts no script and no formula, and nothing is run."""

import csv
import io
import json
import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import unicodedata
import xml.etree.ElementTree

from plant import program

HOSTILE = ("=HYPERLINK(\"x\")\x1b]0;gone\x07\x1b[2J\r\n\t<script>alert(1)</script>' onload=\"x\" "
           "</style></title><!-- ]]> & \x9b31m \u202etxt\u2066\u2029 %s%n $(touch ran) `touch ran` "
           "\\\", \ufffe").encode() + b"\xff\xc3"
# Where people and other machines put words; the rest is what programs look up.
PLACES = {
    "setup": ("path",),
    "shot": ("tool", "lot", "material", "properties"),
    "context": ("value",),
    "event": ("text",),
    "channel": ("device", "name"),
    "lot": ("name", "material"),
    "health": ("subject", "text"),
    "earlier": ("text",),
}
FEATURE = "exit_top_c"
ASKED = {
    "shots": ("--last", "40"), "shot": ("20",), "context": (), "status": (), "calibrate": (),
    "reference": (), "recompute": ("--dry-run", "--since", "9000d"),
    "export": ("--since", "9000d"), "report": ("--since", "9000d"),
    "trend": ("--since", "9000d"), "hold": ("--since", "9000d"),
    "capability": ("--characteristic", FEATURE, "--since", "9000d", "--recipe", "12"),
}
SHOWN = ("shots", "context", "export")  # in each of their formats
PAGES = ("report", "trend", "hold", "capability")


def fill(folder):
    for name in ("demo.ini", "materials.ini"):
        shutil.copy(f"conf/{name}", folder)
    subprocess.run(
        [program("tests/system/fill_ledger"), os.path.join(folder, "demo.ini"), "40", "180",
         "1772427600"], check=True, stdout=subprocess.DEVNULL)
    path = os.path.join(folder, "ledger.db")
    with sqlite3.connect(path) as db:
        line, = db.execute("SELECT id FROM line").fetchone()
        for key in ("lot", "tool", "note"):
            db.execute("INSERT INTO context (line, key, value, holds_from, entered_at)"
                       " VALUES (?, ?, 'x', 1772428000000000000, 1772428000000000000)", (line, key))
        db.execute("INSERT INTO lot (name, entered_at) VALUES ('x', 1)")
        db.execute("INSERT INTO event (change, line, at, kind, text) SELECT max(change) + 1, ?,"
                   " 1772429000000000000, 'device_silent', 'x' FROM shot", (line,))
        for table, columns in PLACES.items():
            own = "rowid" if table == "channel" else "''"  # where two may not be the same
            for column in columns:
                db.execute(f"UPDATE {table} SET {column} = CAST(? || {own} AS TEXT)",
                           (HOSTILE,))
    db.close()
    return path


def assert_plain(told, allowed, where):
    text = told.decode("utf-8")  # which is part of it
    for character in text:
        assert (character in allowed or unicodedata.category(character) != "Cc"
                and character not in "\u2028\u2029\u202a\u202b\u202c\u202d\u202e"
                "\u2066\u2067\u2068\u2069"), (where, hex(ord(character)), text[:2000])
    return text


def check_csv(text, where):
    rows = list(csv.reader(io.StringIO(text, newline="")))
    assert len({len(row) for row in rows}) <= 1, where
    for cell in (cell for row in rows for cell in row):
        if cell[:1] in tuple("=+-@\t\r"):
            float(cell)


def check_markup(text, where):
    page = xml.etree.ElementTree.fromstring(text)
    for element in page.iter():
        assert element.tag.split("}")[1] not in ("script", "iframe", "object", "embed"), where
        for name, value in element.attrib.items():
            assert not name.startswith("on") and name != "src", (where, name)
            assert name != "href" or value[0] == "#" or value == "data:,", (where, value)


def ask(path, command, form):
    done = subprocess.run(
        [program("evensoak"), command, *ASKED[command], "--ledger", path,
         *(("--format", form) if form else ())],
        cwd=os.path.dirname(path), stdin=subprocess.DEVNULL, capture_output=True, timeout=60,
        check=False)
    where = f"{command} {form}"
    assert 0 <= done.returncode <= 3, (where, done)
    assert_plain(done.stderr, "\n", where)
    if form == "pdf":
        assert done.stdout[:5] == b"%PDF-", where
        return len(done.stdout)
    if command in SHOWN:
        assert b"gone" in done.stdout, where
    text = assert_plain(done.stdout, {"csv": "\r\n\t", "html": "\n\t"}.get(form, "\n"), where)
    if form == "json" and text:
        json.loads(text)
    if form == "csv":
        check_csv(text, where)
    if form == "html":
        check_markup(text, where)
    return len(text)


def main():
    with tempfile.TemporaryDirectory() as folder:
        path = fill(folder)
        for command in ASKED:
            forms = [None] if command == "export" else ["text", "json", "csv"]
            if command in PAGES:
                forms += ["html", "pdf"] if command == "report" else ["html"]
            lengths = {form: ask(path, command, form) for form in forms}
            print(command, lengths, flush=True)
            # What was not asked rightly would say nothing, and nothing is wrong with that.
            assert max(lengths.values()) > 50, (command, lengths)
        assert not os.path.exists(os.path.join(folder, "ran"))
    return 0


if __name__ == "__main__":
    sys.exit(main())
