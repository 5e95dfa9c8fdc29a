/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What stands in a device's registers: how a table is read, how much of it a value
 * takes.  Their words are in conf/words.  Pure; any thread.
 */
#ifndef CONF_REGISTER_H
#define CONF_REGISTER_H

#include "conf/settings.h"

/* The Modbus function code that reads the table: 1 to 4. */
uint8_t register_function(enum register_table table);

/* Whether the table holds bits (coils, discrete inputs) rather than registers. */
bool register_is_bit(enum register_table table);

/* Whether a value of this encoding is one bit of a register. */
bool register_packs(enum register_table table, enum encoding encoding);

/* Registers that a value of this encoding takes: 1 or 2. */
uint16_t register_width(enum encoding encoding);

#endif
