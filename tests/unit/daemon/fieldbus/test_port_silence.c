/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/port.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "conf/settings.h"
#include "tests/unit/published.h"

/* 1 + 8 + parity + stop bits: with one of each 11; without parity two stop bits make up
 * for it.  Modbus over Serial Line V1.02, 2.5.1. */
static void
the_silence_between_two_frames_is_as_published(void **state)
{
	struct bus_settings bus = {.baud = 9600, .parity = PARITY_EVEN, .stop_bits = 1};

	(void)state;
	published(SOURCE_MODBUS_SERIAL, "3.5 characters of 11 bits at 9600 baud, us",
	    1e6 * port_silence_s(&bus), 3.5e6 * 11 / 9600, 0.5);
	bus.parity = PARITY_NONE;
	published(SOURCE_MODBUS_SERIAL, "3.5 characters of 10 bits at 9600 baud, us",
	    1e6 * port_silence_s(&bus), 3.5e6 * 10 / 9600, 0.5);
	bus.stop_bits = 2;
	bus.baud = 19200;
	published(SOURCE_MODBUS_SERIAL, "3.5 characters of 11 bits at 19200 baud, us",
	    1e6 * port_silence_s(&bus), 3.5e6 * 11 / 19200, 0.5);
	bus.baud = 38400;
	published(SOURCE_MODBUS_SERIAL, "silence between frames above 19200 baud, us",
	    1e6 * port_silence_s(&bus), 1750, 0.5);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(the_silence_between_two_frames_is_as_published),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
