/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/base/scan.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

static void
a_scan_has_room_for_its_last_reading(void **state)
{
	struct scan *scan = calloc(1, scan_bytes(125));

	(void)state;
	assert_non_null(scan);
	scan->readings[124].value = 1; /* the sanitizer sees it if there is none */
	assert_ptr_equal(&scan->readings[125], (char *)scan + scan_bytes(125));
	free(scan);
}

static void
qualities_have_texts_that_stay(void **state)
{
	/* They are stored in ledgers: a change breaks what was written before. */
	(void)state;
	assert_string_equal(quality_text(QUALITY_GOOD), "good");
	assert_string_equal(quality_text(QUALITY_STALE), "stale");
	assert_string_equal(quality_text(QUALITY_SENSOR_FAULT), "sensor_fault");
	assert_string_equal(quality_text(QUALITY_COMM_FAULT), "comm_fault");
	assert_string_equal(quality_text(QUALITY_OUT_OF_RANGE), "out_of_range");
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_scan_has_room_for_its_last_reading),
	    cmocka_unit_test(qualities_have_texts_that_stay),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
