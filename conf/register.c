/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/register.h"

#include <assert.h>

/* Modbus Application Protocol V1.1b3, sections 6.1 to 6.4. */
uint8_t
register_function(enum register_table table)
{
	switch (table) {
	case TABLE_COIL:
		return 1;
	case TABLE_DISCRETE:
		return 2;
	case TABLE_HOLDING:
		return 3;
	case TABLE_INPUT:
		return 4;
	}
	assert(!"a register table");
	return 3;
}

bool
register_is_bit(enum register_table table)
{
	return table == TABLE_COIL || table == TABLE_DISCRETE;
}

bool
register_packs(enum register_table table, enum encoding encoding)
{
	return encoding == ENCODING_BIT && !register_is_bit(table);
}

uint16_t
register_width(enum encoding encoding)
{
	switch (encoding) {
	case ENCODING_BIT:
	case ENCODING_INT16:
	case ENCODING_UINT16:
		return 1;
	case ENCODING_INT32:
	case ENCODING_UINT32:
	case ENCODING_FLOAT32:
		return 2;
	}
	assert(!"an encoding");
	return 1;
}
