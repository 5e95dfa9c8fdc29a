# SPDX-License-Identifier: GPL-3.0-or-later
"""Two serial lines, each a pair of pseudo terminals: several units of pymodbus on one, a
unit of libmodbus's own server on the other.  mbpoll reads them before the daemon does,
our own commands beside it, after a line has been unplugged and plugged in again.
"""

import bus
import bus_reading

UNITS, ALONE = (1, 2, 40), 9
PERIOD_MS = 1000  # a line of 19200 baud has time for it


# No parity: a pseudo terminal has none, and a second program that asks for it is refused.
def configuration(zoos, lines):
    buses = "".join(f"[bus {name}]\nport = {line.ours}\nbaud = 19200\nparity = none\n"
                    for name, line in lines.items())
    devices = {name: (f"bus = {'short' if unit == ALONE else 'long'}", unit, channels)
               for (name, unit), channels in zoos.items()}
    return bus.configuration(devices, buses, period_ms=PERIOD_MS)


def unplugged(plant, long, server):
    """What hung on the line is silent, the other line goes on; then all is as before."""
    server.stop()
    long.unplug()
    bus.wait_for("silence of the long line", lambda: sorted(
        row["state"] for row in plant.device_states().values())
        == ["ok", "silent", "silent", "silent"], 30)
    long.plug()
    server.start()
    plant.wait_answering(len(UNITS) + 1, 90)


def main():
    zoos = {(f"unit-{unit}", unit): bus.zoo(unit) for unit in (*UNITS, ALONE)}
    with bus.Bus("") as plant:
        long, short = (bus.SerialLine(plant, name) for name in ("long", "short"))
        plant.configure(configuration(zoos, {"long": long, "short": short}))
        for name, units in (("long", UNITS), ("short", (ALONE,))):
            bus.write_cells(plant.path(f"{name}.cells"),
                            {unit: zoos[(f"unit-{unit}", unit)] for unit in units})
        with long, short:
            many = bus.pymodbus_server(plant, "rtu", long.theirs, plant.path("long.cells"),
                                       bus.answers_rtu(long, UNITS[0]))
            one = bus.libmodbus_server(plant, "rtu", short.theirs, plant.path("short.cells"),
                                       bus.answers_rtu(short, ALONE))
            with many, one:
                for (_, unit), channels in zoos.items():
                    line = short if unit == ALONE else long
                    bus_reading.check_mbpoll(bus.mbpoll_rtu(line.ours), unit, channels)
                plant.start()
                plant.wait_answering(len(zoos))
                unplugged(plant, long, many)
                bus_reading.check_run(plant, zoos, PERIOD_MS)


if __name__ == "__main__":
    main()
