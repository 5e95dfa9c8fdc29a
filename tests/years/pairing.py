# SPDX-License-Identifier: GPL-3.0-or-later
"""Every frame of linesim's truth beside the shot that the logger made of it.

A frame without a shot must lie in a time of which the logger says itself that it did not
see: by an event, by the flag `gap` (or what follows a start or a set counter) of the next
shot, or because none ran.
"""

import bisect
import collections

NEAR_S = 900        # heat starts of one sheet; frames follow each other by an hour and more
CYCLE_S = 5300      # from frame to frame
UNSURE_S = 150      # polls that came too late; the shot says so: 5 s of the demo's machine
TELLING = ("start", "end", "resume", "lost", "missed_index", "count_jump", "count_astray",
           "clock_step", "device_silent", "device_answers", "logger_started",
           "logger_stopped", "shots_lost", "readings_lost")
GAP_FLAGS = 1 | 256 | 512 | 2048  # gap, count_jump, clock_step, logger_start


class Pairing:
    def __init__(self, year, book):
        self._told = sorted(event["at_s"] for event in book.events.values()
                            if event["kind"] in TELLING)
        self._shots = sorted(book.shots.values(), key=lambda shot: shot["closed_s"])
        self._closed = [shot["closed_s"] for shot in self._shots]
        self.frames = [self._frame(year, row) for row in year.truth()]
        self.pairs, self.lost, self.untold, self.wrong = [], [], [], []
        self.unsure = 0
        self._pair()
        self.invented = [shot for shot in self._free if shot["outcome"] != "partial"
                         and not shot["flags"] & GAP_FLAGS]
        self._judge()

    @staticmethod
    def _frame(year, row):
        times = {name.removesuffix("_at") + "_s": year.second_of_line(row[name])
                 for name in row if name.endswith("_at")}
        return {**row, **times}

    def _pair(self):
        """By when the heat began; else by the forming, or by when it ended."""
        free = {shot["shot_no"]: shot for shot in self._shots}
        left = list(self.frames)
        for by in ("heat_start_s", "form_start_s", "heat_end_s"):
            times = sorted((shot[by], number) for number, shot in free.items()
                           if shot.get(by) is not None)
            rest = []
            for row in left:
                number = self._nearest(times, row[by], free)
                if number is None:
                    rest.append(row)
                else:
                    self.pairs.append((free.pop(number), row))
            left = rest
        self._free = list(free.values())
        self.lost = left

    @staticmethod
    def _nearest(times, second, free):
        if second is None:
            return None
        place = bisect.bisect_left(times, (second - NEAR_S,))
        near = [(abs(at - second), number) for at, number in times[place:place + 4]
                if abs(at - second) <= NEAR_S and number in free]
        return min(near)[1] if near else None

    def _is_told(self, row):
        start_s, end_s = row["heat_start_s"] - CYCLE_S, row["left_s"] + CYCLE_S
        place = bisect.bisect_left(self._told, start_s)
        if place < len(self._told) and self._told[place] <= end_s:
            return True
        place = bisect.bisect_left(self._closed, row["left_s"])
        return any(shot["flags"] & GAP_FLAGS or shot["outcome"] == "partial"
                   for shot in self._shots[max(0, place - 1):place + 3])

    def _judge(self):
        self.untold = [row for row in self.lost if not self._is_told(row)]
        self.outcomes = collections.Counter(shot["outcome"] for shot, _ in self.pairs)
        for shot, row in self.pairs:
            if shot["outcome"] in (row["class"], "startup"):
                continue
            if shot["outcome"] == "partial" or (shot["uncertainty_s"] or 0) > UNSURE_S:
                self.unsure += 1
            else:
                self.wrong.append((shot, row))

    def say(self):
        kinds = ", ".join(f"{count} {name}" for name, count in self.outcomes.most_common())
        return (f"{len(self.frames)} sheets went round, {len(self.pairs)} of them are on file "
                f"({kinds}), {len(self.lost)} are not: {len(self.lost) - len(self.untold)} in "
                f"gaps that the logger tells of, {len(self.untold)} without a word. "
                f"{self.unsure} are partial or unsure where the truth knows better; "
                f"{len(self._free)} records more than sheets, of what was taken for one "
                f"after a gap")
