# SPDX-License-Identifier: GPL-3.0-or-later
"""Holds a store against the ledger: what daemon/publish/line_protocol.h promises, reckoned
again from the ledger's tables by code that shares nothing with the daemon.

Every shot's current revision must be there with every value to the last bit, its channels,
its absences, its events and its closed shifts; every earlier revision must be marked; and nothing else may be
there that a reader would take for a shot.
"""

import collections
import sqlite3
import time

S, US = 10**9, 1000
NUMBERS = ("min", "mean", "max", "sd", "last", "coverage")
TIMES = ("filed", "loaded", "heat_start", "heat_end", "form_start", "form_end", "closed")
LABELS = ("recipe", "tool", "material")
SHIFT_SUMS = ("shots", "partial", "empty", "scrapped", "aborted", "interrupted", "reheated",
              "timer_release", "startup", "complete", "outside", "cycle_s", "oven_kwh",
              "heat_removed_kwh", "gap_s", "length_s", "findings", "capable", "not_capable",
              "not_established")
SHIFT_FIGURES = ("lots", "n", "mean", "sd", "cp", "cpk", "cpk_low", "cpk_high", "pp", "ppk",
                 "ppk_low", "ppk_high", "lower", "upper", "target", "outside", "stable",
                 "verdict")
CURRENT = ("influxdb1", "influxdb2")  # have the field `current`
WORDLESS = ("victoriametrics",)  # hold numbers only
SHOTS_AT_ONCE = 400

Point = collections.namedtuple("Point", "measurement time tags")


def tag(value):
    """A tag's value as it is sent."""
    text = "" if value is None else str(value)
    text = "".join(" " if c < " " or c == "\x7f" else "/" if c == "\\" else c for c in text)
    return text or "unknown"


def point(measurement, time, **tags):
    return Point(measurement, time, frozenset((k, tag(v)) for k, v in tags.items()))


class Expected:
    """The points that a store of this kind must have of a ledger."""

    def __init__(self, path, kind, site="pond-works"):
        self.db = sqlite3.connect(f"file:{path}?mode=ro", uri=True, timeout=20)
        self.db.row_factory = sqlite3.Row
        self.kind, self.site = kind, site
        self.features = [row["name"] for row in self.rows(
            "SELECT DISTINCT name FROM feature")]
        self.lines = {row["id"]: row["name"] for row in self.rows("SELECT * FROM line")}
        self.hashes = {row["id"]: row["hash"] for row in self.rows("SELECT * FROM setup")}
        self.channels = {row["id"]: row for row in self.rows("SELECT * FROM channel")}

    def close(self):
        self.db.close()

    def rows(self, sql, *values):
        return self.db.execute(sql, values).fetchall()

    def windows(self):
        """Spans of whole seconds, [from, to) in ns, that together hold every shot."""
        times = [row[0] // S * S for row in self.rows(
            "SELECT filed_at FROM shot ORDER BY filed_at")]
        starts = times[::SHOTS_AT_ONCE] + times[-1:]
        ends = starts[1:-1] + [times[-1] + S] if times else []
        return [(a, b) for a, b in zip(starts, ends) if a < b]

    def shots(self, span):
        """({point: fields} of the current revisions, {point} that must be marked)."""
        current, marked = {}, set()
        for shot in self.rows("SELECT * FROM shot WHERE filed_at >= ? AND filed_at < ?",
                              *span):
            self._shot(shot, current, marked)
        return current, marked

    def _shot(self, shot, current, marked):
        at = shot["filed_at"] // S * S + shot["shot_no"] % 1000 * 10**6
        held = {name: shot[name] for name in LABELS}
        line = self.lines[shot["line"]]
        current[point("shot", at, site=self.site, line=line, outcome=shot["outcome"],
                      revision=shot["revision"], **held)] = self._fields(shot)
        if self.kind in WORDLESS:
            current[point("shot_words", at, site=self.site, line=line,
                          revision=shot["revision"], **self._words(shot))] = {
                              "shot_no": shot["shot_no"]}
        for row in self.rows("SELECT * FROM absent WHERE shot = ?", shot["id"]):
            current[point("shot_absent", at, site=self.site, line=line,
                          revision=shot["revision"], feature=row["feature"],
                          reason=row["reason"])] = {"shot_no": shot["shot_no"]}
        earlier = self.rows("SELECT * FROM superseded WHERE shot = ?", shot["id"])
        for old in earlier:
            marked.add(point("shot", at, site=self.site, line=line, outcome=old["outcome"],
                             revision=old["revision"],
                             **{name: old[name] for name in LABELS}))
        self._channels(shot, at, line, current)
        for old in earlier:
            for channel in self._channels_then(shot, old):
                marked.add(point("shot_channel", at, recipe=old["recipe"],
                                 tool=old["tool"], revision=old["revision"],
                                 **self._own(channel, line)))

    def _own(self, channel, line):
        return {"channel": f"{channel['device']}.{channel['name']}",
                "role": channel["role"], "site": self.site, "line": line}

    def _channels_then(self, shot, old):
        """Those it had points of; where these had been forgotten, all of its line."""
        if old["channels"] is None:
            return [row for row in self.channels.values() if row["line"] == shot["line"]]
        return [self.channels[int(id)] for id in old["channels"].split()]

    def _channels(self, shot, at, line, current):
        for row in self.rows("SELECT * FROM shot_channel WHERE id >= ? AND id < ?",
                             shot["id"] << 20, shot["id"] + 1 << 20):
            fields = {name: row[name] for name in NUMBERS if row[name] is not None}
            if not fields:
                continue
            own = self._own(self.channels[row["channel"]], line)
            fields["shot_no"] = shot["shot_no"]
            if self.kind in CURRENT:
                fields["current"] = 1
            current[point("shot_channel", at, recipe=shot["recipe"], tool=shot["tool"],
                          revision=shot["revision"], **own)] = fields

    def _words(self, shot):
        words = {name: shot[name] for name in (
            "lot", "reason", "side", "set_points", "properties") if shot[name]}
        words["set_up"] = self.hashes[shot["setup"]]
        return words

    def _fields(self, shot):
        fields = {name: shot[name] for name in self.features + [
            "shot_no", "flags", "cycle_count", "uncertainty_s"] if shot[name] is not None}
        for name in TIMES:
            at = shot[name + "_at"]
            if at:
                fields[name + "_us"] = (at - shot["filed_at"] // S * S) / US
        if self.kind not in WORDLESS:
            fields.update(self._words(shot))
        if self.kind in CURRENT:
            fields["current"] = 1
        return fields

    def events(self, name=None):
        """{point: fields} of all events, or of those that store `name` is said to have: what
        is filed as a logger ends may go out with the next start."""
        rows = self.rows("SELECT * FROM event WHERE ?1 IS NULL OR change <= (SELECT change"
                         " FROM delivery WHERE destination = ?1 AND stream = 'event')", name)
        return {point("event", row["at"] // S * S + row["change"] % 1000 * 10**6,
                      site=self.site, line=self.lines.get(row["line"]),
                      kind=row["kind"]): self._event(row)
                for row in rows}

    def shifts(self, name=None):
        """({point: fields} of the shifts that hold, {point} that must be marked); with the
        name of a store, of those that it is said to have."""
        current, marked = {}, set()
        for total in self.rows(
                "SELECT * FROM shift_total WHERE superseded IS NULL AND (?1 IS NULL OR change"
                " <= (SELECT change FROM delivery WHERE destination = ?1 AND stream ="
                " 'shift'))", name):
            for key, fields in self._shift(total):
                current[key] = fields
            for old in self.rows(
                    "SELECT * FROM shift_total WHERE line = ? AND from_at = ? AND shift = ?"
                    " AND revision < ?", total["line"], total["from_at"], total["shift"],
                    total["revision"]):
                marked.update(key for key, _ in self._shift(old))
        return current, marked

    def _shift(self, total):
        at = total["from_at"] // S * S
        own = {"site": self.site, "line": self.lines[total["line"]], "shift": total["shift"],
               "revision": total["revision"]}
        yield point("shift_total", at, **own), self._figures(total, SHIFT_SUMS)
        for row in self.rows("SELECT * FROM shift_summary WHERE shift = ?", total["change"]):
            yield point("shift", at, recipe=row["recipe"], tool=row["tool"],
                        characteristic=row["characteristic"], **own), self._figures(
                            row, SHIFT_FIGURES)

    def _figures(self, row, names):
        fields = {name: row[name] for name in names if row[name] is not None}
        if self.kind in CURRENT:
            fields["current"] = 1
        return fields

    def _event(self, row):
        fields = {"count": 1, "at_us": row["at"] % S // US}
        if self.kind not in WORDLESS:
            fields["text"] = row["text"]
        return fields


# Their tags, by which a point of a store is told from its fields.
TAGS = {
    "shot": ("site", "line", "recipe", "tool", "material", "outcome", "revision"),
    "shot_words": ("site", "line", "revision", "lot", "reason", "side", "set_points",
                   "properties", "set_up"),
    "shot_absent": ("site", "line", "revision", "feature", "reason"),
    "shot_channel": ("site", "line", "recipe", "tool", "channel", "role", "revision"),
    "event": ("site", "line", "kind"),
    "shift_total": ("site", "line", "shift", "revision"),
    "shift": ("site", "line", "shift", "recipe", "tool", "characteristic", "revision"),
}


def found(store, database, measurement, span=None, line=None):
    """{point: fields} of what is in the store; an empty string counts as none."""
    points = {}
    for row in store.points(database, measurement, span, line):
        there = {k: v for k, v in row.items() if v is not None and v != ""}
        at = there.pop("time")
        tags = frozenset((k, there.pop(k)) for k in TAGS[measurement] if k in there)
        key = Point(measurement, at, tags)
        assert key not in points, f"twice in the store: {key}"
        points[key] = there
    return points


def found_events(store, kind, database, line, wanted):
    """A VictoriaMetrics shows what is of the last seconds some ten seconds later, whether it
    was started again meanwhile or not (measured, 1.79.5): it is waited for."""
    until = time.monotonic() + (30 if kind in WORDLESS else 0)
    while True:
        there = found(store, database, "event", None, line)
        if wanted.keys() <= there.keys() or time.monotonic() > until:
            return there
        time.sleep(1)


def check_shifts(expected, store, kind, database, line, name):
    """How many of them are there as they must be."""
    current, marked = expected.shifts(name)
    all_current, all_marked = expected.shifts()
    until = time.monotonic() + (30 if kind in WORDLESS and current else 0)
    for measurement in ("shift_total", "shift"):
        wanted = of(measurement, current)
        while True:
            there = found(store, database, measurement, None, line)
            if wanted.keys() <= there.keys() or time.monotonic() > until:
                break
            time.sleep(1)
        marks = of(measurement, marked)
        late = (of(measurement, all_current).keys() | of(measurement, all_marked)) - (
            wanted.keys() | marks)  # they may be there by now
        check_points(wanted, marks, {
            key: fields for key, fields in there.items() if key not in late})
    return len(of("shift_total", current))


def superseded(fields):
    return fields.get("superseded") == 1 and fields.get("current", 0) == 0


def check_points(current, marked, there):
    """Of one measurement."""
    for key, fields in current.items():
        assert key in there, f"not in the store: {key}"
        differ = {name: (fields.get(name), there[key].get(name))
                  for name in fields.keys() | there[key].keys()
                  if fields.get(name) != there[key].get(name)}
        assert not differ, f"ledger and store differ: {key}: {differ}"
    for key in marked:
        assert key in there and superseded(there[key]), f"not marked: {key}: {there.get(key)}"
    for key, fields in there.items():
        assert key in current or superseded(fields), f"the ledger has it not: {key}: {fields}"


def of(measurement, points):
    if isinstance(points, set):
        return {key for key in points if key.measurement == measurement}
    return {key: value for key, value in points.items() if key.measurement == measurement}


def check_revised(current, there):
    """shot_words and shot_absent are not marked: those of earlier revisions stay."""
    newest = {}
    for key in current:
        tags = dict(key.tags)
        newest[key.time, tags["line"]] = int(tags["revision"])

    def replaced(key):
        tags = dict(key.tags)
        return int(tags["revision"]) < newest.get((key.time, tags["line"]), 0)

    check_points(current, set(),
                 {key: fields for key, fields in there.items() if not replaced(key)})


def check(path, store, kind, name=None, without=None, line=None, database="plant"):
    """Counts of what was compared; AssertionError with the first difference.

    `name`: of the store in the configuration, where events may still be on their way;
    `without`: a channel whose points it has refused; `line`: the ledger's only one, where the
    store has others too.  A VictoriaMetrics has to settle first."""
    expected = Expected(path, kind)
    counts = collections.Counter()
    for span in expected.windows():
        current, marked = expected.shots(span)
        current = {key: fields for key, fields in current.items()
                   if ("channel", without) not in key.tags}
        for measurement in ("shot", "shot_channel"):
            check_points(of(measurement, current), of(measurement, marked),
                         found(store, database, measurement, span, line))
        for measurement in ("shot_absent",) + ("shot_words",) * (kind in WORDLESS):
            check_revised(of(measurement, current),
                          found(store, database, measurement, span, line))
        for key, fields in current.items():
            counts[key.measurement] += 1
            counts["values"] += len(fields)
        counts["marked"] += len(marked)
    events, all_events = expected.events(name), expected.events()
    if line is not None:  # the logger's own are of no line
        events = {key: fields for key, fields in events.items() if ("line", line) in key.tags}
    there = found_events(store, kind, database, line, events)
    check_points(events, set(), {key: fields for key, fields in there.items()
                                 if fields != all_events.get(key) or key in events})
    counts["event"] = len(events)
    shifts = check_shifts(expected, store, kind, database, line, name)
    if shifts:
        counts["shift_total"] = shifts
    expected.close()
    assert counts["shot"] > 0, "there is nothing in the ledger"
    return dict(counts)


def missing(path, store, kind, name, database="plant"):
    """How many points of the ledger's shots and events are not in the store at all."""
    expected, count = Expected(path, kind), 0
    wanted = expected.events(name)
    wanted.update(expected.shifts(name)[0])
    for span in expected.windows():
        wanted.update(expected.shots(span)[0])
    expected.close()
    for measurement in TAGS:
        there = found(store, database, measurement)
        count += len(of(measurement, wanted).keys() - there.keys())
    return count
