# SPDX-License-Identifier: GPL-3.0-or-later
"""One line's day, shot by shot: what the process engineer has open."""

from parts import (BAD, GOOD, HOLDS, INK, KELVIN, LINE, NO_TIME, OCHRE, OPEN, SECONDS, SITE,
                   TARGET, Board, annotation, bars, override, points, query, row, stairs,
                   table, variable)

HALF_AN_HOUR_MS = 30 * 60 * 1000  # without a shot: the line stood, or nobody saw it
SHOTS = ' FROM "shot"'
CHOSEN = HOLDS + ' AND "outcome" =~ /^${outcome:regex}$/'
OUTCOMES = {"complete": GOOD, "partial": OPEN, "empty": "#d5dbdf", "startup": "#8fb4cf",
            "timer_release": OCHRE, "reheated": TARGET, "interrupted": INK,
            "scrapped": BAD, "aborted": "#7a4516"}


def names(*fields):
    return ", ".join(f'"{field}"' for field in fields)


def each(*fields):
    """These figures of every chosen shot; a series for each line and figure."""
    return [query("A", names(*fields) + SHOTS, CHOSEN, '"line"', "$tag_line $col")]


def outcomes():
    return (
        table("How the shots came out",
              "Only complete ones are judged. Partial: the logger did not see all of it; "
              "timer_release: let go by the timer, not by its sag; startup: among the first "
              "after a stop.", "none",
              [query("A", 'count("shot_no") AS "shots"' + SHOTS, HOLDS,
                     '"line", "outcome"', table=True)], width=8, overrides=[NO_TIME]),
        table("The newest shot of each line",
              "By the time at which its platens closed. Long ago: the line stands, or the "
              "logger or its store does not get through; the logger's health tells which.",
              "none",
              [query("A", '"shot_no", "outcome", "recipe", "tool", "lot", "reason"' + SHOTS,
                     HOLDS, '"line"', table=True, last="ORDER BY time DESC LIMIT 1")],
              width=16),
        bars("Shots by outcome, each half hour",
             "An empty place is a stop, or a time that nobody saw: what was made then is not "
             "known.", "none",
             [query("A", 'count("shot_no")' + SHOTS, HOLDS,
                    'time(30m), "outcome" fill(0)', "$tag_outcome")], width=24, height=7,
             stacked=True, min=0, overrides=[
                 override(name, ("color", {"mode": "fixed", "fixedColor": color}))
                 for name, color in OUTCOMES.items()]))


def sheet():
    return (
        points("The sheet: faces at heat end, and the core",
               "Core: computed by conduction through the thickness; good for comparing "
               "shots of a lot, not for releasing a part. It has a band of some degrees, "
               "most of it common to all shots.", "celsius",
               each("exit_top_c", "exit_bottom_c", "core_heat_end_c", "core_form_start_c")),
        points("How uneven the sheet is",
               "exit_difference_dc: top minus bottom; exit_spread_..: largest minus smallest "
               "pyrometer of a side; core_form_start_band_dc: half of the 95 % band of the "
               "core as it is formed.", KELVIN,
               each("exit_difference_dc", "exit_spread_top_dc", "exit_spread_bottom_dc",
                    "core_form_start_band_dc")),
        points("Sag and heat",
               "sag_s: from the oven to the sag eye; heat_s: all of the time in the oven; "
               "transfer_s: from the oven to the platens closed, while the sheet cools.",
               SECONDS, each("heat_s", "sag_s", "soak_wait_s", "transfer_s")),
        points("The cycle and its parts",
               "cycle_s: platens closed to platens closed; the parts add up to it. "
               "cycle_wait_line_s: a sheet was ready, and waited for the operator or the "
               "line.", SECONDS,
               each("cycle_s", "cycle_forming_s", "cycle_wait_sag_s", "cycle_wait_line_s",
                    "cycle_index_s", "cycle_closing_s")))


def tool():
    return (
        points("How even the tool is",
               "tool_spread_of_means_dc: largest minus smallest of the sensors' means while "
               "the platens are closed, the figure to hold a tool to; tool_swing_dc: its "
               "breathing in time, several degrees every shot, which is no unevenness.",
               KELVIN, each("tool_spread_of_means_dc", "tool_swing_dc", "water_rise_dc"),
               width=8),
        points("Tool, water, hall",
               "Means while the platens are closed; the hall's over the heat. A tool that "
               "follows its supply points to the water, one that does not to the tool.",
               "celsius", each("tool_mean_c", "water_supply_c", "ambient_c"), width=8),
        points("Energy a sheet",
               "energy_kwh: rated power times output of the zones, estimated, so that a dead "
               "element still counts; heat_removed_kwh: taken away by all water circuits.",
               "kwatth", each("energy_kwh", "heat_removed_kwh"), width=8))


def zones():
    def side(role):
        return [query("A", 'mean("mean") AS "mean output", min("min") AS "lowest", '
                      'max("max") AS "highest", mean("coverage") AS "read" '
                      'FROM "shot_channel"', HOLDS + f" AND \"role\" = '{role}'",
                      '"line", "channel"', table=True)]

    gauge = override("mean output", ("custom.cellOptions", {"type": "gauge",
                                                            "mode": "basic"}))
    words = ("Outputs of the zones over the heats of the shots: what the controllers gave, "
             "not what the elements took. One far from its neighbours is worth a look; read: "
             "the share of the time with good readings.")
    return (
        stairs("Zones without control left",
               "Zones that stood at 99 % or more for over half of the heat. Such a zone can "
               "give no more: its set point, an element or the mains.", "none",
               each("saturated_zones"), gap_ms=HALF_AN_HOUR_MS, min=0, decimals=0),
        stairs("The zone that was longest at its limit",
               "Share of the heat that it spent at 99 % or more.", "percentunit",
               each("saturation_max"), gap_ms=HALF_AN_HOUR_MS, min=0, max=1),
        table("Top zones", words, "percentunit", side("zone_top"), width=12, height=9,
              min=0, max=1, color={"mode": "fixed", "fixedColor": OCHRE},
              overrides=[gauge, NO_TIME]),
        table("Bottom zones", words, "percentunit", side("zone_bottom"), width=12,
              height=9, min=0, max=1, color={"mode": "fixed", "fixedColor": OCHRE},
              overrides=[gauge, NO_TIME]))


def told():
    return (
        table("What happened",
              "Events of the line, newest first: stops, changed set points, findings, times "
              "without the logger. A finding is a hint with its evidence, not a diagnosis.",
              "none",
              [query("A", '"line", "kind", "text" FROM "event"', LINE, table=True,
                     last="ORDER BY time DESC LIMIT 200")], width=14, height=9),
        table("Figures that are missing, and why",
              "Of how many shots each figure is absent, as the shots were first made. What "
              "is not configured is not counted. A missing figure is never taken for a good "
              "one.", "none",
              [query("A", 'count("shot_no") AS "shots" FROM "shot_absent"',
                     LINE + " AND \"revision\" = '0'", '"line", "feature", "reason"',
                     table=True)], width=10, height=9, overrides=[NO_TIME]))


def board():
    made_of = Board(
        "evensoak-day", "evensoak: one line's day",
        "Every shot of a day: outcomes, sheet, core, cycle, tool, zones, and what happened.",
        "now-24h", refresh="1m")
    made_of.variables += [
        variable("site", "Site", "site", "shot"),
        variable("line", "Line", "line", "shot", SITE),
        variable("outcome", "Outcome", "outcome", "shot", LINE, chosen="complete")]
    made_of.annotations += [
        annotation("Findings", OCHRE, LINE + " AND \"kind\" = 'finding'", "line,kind"),
        annotation("On the line", OPEN, LINE + " AND \"kind\" != 'finding'", "line,kind"),
        annotation("The logger", BAD, SITE + " AND \"line\" = 'unknown'", "kind",
                   enabled=False)]
    made_of.add(*outcomes(), row("Sheet and cycle"), *sheet(), row("Tool and energy"),
                *tool(), row("Zones"), *zones(), row("Told"), *told())
    return made_of
