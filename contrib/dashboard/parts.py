# SPDX-License-Identifier: GPL-3.0-or-later
"""What the dashboards are put together from: queries, panels, variables, colours.

A panel is a dictionary of the dashboard server's JSON model; `Board` gives it its place:
24 columns wide, filled from the left, a new row of panels where the next does not fit.
"""

COLUMNS = 24
STORE = {"type": "influxdb", "uid": "${store}"}

# One meaning each, and told apart by readers with any of the three colour blindnesses.
GOOD, OPEN, BAD = "#2f79b5", "#aab4bb", "#b5401c"
INK, TARGET, OCHRE = "#22303a", "#5b3d8c", "#c4601a"

KELVIN, SECONDS, PER_MINUTE = "suffix: K", "suffix: s", "suffix: /min"

# --- queries -------------------------------------------------------------------------

SITE = '"site" =~ /^${site:regex}$/'
LINE = SITE + ' AND "line" =~ /^${line:regex}$/'
# Of a shot and of a shift what holds: earlier revisions stand in the store too.
HOLDS = LINE + ' AND "current" = 1'


def query(ref, select, where, group="", alias="", table=False, last=""):
    """One question in InfluxQL, as its text.  `select` has the FROM."""
    text = f"SELECT {select} WHERE {where} AND $timeFilter"
    text += f" GROUP BY {group}" if group else ""
    text += f" {last}" if last else ""
    return {"refId": ref, "datasource": STORE, "rawQuery": True, "query": text,
            "resultFormat": "table" if table else "time_series", "alias": alias}


# --- panels --------------------------------------------------------------------------


def panel(kind, title, description, unit, targets, width, height, **more):
    defaults = {"unit": unit, "custom": more.pop("custom", {}),
                "mappings": more.pop("mappings", []),
                "color": more.pop("color", {"mode": "palette-classic"}),
                "thresholds": more.pop("thresholds", steps(None))}
    defaults.update((name, more.pop(name)) for name in ("min", "max", "decimals")
                    if name in more)
    return {"type": kind, "title": title, "description": description,
            "datasource": STORE, "targets": targets,
            "gridPos": {"w": width, "h": height},
            "fieldConfig": {"defaults": defaults, "overrides": more.pop("overrides", [])},
            **more}


def steps(first, *rest):
    """Thresholds: the first colour, then (value, colour) each."""
    return {"mode": "absolute", "steps": [
        {"color": first or INK, "value": None},
        *({"color": color, "value": value} for value, color in rest)]}


def override(name, *properties, regexp=False):
    """What differs for the columns or series of that name."""
    return {"matcher": {"id": "byRegexp" if regexp else "byName", "options": name},
            "properties": [{"id": id, "value": value} for id, value in properties]}


# A table's time where there is none: of counts and means over the whole span.
NO_TIME = override("Time", ("custom.hidden", True))


def legend(where="bottom", calcs=()):
    return {"legend": {"showLegend": True, "displayMode": "table" if calcs else "list",
                       "placement": where, "calcs": list(calcs)},
            "tooltip": {"mode": "multi", "sort": "none"}}


def points(title, description, unit, targets, width=12, height=8, **more):
    """A point a shot: nothing is drawn between two that nobody saw."""
    custom = {"drawStyle": "points", "pointSize": 4, "showPoints": "always"}
    return panel("timeseries", title, description, unit, targets, width, height,
                 custom=custom, options=legend(), **more)


def stairs(title, description, unit, targets, width=12, height=8, gap_ms=None, **more):
    """A value that holds until the next; after `gap_ms` without one the line ends."""
    custom = {"drawStyle": "line", "lineInterpolation": "stepAfter", "lineWidth": 2,
              "pointSize": 5, "showPoints": "always", "spanNulls": False,
              **({"insertNulls": gap_ms} if gap_ms else {}), **more.pop("custom", {})}
    return panel("timeseries", title, description, unit, targets, width, height,
                 custom=custom, options=legend(), **more)


def curve(title, description, unit, targets, width=12, height=8, **more):
    custom = {"drawStyle": "line", "lineWidth": 1, "showPoints": "never",
              "spanNulls": False, **more.pop("custom", {})}
    return panel("timeseries", title, description, unit, targets, width, height,
                 custom=custom, options=legend(), **more)


def bars(title, description, unit, targets, width=12, height=8, stacked=False, **more):
    custom = {"drawStyle": "bars", "fillOpacity": 70, "lineWidth": 0,
              "stacking": {"mode": "normal" if stacked else "none", "group": "A"}}
    return panel("timeseries", title, description, unit, targets, width, height,
                 custom=custom, options=legend(), **more)


def table(title, description, unit, targets, width=24, height=7, **more):
    return panel("table", title, description, unit, targets, width, height,
                 options={"showHeader": True, "cellHeight": "sm"}, **more)


VERDICTS = [{"type": "value", "options": {
    "-1": {"text": "not capable", "color": BAD, "index": 0},
    "0": {"text": "not established", "color": OPEN, "index": 1},
    "1": {"text": "capable", "color": GOOD, "index": 2}}}]
HALF_A_DAY_MS = 12 * 3600 * 1000


def verdicts(title, description, targets, width=24, height=7):
    """A row a series, a field a shift; nothing where no shift follows within half a day."""
    return panel(
        "state-timeline", title, description, "none", targets, width, height,
        mappings=VERDICTS, color={"mode": "thresholds"},
        thresholds=steps(BAD, (-0.5, OPEN), (0.5, GOOD)),
        custom={"fillOpacity": 90, "lineWidth": 1, "insertNulls": HALF_A_DAY_MS},
        options={"mergeValues": False, "showValue": "never", "alignValue": "center",
                 "rowHeight": 0.85, **legend()})


def row(title, description="", repeat=None):
    found = {"type": "row", "title": title, "description": description,
             "collapsed": False, "panels": [], "gridPos": {"w": COLUMNS, "h": 1}}
    return {**found, "repeat": repeat} if repeat else found


# --- variables, annotations, the whole -----------------------------------------------


def store():
    return {"name": "store", "label": "Store", "type": "datasource", "query": "influxdb",
            "refresh": 1, "hide": 0}


def variable(name, label, key, measurement, where="", chosen="$__all"):
    """Values of a tag, any number of them or all."""
    text = f'SHOW TAG VALUES FROM "{measurement}" WITH KEY = "{key}"'
    text += f" WHERE {where}" if where else ""
    is_all = chosen == "$__all"
    return {"name": name, "label": label, "type": "query", "datasource": STORE,
            "query": text, "definition": text, "refresh": 2, "sort": 3,
            "multi": True, "includeAll": True, "allValue": ".*",
            "current": {"text": ["All"] if is_all else [chosen], "value": [chosen]}}


def annotation(name, color, where, tags, enabled=True):
    text = f'SELECT "text", "line", "kind" FROM "event" WHERE {where} AND $timeFilter'
    return {"name": name, "datasource": STORE, "enable": enabled, "iconColor": color,
            "query": text, "textColumn": "text", "tagsColumn": tags, "rawQuery": True}


class Board:
    def __init__(self, uid, title, description, since, to="now", refresh="5m"):
        self.uid, self.title, self.description = uid, title, description
        self.since, self.to, self.refresh = since, to, refresh
        self.variables, self.annotations, self.panels = [store()], [], []
        self._x = self._y = self._height = 0

    def add(self, *panels):
        """Each beside the one before, as far as it fits."""
        for each in panels:
            width, height = each["gridPos"]["w"], each["gridPos"]["h"]
            if self._x + width > COLUMNS:
                self._x, self._y, self._height = 0, self._y + self._height, 0
            each["gridPos"].update(x=self._x, y=self._y)
            each["id"] = len(self.panels) + 1
            self._x += width
            self._height = max(self._height, height)
            self.panels.append(each)

    def json(self):
        return {
            "uid": self.uid, "title": self.title, "description": self.description,
            "tags": ["evensoak"], "schemaVersion": 36, "version": 1, "editable": True,
            "timezone": "browser", "graphTooltip": 1, "refresh": self.refresh,
            "time": {"from": self.since, "to": self.to},
            "templating": {"list": self.variables},
            "annotations": {"list": self.annotations},
            "links": [{"type": "dashboards", "title": "evensoak", "tags": ["evensoak"],
                       "asDropdown": True, "includeVars": True, "keepTime": False}],
            "panels": self.panels}
