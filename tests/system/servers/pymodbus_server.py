#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""pymodbus_server.py tcp PORT CELLS | rtu TTY CELLS: Debian's python3-pymodbus serving
the units in CELLS; what is not among them gets exception 2, other units no answer."""

import os
import sys

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), ".."))
import bus
from pymodbus.datastore import (ModbusServerContext, ModbusSlaveContext,
                                ModbusSparseDataBlock)
from pymodbus.factory import ServerDecoder
from pymodbus.server import StartSerialServer, StartTcpServer
from pymodbus.transaction import ModbusRtuFramer


def context(path):
    slaves = {}
    for unit, tables in bus.read_cells(path).items():
        blocks = {name: ModbusSparseDataBlock(tables[function])
                  for name, function in (("co", 1), ("di", 2), ("hr", 3), ("ir", 4))}
        slaves[unit] = ModbusSlaveContext(**blocks, zero_mode=True)
    return ModbusServerContext(slaves=slaves, single=False)


def main():
    kind, where, path = sys.argv[1:4]
    bus.tell_functions(ServerDecoder)
    if kind == "tcp":
        StartTcpServer(context=context(path), address=("127.0.0.1", int(where)),
                       allow_reuse_address=True)
    else:
        StartSerialServer(context=context(path), framer=ModbusRtuFramer, port=where,
                          baudrate=19200, timeout=0.05, ignore_missing_slaves=True)


main()
