# SPDX-License-Identifier: GPL-3.0-or-later
"""A strict reader of line protocol: what any server of the family refuses, drops or takes
otherwise than it was meant is refused here.  Shares no code with the daemon.

Published: docs.influxdata.com, "Line protocol" of 1.x, 2.x and 3 Core (names, escapes,
types).  That a VictoriaMetrics takes .5, +1 and 0x10 for 0 was measured.
"""

import re

LINE_MOST = 262144  # bytes; a VictoriaMetrics takes no longer one
NAME_MOST = 256

NAME = re.compile(r"[A-Za-z][A-Za-z0-9_]*")
_HELD = r"(?:[^\\,= \x00-\x1f\x7f]|\\[,= ])+"
_TAG = re.compile(r",([A-Za-z][A-Za-z0-9_]*)=(" + _HELD + ")")
_FIELD = re.compile(
    r'([A-Za-z][A-Za-z0-9_]*)=(?:"((?:[^"\\\x00-\x1f\x7f]|\\["\\])*)"'
    r"|(-?[0-9]+)i|(-?[0-9]+(?:\.[0-9]+)?(?:[eE][+-]?[0-9]+)?))")


class Refused(Exception):
    """With what is wrong with the line."""


def _tags(text, at):
    tags = {}
    while at < len(text) and text[at] == ",":
        match = _TAG.match(text, at)
        if match is None:
            raise Refused(f"no tag at byte {at}")
        name = match[1]
        if name in tags or name == "time" or len(match[2]) > NAME_MOST:
            raise Refused(f"tag '{name}' is twice, too long or reserved")
        tags[name] = re.sub(r"\\([,= ])", r"\1", match[2])
        at = match.end()
    return tags, at


def _value(match):
    if match[2] is not None:
        return re.sub(r'\\(["\\])', r"\1", match[2])
    if match[3] is not None:
        number = int(match[3])
        if not -2**63 <= number < 2**63:
            raise Refused(f"'{match[1]}' is no 64-bit integer")
        return number
    number = float(match[4])
    if number in (float("inf"), float("-inf")):
        raise Refused(f"'{match[1]}' is not finite")
    return number


def _fields(text, at, tags):
    fields = {}
    while True:
        match = _FIELD.match(text, at)
        if match is None:
            raise Refused(f"no field at byte {at}")
        name = match[1]
        if name in fields or name in tags or name == "time":
            raise Refused(f"field '{name}' is twice, a tag too, or reserved")
        fields[name] = _value(match)
        at = match.end()
        if at >= len(text) or text[at] != ",":
            return fields, at
        at += 1


def parse(line):
    """(measurement, {tag: value}, {field: str, int or float}, time in ns) of its bytes."""
    if len(line) > LINE_MOST:
        raise Refused(f"{len(line)} bytes")
    try:
        text = line.decode("utf-8")
    except UnicodeDecodeError as error:
        raise Refused("no UTF-8") from error
    match = NAME.match(text)
    if match is None:
        raise Refused("no measurement")
    tags, at = _tags(text, match.end())
    if text[at:at + 1] != " ":
        raise Refused(f"no blank at byte {at}")
    fields, at = _fields(text, at + 1, tags)
    if not re.fullmatch(r" [1-9][0-9]{0,18}", text[at:]) or int(text[at:]) >= 2**63:
        raise Refused(f"no time at byte {at}")
    return match[0], tags, fields, int(text[at:])
