# SPDX-License-Identifier: GPL-3.0-or-later
"""The dashboards of contrib/dashboard as the dashboard server asks a store: every query with
its variables put in, by the server's published rules.

From its documentation ("Variable syntax", "Global variables", "InfluxDB query editor"):
${name:regex} is the chosen values, escaped for a regular expression, (a|b) where there are
several; a variable's own value for "all" is put in as it stands; $timeFilter is the time
range in milliseconds, both ends in; $__interval a span such as 5m, no shorter than the panel's.  A panel in a row that is
repeated is drawn once for each chosen value of that variable.
"""

import glob
import json
import os
import re
import subprocess
import sys

FOLDER = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", "contrib",
                      "dashboard")
S = 10**9


def is_as_made():
    done = subprocess.run([sys.executable, os.path.join(FOLDER, "make.py"), "--check"],
                          env={**os.environ, "PYTHONDONTWRITEBYTECODE": "1"},
                          stdin=subprocess.DEVNULL, check=False)
    return done.returncode == 0


def boards():
    """{uid: dashboard}."""
    found = {}
    for path in sorted(glob.glob(os.path.join(FOLDER, "*.json"))):
        with open(path, encoding="utf-8") as file:
            board = json.load(file)
        assert os.path.basename(path) == board["uid"] + ".json", path
        found[board["uid"]] = board
    return found


def escaped(value):
    return re.sub(r"[\\^$*+?.()|[\]{}/]", r"\\\g<0>", value)


class Choice:
    """What somebody has chosen: {variable: [value] or None for all}, a span in ns."""

    def __init__(self, span, interval_s, **chosen):
        self.begin, self.end = span
        self.interval_s, self.chosen = interval_s, chosen

    def allows(self, variable, value):
        values = self.chosen.get(variable)
        return values is None or value in values

    def _value(self, board, name):
        variable = next(each for each in board["templating"]["list"] if each["name"] == name)
        values = self.chosen.get(name)
        if values is None:
            assert variable["includeAll"], name
            return variable["allValue"]
        assert len(values) == 1 or variable["multi"], name
        each = [escaped(value) for value in values]
        return each[0] if len(each) == 1 else "(" + "|".join(each) + ")"

    def expand(self, board, text):
        text = re.sub(r"\$\{(\w+):regex\}", lambda m: self._value(board, m[1]), text)
        text = text.replace("$timeFilter", f"time >= {self.begin // 10**6}ms and time <= "
                                           f"{self.end // 10**6}ms")
        text = text.replace("$__interval", f"{self.interval_s}s")
        left = re.sub(r"\$/", "", text)
        assert "$" not in left, f"not expanded: {text}"
        return text


def panels(board):
    return [each for each in board["panels"] if each["type"] != "row"]


def queries(board):
    """[((uid, panel's title, reference), text)] of panels, annotations and variables."""
    found = [((board["uid"], panel["title"], target["refId"]), target["query"])
             for panel in panels(board) for target in panel["targets"]]
    found += [((board["uid"], "annotation", each["name"]), each["query"])
              for each in board["annotations"]["list"]]
    found += [((board["uid"], "variable", each["name"]), each["query"])
              for each in board["templating"]["list"] if each["type"] == "query"]
    return found


def repeated(board, title):
    """The variable that the row of a panel is drawn again for, or None."""
    variable = None
    for panel in board["panels"]:
        if panel["type"] == "row":
            variable = panel.get("repeat")
        elif panel["title"] == title:
            return variable
    return None


def asked(store, database, text):
    """{tags: [[time, value ...] ...]} of an answer."""
    found = {}
    for series in store.query(text, database):
        key = tuple(sorted(series.get("tags", {}).items()))
        assert key not in found, text
        found[key] = series["values"]
    return found


def columns(store, database, text):
    return [series["columns"] for series in store.query(text, database)][:1]


# --- what a dashboard has to have, whatever it asks --------------------------------------


def faults(board):
    """What is wrong with the form of a dashboard, as sentences."""
    wrong, taken, ids = [], set(), set()
    names = {each["name"] for each in board["templating"]["list"]}
    for panel in board["panels"]:
        where, place = f"{board['uid']}: {panel['title']!r}", panel["gridPos"]
        if panel["id"] in ids:
            wrong.append(f"{where} has the id of another")
        ids.add(panel["id"])
        cells = {(x, y) for x in range(place["x"], place["x"] + place["w"])
                 for y in range(place["y"], place["y"] + place["h"])}
        if place["x"] + place["w"] > 24 or cells & taken:
            wrong.append(f"{where} lies over another or outside")
        taken |= cells
        if panel["type"] == "row":
            continue
        if not panel["title"] or len(panel.get("description", "")) < 40:
            wrong.append(f"{where} lacks a title or words for what it means")
        if not panel["fieldConfig"]["defaults"].get("unit"):
            wrong.append(f"{where} has no unit")
        if not panel["targets"]:
            wrong.append(f"{where} asks nothing")
    for key, text in queries(board):
        unknown = set(re.findall(r"\$\{(\w+)", text)) - names
        if unknown:
            wrong.append(f"{key}: no such variable: {unknown}")
        measurement = re.search(r'FROM "(\w+)"', text)[1]
        if measurement in ("shot", "shot_channel", "shift", "shift_total") and (
                key[1] != "variable" and '"current" = 1' not in text):
            wrong.append(f"{key} counts superseded revisions too")
    return wrong
