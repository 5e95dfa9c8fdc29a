# SPDX-License-Identifier: GPL-3.0-or-later
"""What goes wrong in a year, drawn from a seed: on the line as a script for linesim, and
around the logger as a list of (second of the year, what, for how long)."""

import random

from year import DAY_S, SLOW

HOUR_S = 3600
CHANNELS = ("water.tool_3", "water.water_supply", "pyrometers.surface_top_2",
            "pyrometers.stack", "water.water_flow_2")
DEVICES = ("controller", "pyrometers", "ovens", "water")

# Longest troubles, in parts of the year.  Runs shorter than a year have shorter ones.
STORE_AWAY = (0.20, 0.255)  # three weeks
DEVICE_AWAY = (0.30, 0.36)
DEVICE_FLAPS = (0.40, 0.44)
DISK_FULL = 0.26
LEAPS = ((0.12, 3600), (0.14, 0))  # the clock is an hour ahead from then till then
# Restarts come in the first part of the year: in the rest nothing hides a leak.
RESTARTS_UNTIL = 0.38
FLAP_S = 900


class Plan:
    """`script` for linesim; `actions` for soak.py, in order of time."""

    def __init__(self, days, seed):
        self.days, self.length_s = days, days * DAY_S
        self._random = random.Random(seed)
        self._lines, self.actions = [], []
        for day in range(days):
            self._day(day)
        self._long_ones()
        self.actions.sort()

    @property
    def script(self):
        return "\n".join(self._lines) + "\n"

    def _at(self, second, event):
        self._lines.append(f"at {second / SLOW:.1f} {event}")

    def _day(self, day):
        pick, start = self._random, day * DAY_S
        if day % 7 == 3:  # a Sunday: 2025-03-30 is one
            self._at(start, f"fault for_s={DAY_S / SLOW:g}")
        for _ in range(pick.randint(1, 3)):
            self._at(start + pick.uniform(0, DAY_S), self._line_fault())
        if pick.random() < 0.3:
            self.actions.append((start + pick.uniform(0, 12 * HOUR_S), "store",
                                 pick.uniform(1, 10) * HOUR_S))
        if day % 20 == 8 and day < RESTARTS_UNTIL * self.days:
            self.actions.append((start + pick.uniform(0, DAY_S), "restart",
                                 pick.choice((0, 0, 20 * HOUR_S))))
        if day % 20 == 18 and day < RESTARTS_UNTIL * self.days:
            self.actions.append((start + pick.uniform(0, DAY_S), "kill", 0))

    def _line_fault(self):
        pick = self._random
        short, zone = pick.uniform(40, 400), pick.randint(1, 24)
        return pick.choice((
            "empty", "scrap", "abort", "reheat", "double-index", "cold start_c=-10",
            f"sag-eye state={pick.choice(('stuck', 'bouncing', 'dead'))}",
            f"fault for_s={short:.0f}", f"jog for_s={pick.uniform(20, 60):.0f}",
            "counter value=0", f"set-point side=top zone={zone} percent=55",
            f"weak-zone side=top zone={zone} factor={pick.choice((0.8, 1))}",
            f"clog circuit={pick.randint(1, 8)} factor={pick.choice((0.5, 1))} over_s=300",
            f"open channel={pick.choice(CHANNELS)} for_s={short:.0f}",
            f"freeze channel={pick.choice(CHANNELS)} for_s={short:.0f}",
            f"silent device={pick.choice(DEVICES)} for_s={short:.0f}",
            f"exception device={pick.choice(DEVICES)} code=6 for_s={short:.0f}",
            f"late device={pick.choice(DEVICES[1:])} delay_s=60 for_s={short:.0f}",
            f"lot name=L-{pick.randint(1, 9999):04d} melt_flow={pick.uniform(0.9, 1.1):.3f}",
        ))

    def _long_ones(self):
        whole = self.length_s
        store, device, flaps = (
            [part * whole for part in span] for span in (STORE_AWAY, DEVICE_AWAY,
                                                         DEVICE_FLAPS))
        self.actions.append((store[0], "store", store[1] - store[0]))
        self._at(device[0], f"silent device=water for_s={(device[1] - device[0]) / SLOW:.1f}")
        flap = flaps[0]
        while flap < flaps[1]:
            self._at(flap, f"exception device=pyrometers code=4 for_s={FLAP_S / SLOW:g}")
            flap += 2 * FLAP_S
        self.actions.append((DISK_FULL * whole, "disk", min(2 * DAY_S, 0.02 * whole)))
        self.actions += [(part * whole, "leap", by_s) for part, by_s in LEAPS]
