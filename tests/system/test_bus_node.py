# SPDX-License-Identifier: GPL-3.0-or-later
"""One of everything from modbus-serial, a package of the npm registry, three units behind
one socket."""

import bus
import bus_reading

if __name__ == "__main__":
    bus_reading.over_tcp((1, 2, 200), lambda plant, port, cells: bus.node_server(
        plant, port, cells, bus.answers_tcp(port, 1)))
