# SPDX-License-Identifier: GPL-3.0-or-later
"""What each query of the dashboards has to answer, reckoned from the ledger by SQL of its own
(and, for loggers and devices, from month.Told).

`ANSWERS` has a function for each query, by dashboard, panel and reference: given a `Ledger`
it returns {tags: [[time, value ...] ...]} as dashboards.asked has it.  A time of None is
that of the answer as a whole, which has none of its own.
"""

import collections
import math
import sqlite3
import statistics

S = 10**9
HALF_HOUR_S = 1800
BY_KIND = ("characteristic", "line", "recipe", "tool")
OUTCOMES = ("complete", "partial", "empty", "startup", "timer_release", "reheated",
            "interrupted", "scrapped", "aborted")


def text_of(value):
    return "unknown" if value is None or value == "" else str(value)


def grouped(rows, by):
    found = collections.OrderedDict()
    for row in rows:
        key = tuple(sorted((name, text_of(row[name])) for name in by))
        found.setdefault(key, []).append(row)
    return found


def of_all(values, function):
    there = [value for value in values if value is not None]
    return function(there) if there else None


class Ledger:
    """The rows that a choice lets through, each a dictionary with its point's time `at`."""

    def __init__(self, path, told, choice):
        self.db = sqlite3.connect(f"file:{path}?mode=ro", uri=True)
        self.db.row_factory = sqlite3.Row
        self.told, self.choice = told, choice

    def _chosen(self, rows, *variables):
        return [dict(row) for row in rows
                if self.choice.begin <= row["at"] <= self.choice.end
                and all(self.choice.allows(name, text_of(row[name])) for name in variables)]

    def _near(self):
        """A point's time is up to a second off what stands in the ledger."""
        return self.choice.begin - S, self.choice.end + S

    def shots(self, *variables):
        return self._chosen(self.db.execute(
            "SELECT line.name AS line, shot.*, filed_at / 1000000000 * 1000000000 + shot_no %"
            " 1000 * 1000000 AS at FROM shot JOIN line ON line.id = shot.line WHERE filed_at"
            " BETWEEN ? AND ? ORDER BY at", self._near()), "line", *variables)

    def channels(self, role):
        return self._chosen(self.db.execute(
            "SELECT c.min, c.mean, c.max, c.coverage, line.name AS line, k.device || '.' ||"
            " k.name AS channel, s.filed_at / 1000000000 * 1000000000 + s.shot_no % 1000 *"
            " 1000000 AS at FROM shot s INDEXED BY shot_by_time CROSS JOIN shot_channel c ON"
            " c.id >= s.id * 1048576 AND c.id < (s.id + 1) * 1048576 CROSS JOIN channel k ON"
            " k.id = c.channel CROSS JOIN line ON line.id = s.line WHERE k.role = ? AND"
            " s.filed_at BETWEEN ? AND ?", (role, *self._near())),
            "line")

    def absent(self):
        """As shots were first made: here no correction changed what is absent."""
        return self._chosen(self.db.execute(
            "SELECT line.name AS line, feature, absent.reason AS reason, filed_at / 1000000000"
            " * 1000000000 + shot_no % 1000 * 1000000 AS at FROM shot JOIN absent ON"
            " absent.shot = shot.id JOIN line ON line.id = shot.line WHERE filed_at BETWEEN ?"
            " AND ?", self._near()), "line")

    def events(self, *kinds, but=(), logger=False):
        rows = self.db.execute(
            "SELECT event.*, coalesce(line.name, 'unknown') AS name, at / 1000000000 *"
            " 1000000000 + change % 1000 * 1000000 AS point FROM event LEFT JOIN line ON"
            " line.id = event.line ORDER BY point")
        rows = [{"at": row["point"], "line": row["name"], "kind": row["kind"],
                 "text": row["text"]} for row in rows
                if (not kinds or row["kind"] in kinds) and row["kind"] not in but]
        if logger:
            return self._chosen([row for row in rows if row["line"] == "unknown"])
        return self._chosen(rows, "line")

    def totals(self):
        """The revision of each shift that holds."""
        return self._chosen(self.db.execute(
            "SELECT line.name AS line, t.*, from_at AS at FROM shift_total t JOIN line ON"
            " line.id = t.line WHERE superseded IS NULL ORDER BY from_at"), "line", "shift")

    def figures(self, *variables):
        return self._chosen(self.db.execute(
            "SELECT t.shift AS shift, line.name AS line, f.*, from_at AS at FROM shift_summary"
            " f JOIN shift_total t ON t.change = f.shift JOIN line ON line.id = t.line WHERE"
            " superseded IS NULL ORDER BY from_at, f.id"), "line", "shift", "recipe",
            *variables)

    def devices(self):
        return self._chosen(self.told.rows("SELECT * FROM device ORDER BY at"), "line")

    def loggers(self):
        return self._chosen(self.told.rows("SELECT * FROM logger ORDER BY at"), "host")

    def host(self):
        """The daemon that filled the store."""
        return {row["host"] for row in self.db.execute("SELECT host FROM logger")}

    # --- shapes of answers -------------------------------------------------------------

    def bucket(self, row, seconds):
        return row["at"] // S // seconds * seconds * S

    def buckets(self, rows, seconds):
        found = collections.OrderedDict()
        for row in rows:
            found.setdefault(self.bucket(row, seconds), []).append(row)
        return found

    def every(self, seconds):
        """The times of all buckets of the span."""
        step = seconds * S
        return range(self.choice.begin // step * step, self.choice.end + 1, step)

    def in_turns(self, rows, by, function, *fields):
        """One function of fields in every interval; None where there is no value."""
        found = {}
        for key, those in grouped(rows, by).items():
            there = self.buckets(those, self.choice.interval_s)
            found[key] = [[at, *(of_all([row[name] for row in there.get(at, ())], function)
                                 for name in fields)]
                          for at in self.every(self.choice.interval_s)]
        return found


def points(rows, by, *names):
    """Fields or words of each row that has any; functions of a row count as fields."""
    found = {}
    for key, those in grouped(rows, by).items():
        each = [[row["at"], *(name(row) if callable(name) else row[name] for name in names)]
                for row in those]
        each = [row for row in each if any(value is not None for value in row[1:])]
        if each:
            found[key] = each
    return found


def latest(rows, by, *names):
    return {key: [each[-1]] for key, each in points(rows, by, *names).items()}


def counted(rows, by):
    return {key: [[None, len(those)]] for key, those in grouped(rows, by).items()}


def worded(name):
    return lambda row: text_of(row[name])


def share(part, whole):
    """The store has 0 for what is divided by 0."""
    return lambda row: row[part] / row[whole] if row[whole] else 0


# --- shifts ----------------------------------------------------------------------------


def total(name):
    return lambda ledger: points(ledger.totals(), ("line",), name)


def figure(*names):
    return lambda ledger: points(ledger.figures("characteristic"), BY_KIND, *names)


def worst(by, *variables):
    def reckon(ledger):
        return {key: [[at, min(row["verdict"] for row in some)]
                      for at, some in ledger.buckets(rows, HALF_HOUR_S).items()]
                for key, rows in grouped(ledger.figures(*variables), by).items()}
    return reckon


# --- a day -------------------------------------------------------------------------------


def each(*names):
    return lambda ledger: points(ledger.shots("outcome"), ("line",), *names)


def by_outcome(ledger):
    """Every half hour of the span, also those without any."""
    found = {}
    for key, rows in grouped(ledger.shots(), ("outcome",)).items():
        there = ledger.buckets(rows, HALF_HOUR_S)
        found[key] = [[at, len(there.get(at, ()))] for at in ledger.every(HALF_HOUR_S)]
    return found


def zones(role):
    def reckon(ledger):
        found = {}
        for key, rows in grouped(ledger.channels(role), ("channel", "line")).items():
            found[key] = [[None, of_all([row["mean"] for row in rows], statistics.fmean),
                           of_all([row["min"] for row in rows], min),
                           of_all([row["max"] for row in rows], max),
                           of_all([row["coverage"] for row in rows], statistics.fmean)]]
        return found
    return reckon


def happened(ledger):
    rows = ledger.events()[::-1][:200]
    return points(rows, (), "line", "kind", "text")


def marks(*kinds, **more):
    return lambda ledger: points(ledger.events(*kinds, **more), (), "text", "line", "kind")


# --- health ---------------------------------------------------------------------------------


def of_devices(function, name):
    return lambda ledger: ledger.in_turns(ledger.devices(), ("device", "line"), function, name)


def of_hosts(function, *names):
    return lambda ledger: ledger.in_turns(ledger.loggers(), ("host",), function, *names)


def last(values):
    return values[-1]


def silent(ledger):
    found = {}
    for key, rows in grouped(ledger.devices(), ("line",)).items():
        counts = collections.Counter()
        for those in grouped(rows, ("device",)).values():
            for at, some in ledger.buckets(those, ledger.choice.interval_s).items():
                counts[at] += max(row["answering"] for row in some) == 0
        found[key] = [[at, count] for at, count in sorted(counts.items()) if count]
    return {key: rows for key, rows in found.items() if rows}


def became(*names):
    """New ones of all devices, interval by interval; a count that fell began anew."""
    def reckon(ledger):
        sums = collections.defaultdict(lambda: [None] * len(names))
        for rows in grouped(ledger.devices(), ("device", "line")).values():
            there = [(at, some[-1]) for at, some in
                     ledger.buckets(rows, ledger.choice.interval_s).items()]
            for (_, before), (at, now) in zip(there, there[1:]):
                for i, name in enumerate(names):
                    more = now[name] - before[name]
                    if more >= 0:
                        sums[at][i] = (sums[at][i] or 0) + more
        return {(): [[at, *values] for at, values in sorted(sums.items())]} if sums else {}
    return reckon


ANSWERS = {
    "evensoak-shifts": {
        "The newest closed shift of each line": {"A": lambda ledger: latest(
            ledger.totals(), ("line",), "shift", "shots", "complete", "outside", "capable",
            "not_established", "not_capable", "findings", "gap_s")},
        "Every line, shift by shift: its worst verdict": {"A": worst(("line",))},
        "Every characteristic, shift by shift: its verdict": {
            "A": worst(("characteristic", "line"), "characteristic")},
        "Complete sheets a shift": {"A": total("complete")},
        "Other sheets a shift": {"A": total(lambda row: row["shots"] - row["complete"])},
        "Share of sheets outside a limit": {"A": total(share("outside", "complete"))},
        "Share of the shift that nobody saw": {"A": total(share("gap_s", "length_s"))},
        "Findings a shift": {"A": total("findings")},
        "Cycle": {"A": total("cycle_s")},
        "Oven energy of complete sheets a shift": {"A": total("oven_kwh")},
        "Heat taken from complete sheets by the tool's water a shift": {
            "A": total("heat_removed_kwh")},
        "Ppk of $characteristic": {"A": figure("ppk"), "B": figure("ppk_low")},
        "Mean of $characteristic": {"A": figure("mean")},
        "Mean of $characteristic within its limits": {
            "A": figure("mean"), "B": figure("lower", "upper", "target")},
        "Share outside of $characteristic": {"A": figure(share("outside", "n"))},
        "annotation": {"Findings": marks("finding"), "Set points changed": marks("set_points")},
        "variable": {
            "site": lambda ledger: {"pond-works"},
            "line": lambda ledger: {row["line"] for row in ledger.totals()},
            "shift": lambda ledger: {row["shift"] for row in ledger.totals()},
            "recipe": lambda ledger: {text_of(row["recipe"]) for row in ledger.figures()},
            "characteristic": lambda ledger: {row["characteristic"]
                                              for row in ledger.figures()}},
    },
    "evensoak-day": {
        "How the shots came out": {
            "A": lambda ledger: counted(ledger.shots(), ("line", "outcome"))},
        "The newest shot of each line": {"A": lambda ledger: latest(
            ledger.shots(), ("line",), "shot_no", "outcome", worded("recipe"),
            worded("tool"), "lot", "reason")},
        "Shots by outcome, each half hour": {"A": by_outcome},
        "The sheet: faces at heat end, and the core": {"A": each(
            "exit_top_c", "exit_bottom_c", "core_heat_end_c", "core_form_start_c")},
        "How uneven the sheet is": {"A": each(
            "exit_difference_dc", "exit_spread_top_dc", "exit_spread_bottom_dc",
            "core_form_start_band_dc")},
        "Sag and heat": {"A": each("heat_s", "sag_s", "soak_wait_s", "transfer_s")},
        "The cycle and its parts": {"A": each(
            "cycle_s", "cycle_forming_s", "cycle_wait_sag_s", "cycle_wait_line_s",
            "cycle_index_s", "cycle_closing_s")},
        "How even the tool is": {"A": each(
            "tool_spread_of_means_dc", "tool_swing_dc", "water_rise_dc")},
        "Tool, water, hall": {"A": each("tool_mean_c", "water_supply_c", "ambient_c")},
        "Energy a sheet": {"A": each("energy_kwh", "heat_removed_kwh")},
        "Zones without control left": {"A": each("saturated_zones")},
        "The zone that was longest at its limit": {"A": each("saturation_max")},
        "Top zones": {"A": zones("zone_top")},
        "Bottom zones": {"A": zones("zone_bottom")},
        "What happened": {"A": happened},
        "Figures that are missing, and why": {
            "A": lambda ledger: counted(ledger.absent(), ("feature", "line", "reason"))},
        "annotation": {"Findings": marks("finding"), "On the line": marks(but=("finding",)),
                       "The logger": marks(logger=True)},
        "variable": {
            "site": lambda ledger: {"pond-works"},
            "line": lambda ledger: {row["line"] for row in ledger.shots()},
            "outcome": lambda ledger: {row["outcome"] for row in ledger.shots()}},
    },
    "evensoak-logger": {
        "Each device now": {"A": lambda ledger: latest(
            ledger.devices(), ("device", "line"), "answering", "bad_channels", "late_p99_s",
            "late_worst_s")},
        "Each logger now": {"A": lambda ledger: latest(
            ledger.loggers(), ("host",), "version", "up_s", "filed", "waiting", "lost",
            "backlog", "refused", "delivering", "free_bytes")},
        "Silent devices": {"A": silent},
        "Share of scans that were answered in full": {
            "A": of_devices(statistics.fmean, "answering")},
        "Requests without a good answer, by what became of them": {"A": became(
            "none", "wrong", "illegal", "busy", "fault", "gateway", "lost")},
        "Channels without a good value": {"A": of_devices(max, "bad_channels")},
        "How late scans begin: 99 of 100": {"A": of_devices(max, "late_p99_s")},
        "How late scans begin: the latest": {"A": of_devices(max, "late_worst_s")},
        "Shots that wait for this store": {"A": of_hosts(max, "backlog")},
        "Refused and lost": {"A": of_hosts(max, "refused", "lost", "dropped",
                                           "lost_readings")},
        "Ledger": {"A": of_hosts(last, "ledger_bytes")},
        "Free disk": {"A": of_hosts(last, "free_bytes")},
        "Memory": {"A": of_hosts(max, "memory_bytes")},
        "Queues": {"A": of_hosts(max, "waiting", "queue_most")},
        "Steps of the clock": {"A": of_hosts(max, "clock_steps")},
        "What happened to the logger": {"A": lambda ledger: points(
            ledger.events(logger=True)[::-1][:200], (), "kind", "text")},
        "annotation": {"The logger": marks(logger=True)},
        "variable": {
            "site": lambda ledger: {"pond-works"},
            "line": lambda ledger: {row["line"] for row in ledger.devices()},
            "host": lambda ledger: {row["host"] for row in ledger.loggers()} | ledger.host()},
    },
}


def same(found, wanted):
    """The first difference between two answers, or None."""
    if isinstance(wanted, set):
        return None if found == wanted else f"{found} for {wanted}"
    if found.keys() != wanted.keys():
        return f"series {sorted(found)} for {sorted(wanted)}"
    for key, rows in wanted.items():
        if len(found[key]) != len(rows):
            return f"{key}: {len(found[key])} rows for {len(rows)}"
        there, reckoned = found[key], rows
        if rows and rows[0][0] is not None:  # two may have one time
            there, reckoned = sorted(there, key=order), sorted(rows, key=order)
        for one, other in zip(there, reckoned):
            if not all(alike(a, b) for a, b in zip(one[other[0] is None:],
                                                   other[other[0] is None:])):
                return f"{key}: {one} for {other}"
    return None


def order(row):
    return row[0], [str(value) if isinstance(value, str) or value is None else
                    f"{value:.6g}" for value in row[1:]]


def alike(one, other):
    if one is None or other is None or isinstance(other, str):
        return one == other or {one, other} == {None, ""}
    return math.isclose(one, other, rel_tol=1e-9, abs_tol=1e-12)
