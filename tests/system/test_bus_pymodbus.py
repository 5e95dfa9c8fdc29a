# SPDX-License-Identifier: GPL-3.0-or-later
"""One of everything from Debian's python3-pymodbus, three units behind one socket."""

import bus
import bus_reading

if __name__ == "__main__":
    bus_reading.over_tcp((1, 2, 247), lambda plant, port, cells: bus.pymodbus_server(
        plant, "tcp", port, cells, bus.answers_tcp(port, 1)))
