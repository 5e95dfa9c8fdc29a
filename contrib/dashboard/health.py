# SPDX-License-Identifier: GPL-3.0-or-later
"""Health of loggers and devices: what maintenance looks at."""

from parts import (BAD, LINE, OCHRE, OPEN, SECONDS, SITE, Board, annotation,
                   bars, curve, override, query, row, stairs, steps, table, variable)

HOST = SITE + ' AND "host" =~ /^${host:regex}$/'
LOGGER = ' FROM "logger"'
DEVICE = ' FROM "device"'
NEWEST = "ORDER BY time DESC LIMIT 1"
EVERY = "time($__interval)"
BY_DEVICE = f'{EVERY}, "line", "device"'
BY_HOST = f'{EVERY}, "host"'
# One point a minute: in an interval that is no shorter than this there is one, and where
# there is none the logger told nothing, and the curve ends.
AT_LEAST = "2m"
# What may become of a request, as the daemon counts it.
BECAME = {"none": "no answer", "wrong": "wrong answer", "illegal": "refused address",
          "busy": "busy", "fault": "device fault", "gateway": "gateway",
          "lost": "connection lost"}
STORE_WORDS = "Of this store alone; `evensoak status` on the line's PC tells of all."


def each_device(function, field):
    return [query("A", f'{function}("{field}"){DEVICE}', LINE, BY_DEVICE + " fill(null)",
                  "$tag_line $tag_device")]


def each_host(function, *fields):
    return [query("A", ", ".join(f'{function}("{field}") AS "{field}"' for field in fields)
                  + LOGGER, HOST, BY_HOST + " fill(null)", "$tag_host $col")]


def now():
    silent = override("answering", ("unit", "percentunit"),
                      ("custom.cellOptions", {"type": "color-background"}),
                      ("thresholds", steps(BAD, (0.001, OCHRE), (0.99, "transparent"))))
    late = [override(name, ("unit", SECONDS)) for name in ("late 99 of 100", "latest")]
    return (
        table("Each device now",
              "As of the newest point of each, which should be less than two minutes old. "
              "answering: share of its scans in the last minute that were answered in full; "
              "0 is silent. bad channels: answered without a good value; empty while the "
              "device is silent.", "none",
              [query("A", '"answering", "bad_channels" AS "bad channels", "late_p99_s" AS '
                     '"late 99 of 100", "late_worst_s" AS "latest"' + DEVICE, LINE,
                     '"line", "device"', table=True, last=NEWEST)],
              width=12, height=9, overrides=[silent, *late]),
        table("Each logger now",
              "As of its newest point, which should be less than two minutes old: a logger "
              "that is dead, or cut off, tells nothing, and what it told last stands here. "
              + STORE_WORDS, "none",
              [query("A", '"version", "up_s" AS "up", "filed", "waiting", "lost", "backlog", '
                     '"refused", "delivering", "free_bytes" AS "disk free"' + LOGGER, HOST,
                     '"host"', table=True, last=NEWEST)],
              width=12, height=9, overrides=[
                  override("up", ("unit", "dtdurations")),
                  override("disk free", ("unit", "bytes")),
                  *(override(name, ("custom.cellOptions", {"type": "color-background"}),
                             ("thresholds", steps("transparent", (1, BAD))))
                    for name in ("lost", "refused"))]))


def devices():
    answered = (f'max("answering") AS "answering"{DEVICE} WHERE {LINE} AND $timeFilter '
                f'GROUP BY {BY_DEVICE} fill(none)')
    counted = ", ".join(
        f'non_negative_difference(last("{name}")) AS "{name}"' for name in BECAME)
    became = (f'{counted}{DEVICE} WHERE {LINE} AND $timeFilter '
              f'GROUP BY {BY_DEVICE} fill(none)')
    sums = ", ".join(f'sum("{name}") AS "{words}"' for name, words in BECAME.items())
    return (
        bars("Silent devices",
             "Devices that answered nothing at all in the interval. None drawn: all "
             "answered, or nobody asked; see the share beside.", "none",
             [query("A", f'count("answering") FROM (SELECT {answered})', '"answering" = 0',
                    f'{EVERY}, "line" fill(none)', "$tag_line")], width=12, min=0),
        curve("Share of scans that were answered in full",
              "Mean over the interval. Where a curve ends the logger itself told nothing.",
              "percentunit", each_device("mean", "answering"), min=0, max=1),
        bars("Requests without a good answer, by what became of them",
             "New ones in each interval, all devices together. No answer: wiring, address, "
             "power; wrong answer: another master, noise; refused address: the set-up does "
             "not fit the device; busy and gateway: poll more slowly.", "none",
             [query("A", f"{sums} FROM (SELECT {became})", '"device" != \'\'',
                    f"{EVERY} fill(none)", "$col")], width=12, stacked=True, min=0),
        stairs("Channels without a good value",
               "Of devices that answer: sensors that report a fault, are out of range or "
               "stand still. A pyrometer over an empty oven is out of range and well.",
               "none", each_device("max", "bad_channels"), min=0, decimals=0),
        curve("How late scans begin: 99 of 100",
              "Of the last one to two hours. Beyond a poll's period readings are missing.",
              SECONDS, each_device("max", "late_p99_s"), min=0),
        curve("How late scans begin: the latest",
              "Of the last one to two hours. One late scan is a hiccup of the network; many "
              "show beside.", SECONDS, each_device("max", "late_worst_s"), min=0))


def logger():
    return (
        stairs("Shots that wait for this store",
               "A backlog that goes down is an outage that is being made up; one that only "
               "grows is an outage. Nothing is lost meanwhile. " + STORE_WORDS, "none",
               each_host("max", "backlog"), min=0, decimals=0),
        stairs("Refused and lost",
               "Since the logger's start. refused: lines that this store would not take, and "
               "that were set aside; lost: shots that could not be kept anywhere; dropped: "
               "scans that nobody could look at; lost_readings: of curves. All should be 0.",
               "none", each_host("max", "refused", "lost", "dropped", "lost_readings"),
               min=0, decimals=0),
        curve("Ledger",
              "The file with what is not yet moved into it. It grows for ever unless "
              "keep_shots_days bounds it: see that the disk has room for years.",
              "bytes", each_host("last", "ledger_bytes"), width=8),
        curve("Free disk", "Of the disk that the ledger is on. Without room shots are kept in "
              "memory, and lost where that is full too.",
              "bytes", each_host("last", "free_bytes"), width=8, min=0),
        curve("Memory", "Of the daemon. A slope that never ends is worth a report.", "bytes",
              each_host("max", "memory_bytes"), width=8, min=0),
        stairs("Queues",
               "waiting: shots not on file yet; queue_most: the most scans that ever waited "
               "to be looked at. They rise where the disk or the computer is too slow.",
               "none", each_host("max", "waiting", "queue_most"), min=0, decimals=0),
        stairs("Steps of the clock",
               "Since the logger's start: how often the computer's clock was set by more "
               "than a jot. Times of shots near a step are as the clock then was.", "none",
               each_host("max", "clock_steps"), min=0, decimals=0),
        table("What happened to the logger",
              "Newest first: devices and stores that fell silent and came back, a disk "
              "without room, configurations taken over or refused.", "none",
              [query("A", '"kind", "text" FROM "event"',
                     SITE + " AND \"line\" = 'unknown'", table=True,
                     last="ORDER BY time DESC LIMIT 200")], width=24, height=8))


def board():
    made_of = Board(
        "evensoak-logger", "evensoak: health of loggers and devices",
        "Which device is silent, whether the logger runs, and what waits for this store.",
        "now-24h", refresh="1m")
    made_of.variables += [
        variable("site", "Site", "site", "logger"),
        variable("line", "Line", "line", "device", SITE),
        variable("host", "Logger", "host", "logger", SITE)]
    made_of.annotations += [
        annotation("The logger", OPEN, SITE + " AND \"line\" = 'unknown'", "kind")]
    made_of.add(*now(), row("Devices"), *devices(), row("Loggers"), *logger())
    for each in made_of.panels:
        if each["type"] != "row":
            each["interval"] = AT_LEAST
    return made_of
