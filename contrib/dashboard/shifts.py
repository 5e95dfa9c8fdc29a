# SPDX-License-Identifier: GPL-3.0-or-later
"""Shift trends over lines: what the manager looks at once a week."""

from parts import (BAD, HALF_A_DAY_MS, HOLDS, INK, KELVIN, LINE, OCHRE, OPEN, SECONDS,
                   SITE, TARGET, Board, annotation, bars, override, query, row, stairs,
                   steps, table, variable, verdicts)

IN_SHIFT = HOLDS + ' AND "shift" =~ /^${shift:regex}$/'
OF_KIND = IN_SHIFT + ' AND "recipe" =~ /^${recipe:regex}$/'
OF_FIGURE = OF_KIND + ' AND "characteristic" =~ /^${characteristic:regex}$/'
# Two recipes of one shift have one time: the worse of them stands for both.
WORST = 'min("verdict") FROM "shift"'
HALF_HOUR = "time(30m)"
KIND = "$tag_line, recipe $tag_recipe, tool $tag_tool"
FIGURE = "$tag_characteristic: " + KIND  # by whose name the unit is told
BY_KIND = '"line", "recipe", "tool", "characteristic"'

VERDICT_WORDS = (
    "Capable: shown to be, that is stable and with the 95 % bound of Ppk at what is "
    "required. Not capable: shown with the same certainty. Not established: neither was "
    "shown; that is not bad. Most often a lot had too few shots in the shift, or something "
    "moved while it ran; the shift's report says why. Of several lots in a shift the worst. "
    "No field: no shift was closed then, and nobody judged anything.")
UNSEEN_WORDS = (
    "Time of the shift in which nobody logged the line. What was made then is not known: "
    "a gap is not evidence of good parts.")
UNITS = (
    override("/_c:/", ("unit", "celsius"), regexp=True),
    override("/_dc:/", ("unit", KELVIN), regexp=True),
    override("/_s:/", ("unit", SECONDS), regexp=True),
    override("/_kwh:/", ("unit", "kwatth"), regexp=True),
)


def newest():
    counts = [override(name, ("custom.cellOptions", {"type": "color-background"}),
                       ("thresholds", steps("transparent", (1, color))))
              for name, color in (("not capable", BAD), ("outside", BAD), ("findings", OCHRE))]
    link = {"title": "the line's day", "url":
            "/d/evensoak-day?var-store=${store}&var-site=${site}&var-line=${__value.raw}"}
    return table(
        "The newest closed shift of each line",
        "Of its characteristics how many were shown to be capable, not capable, or "
        "neither; an empty field means that nothing was counted. Outside: shots outside "
        "any limit. " + UNSEEN_WORDS, "none",
        [query("A", '"shift", "shots", "complete", "outside", "capable", "not_established" '
               'AS "not established", "not_capable" AS "not capable", "findings", "gap_s" AS '
               '"unseen" FROM "shift_total"', IN_SHIFT, '"line"', table=True,
               last="ORDER BY time DESC LIMIT 1")],
        height=6, overrides=counts + [
            override("unseen", ("unit", "dtdurations")),
            override("line", ("links", [link]))])


def judged():
    return (
        verdicts(
            "Every line, shift by shift: its worst verdict",
            "Of all its characteristics, recipes and tools of the shift the worst. "
            + VERDICT_WORDS,
            [query("A", WORST, OF_KIND, f'{HALF_HOUR}, "line" fill(none)',
                   "$tag_line")], height=6),
        verdicts(
            "Every characteristic, shift by shift: its verdict",
            "Of several recipes and tools in a shift the worst. " + VERDICT_WORDS,
            [query("A", WORST, OF_FIGURE,
                   f'{HALF_HOUR}, "line", "characteristic" fill(none)',
                   "$tag_line $tag_characteristic")], height=11))


def made():
    total = ' FROM "shift_total"'
    return (
        bars("Complete sheets a shift", "Formed as they should be: what verdicts are about. "
             "Fewer are not worse ones: a line may have stood.", "none",
             [query("A", '"complete"' + total, IN_SHIFT, '"line"', "$tag_line")],
             min=0),
        bars("Other sheets a shift", "Empty frames, scrapped, aborted or let go by the timer, "
             "heated again, after a stop, and those that the logger did not see all of: none "
             "of them is judged.", "none",
             [query("A", '"shots" - "complete"' + total, IN_SHIFT, '"line"', "$tag_line")],
             min=0),
        stairs("Share of sheets outside a limit", "Of the complete sheets of a shift, those "
               "with any figure outside its limits. A shift without limits has none outside: "
               "look whether its characteristics are judged at all.", "percentunit",
               [query("A", '"outside" / "complete"' + total, IN_SHIFT, '"line"',
                      "$tag_line")], width=8, gap_ms=HALF_A_DAY_MS, min=0),
        stairs("Share of the shift that nobody saw", UNSEEN_WORDS, "percentunit",
               [query("A", '"gap_s" / "length_s"' + total, IN_SHIFT, '"line"', "$tag_line")],
               width=8, gap_ms=HALF_A_DAY_MS, min=0, max=1),
        bars("Findings a shift", "Hints, each with its evidence in the shift's report, at "
             "what moved and what to look at. None: nothing stood out against the newest "
             "reference run. An empty place: no reference run is frozen, and nobody looked.", "none",
             [query("A", '"findings"' + total, IN_SHIFT, '"line"', "$tag_line")],
             width=8, min=0),
        stairs("Cycle", "Median from one sheet's platens closed to the next's. Shorter is not "
               "better where the core suffers.", SECONDS,
               [query("A", '"cycle_s"' + total, IN_SHIFT, '"line"', "$tag_line")],
               width=8, gap_ms=HALF_A_DAY_MS),
        bars("Oven energy of complete sheets a shift", "The sum of theirs: metered where the "
             "line has a meter, else rated power times output, in which a dead element still "
             "counts. What went into scrapped sheets, those let go by the timer or made after "
             "a stop, and into ovens that stood idle is not in it. An empty place: one "
             "sheet's is not known.", "kwatth",
             [query("A", '"oven_kwh"' + total, IN_SHIFT, '"line"', "$tag_line")],
             width=8, min=0),
        bars("Heat taken from complete sheets by the tool's water a shift", "The sum of "
             "theirs; that of other sheets is not in it. An empty place: one sheet's is not "
             "known, or a circuit has no flow meter.", "kwatth",
             [query("A", '"heat_removed_kwh"' + total, IN_SHIFT, '"line"', "$tag_line")],
             width=8, min=0))


def figure():
    """A characteristic's own row: repeated for each that is chosen."""
    faint = override("/at least/", ("custom.lineStyle", {"fill": "dash", "dash": [3, 4]}),
                     ("custom.lineWidth", 1), ("custom.showPoints", "never"),
                     ("custom.hideFrom", {"legend": True}), regexp=True)
    bounds = [override(f"/^{name}, /", ("color", {"mode": "fixed", "fixedColor": color}),
                       ("custom.lineStyle", {"fill": "dash", "dash": [8, 4]}),
                       ("custom.lineWidth", 1), ("custom.showPoints", "never"),
                       ("custom.hideFrom", {"legend": True}), regexp=True)
              for name, color in (("lower", BAD), ("upper", BAD), ("target", TARGET))]
    mean = '"mean" FROM "shift"'
    return (
        row("$characteristic", repeat="characteristic"),
        stairs("Ppk of $characteristic", "How far the shots of a shift lie from the nearer "
               "limit, in units of three deviations. Dashed: what it is at least (95 %); that "
               "bound, not Ppk, has to reach what is required, 1.33 unless told otherwise "
               "(the straight line). Of several lots the lowest. An empty place: that of a lot "
               "was withheld, most often for too few shots; it is not known, and not bad.",
               "none",
               [query("A", '"ppk" FROM "shift"', OF_FIGURE, BY_KIND, KIND),
                query("B", '"ppk_low" FROM "shift"', OF_FIGURE, BY_KIND,
                      KIND + " at least")],
               width=6, gap_ms=HALF_A_DAY_MS, decimals=2, overrides=[faint],
               custom={"thresholdsStyle": {"mode": "line"}},
               thresholds=steps("transparent", (1.33, INK))),
        stairs("Mean of $characteristic", "In a scale of its own, so that a step from one "
               "shift to the next is seen, however small: a change of lot, set-up, machine or "
               "weather. The marks say what was told. Whether it matters stands beside.",
               "none", [query("A", mean, OF_FIGURE, BY_KIND, FIGURE)],
               width=6, gap_ms=HALF_A_DAY_MS, overrides=[*UNITS]),
        stairs("Mean of $characteristic within its limits", "The same where the limits are: "
               "dashed red, from the customer or the engineer; dashed violet: the target. A "
               "mean within says nothing of the single shots: their scatter is in Ppk.",
               "none",
               [query("A", mean, OF_FIGURE, BY_KIND, FIGURE),
                query("B", '"lower", "upper", "target" FROM "shift"', OF_FIGURE, BY_KIND,
                      "$col, " + FIGURE)],
               width=6, gap_ms=HALF_A_DAY_MS, overrides=[*UNITS, *bounds]),
        stairs("Share outside of $characteristic", "Of the complete sheets with this figure, "
               "those outside its limits. None outside is no proof of capability; few seen "
               "outside are a fact.", "percentunit",
               [query("A", '"outside" / "n" FROM "shift"', OF_FIGURE, BY_KIND, KIND)],
               width=6, gap_ms=HALF_A_DAY_MS, min=0))


def board():
    made_of = Board(
        "evensoak-shifts", "evensoak: shift trends over lines",
        "Verdicts, sheets and time unseen of every line and shift, and each characteristic "
        "on its own.", "now-28d", refresh="15m")
    made_of.variables += [
        variable("site", "Site", "site", "shift_total"),
        variable("line", "Line", "line", "shift_total", SITE),
        variable("shift", "Shift", "shift", "shift_total", LINE),
        variable("recipe", "Recipe", "recipe", "shift", LINE),
        variable("characteristic", "Characteristic", "characteristic", "shift", LINE)]
    made_of.annotations += [
        annotation("Findings", OCHRE, LINE + " AND \"kind\" = 'finding'", "line"),
        annotation("Set points changed", OPEN, LINE + " AND \"kind\" = 'set_points'",
                   "line")]
    made_of.add(newest(), *judged(), row("What was made"), *made(), *figure())
    return made_of


