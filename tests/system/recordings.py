# SPDX-License-Identifier: GPL-3.0-or-later
"""A reader of the daemon's recordings that shares no code with it, for system tests.

Their form is told in daemon/run/recording.h and daemon/shot/pack_form.h.
"""

import collections
import zlib

READ, STALE, COMM_FAULT, FROZEN = range(4)

# `device`: its number in the configuration; `first`: of its channels; times in ns;
# `readings`: (what, raw) of each channel, raw None where it was not read.
Scan = collections.namedtuple("Scan", "device first sent at wall readings")


class Numbers:
    def __init__(self, data, at=0):
        self.data, self.at = data, at

    def next(self):
        number = shift = 0
        while True:
            byte = self.data[self.at]
            self.at += 1
            number |= (byte & 0x7F) << shift
            shift += 7
            if byte < 0x80:
                return number

    def difference(self):
        number = self.next()
        return -(number >> 1) - 1 if number & 1 else number >> 1

    def column(self):
        length = int.from_bytes(self.data[self.at:self.at + 4], "little")
        start = self.at + 4
        self.at = start + length
        return Numbers(self.data[start:self.at])


def column_of_sums(column, count):
    total, sums = 0, []
    for _ in range(count):
        total += column.difference()
        sums.append(total)
    return sums


def times(column, count):
    step = total = 0
    sums = []
    for _ in range(count):
        step += column.difference()
        total += step
        sums.append(total)
    return sums


def channel(column, count, kinds):
    readings, last = [], 0
    while len(readings) < count:
        run = column.next()
        what = run % kinds
        for _ in range(run // kinds):
            if what in (READ, FROZEN):
                last = (last + column.difference()) & 0xFFFFFFFF
                readings.append((what, last))
            else:
                readings.append((what, None))
    assert len(readings) == count
    return readings


def unpack(data):
    head = Numbers(data)
    version = head.next()
    assert version in (1, 2), version
    length = head.next()
    plain = zlib.decompress(data[head.at:])
    assert len(plain) == length
    numbers = Numbers(plain)
    count, part_count = numbers.next(), numbers.next()
    parts = []
    for _ in range(part_count):
        device = numbers.next()
        first = numbers.next() if version > 1 else 0
        parts.append((device, first, numbers.next()))
    column = numbers.column()
    order = [column.next() for _ in range(count)]
    scans = []
    for place, (device, first, width) in enumerate(parts):
        own = order.count(place)
        at = times(numbers.column(), own)
        took = column_of_sums(numbers.column(), own)
        label = column_of_sums(numbers.column(), own)
        columns = [channel(numbers.column(), own, 4 if version > 1 else 3)
                   for _ in range(width)]
        scans.append([Scan(device, first, at[i] - took[i], at[i], at[i] + label[i],
                           [c[i] for c in columns]) for i in range(own)])
    return [scans[place].pop(0) for place in order]


def scans(path):
    """All scans in order; a block that is not whole is left out."""
    with open(path, "rb") as file:
        data = file.read()
    head = b"evensoak recording 1\n"
    assert data.startswith(head)
    at, found = len(head), []
    while at + 5 <= len(data):
        kind, length = data[at], int.from_bytes(data[at + 1:at + 5], "little")
        body = data[at + 5:at + 5 + length]
        if len(body) < length:
            break
        if kind == ord("P"):
            found += unpack(body)
        at += 5 + length
    return found
