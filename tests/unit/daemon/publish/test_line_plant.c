/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Lines of all that is no shot: readings, devices, the logger. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/publish/line_protocol.h"
#include "tests/unit/seed.h"

static const struct line_protocol_form influx1 = {"pond-works", true, true};
static const struct line_protocol_form victoria = {"pond-works", false, false};

static void
assert_lines(struct text *text, const char *expected)
{
	assert_false(text->failed);
	assert_string_equal(text->bytes != NULL ? text->bytes : "", expected);
	text_clear(text);
}

static void
assert_device_line(
    const struct ledger_device *device, double answering, const char *expected)
{
	struct text text;

	text_init(&text, 1 << 16);
	line_protocol_device(&text, &influx1, device, answering);
	assert_false(text.failed);
	assert_string_equal(text.bytes != NULL ? text.bytes : "", expected);
	text_release(&text);
}

static void
a_device_is_one_line_of_counts(void **state)
{
	struct ledger_device device = {.device = "ovens west",
	    .line = "line-3",
	    .bus = "10.0.0.5:502",
	    .state = "ok",
	    .why = "",
	    .at = {INT64_C(1772427600123456789)},
	    .late_p99_s = NAN,
	    .late_worst_s = NAN};
	(void)state;

	for (int i = 0; i < LEDGER_COUNTS; i++)
		device.counts[i] = i + 1;
	device.counts[LEDGER_COUNT_GOOD] = INT64_C(3000000000);
	assert_device_line(&device, 1,
	    "device,site=pond-works,line=line-3,device=ovens\\ west "
	    "requests=3000000063i,scans=1i,failures=2i,late=3i,opened=4i,"
	    "good=3000000000i,illegal=6i,busy=7i,fault=8i,gateway=9i,none=10i,"
	    "wrong=11i,lost=12i,bad_channels=0i,answering=1 1772427600000000000\n");

	memset(device.counts, 0, sizeof device.counts);
	device.state = "in_part";
	device.late_p99_s = 0.0025;
	device.late_worst_s = 0.125;
	device.bad_channels = 3;
	assert_device_line(&device, 0.25,
	    "device,site=pond-works,line=line-3,device=ovens\\ west "
	    "requests=0i,scans=0i,failures=0i,late=0i,opened=0i,good=0i,illegal=0i,"
	    "busy=0i,fault=0i,gateway=0i,none=0i,wrong=0i,lost=0i,bad_channels=3i,"
	    "answering=0.25,late_p99_s=0.0025,late_worst_s=0.125 "
	    "1772427600000000000\n");

	device.at.ns = 0;
	assert_device_line(&device, 1, "");
}

/* Nobody knows how the sensors of a silent device are; of one that was not tried nobody
 * knows anything. */
static void
what_is_not_known_of_a_device_is_left_out(void **state)
{
	static const struct {
		const char *state;
		double answering;
		const char *fields;
	} cases[] = {
	    {"ok", 1, "lost=0i,bad_channels=2i,answering=1 "},
	    {"ok", NAN, "lost=0i,bad_channels=2i "},
	    {"in_part", 0.5, "lost=0i,bad_channels=2i,answering=0.5 "},
	    {"silent", 0.75, "lost=0i,answering=0.75 "},
	    {"starting", NAN, "lost=0i "},
	};
	(void)state;

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		struct ledger_device device = {.device = "ovens",
		    .line = "line-3",
		    .state = cases[i].state,
		    .at = {INT64_C(2000000000)},
		    .bad_channels = 2,
		    .late_p99_s = NAN,
		    .late_worst_s = NAN};
		struct text text;
		text_init(&text, 1 << 16);
		line_protocol_device(&text, &influx1, &device, cases[i].answering);
		assert_non_null(strstr(text.bytes, cases[i].fields));
		text_release(&text);
	}
}

static void
a_reading_is_one_line_of_its_channel(void **state)
{
	struct reading_channel channel = {
	    "ovens", "zone top", "zone_top", (double)181.3F, (double)1.1e-7F, 0.97};
	const struct wall at = {INT64_C(1772427610987654321)};
	struct text text;
	(void)state;

	text_init(&text, 4096);
	line_protocol_reading(&text, &influx1, "line-3", at, &channel);
	assert_lines(&text,
	    "reading,site=pond-works,line=line-3,channel=ovens.zone\\ "
	    "top,role=zone_top "
	    "quality=0.97,mean=181.3,last=1.1e-07 1772427610000000000\n");
	channel = (struct reading_channel){"ovens", "zone top", "", NAN, NAN, 0};
	line_protocol_reading(&text, &victoria, "line-3", at, &channel);
	assert_lines(&text,
	    "reading,site=pond-works,line=line-3,channel=ovens.zone\\ top,role=unknown "
	    "quality=0 1772427610000000000\n");
	line_protocol_reading(&text, &victoria, "line-3", (struct wall){0}, &channel);
	assert_lines(&text, "");
	text_release(&text);
}

/* As many digits as the ring keeps, and no more. */
static void
readings_are_the_same_floats_when_read_back(void **state)
{
	unsigned short random[3] = {(unsigned short)seed_take(1), 2, 3};
	struct reading_channel channel = {"d", "c", "r", 0, 0, 1};
	struct text text;
	(void)state;

	text_init(&text, 4096);
	for (int i = 0; i < 20000; i++) {
		uint32_t bits = (uint32_t)jrand48(random);
		float value, back;
		memcpy(&value, &bits, sizeof(value));
		if (i % 2 == 0)
			value = (float)((double)(nrand48(random) % 40000) * 0.01);
		if (!isfinite(value))
			continue;
		channel.mean = (double)value;
		text_clear(&text);
		line_protocol_reading(
		    &text, &influx1, "l", (struct wall){INT64_C(2000000000)}, &channel);
		const char *number = strstr(text.bytes, ",mean=") + strlen(",mean=");
		assert_true(i % 2 != 0 || strspn(number, "0123456789.-") <= 6);
		back = strtof(number, NULL);
		assert_memory_equal(&back, &value, sizeof(value));
	}
	text_release(&text);
}

static void
the_logger_is_one_line_of_counts(void **state)
{
	const struct ledger_logger logger = {
	    .host = "line pc",
	    .version = "0.1.0",
	    .started = {INT64_C(1772427000000000000)},
	    .at = {INT64_C(1772427600500000000)},
	    .polls = 1,
	    .failures = 2,
	    .late = 3,
	    .queue = 4,
	    .queue_most = 5,
	    .dropped = 6,
	    .waiting = 7,
	    .lost = 8,
	    .filed = 9,
	    .clock_steps = 10,
	    .memory_bytes = 11,
	    .ledger_bytes = 12,
	    .free_bytes = INT64_C(5000000000),
	};
	const struct line_protocol_standing standing = {
	    .backlog = 14, .refused = 15, .lost_readings = 16, .delivering = true};
	struct text text;
	(void)state;

	text_init(&text, 4096);
	line_protocol_logger(&text, &influx1, &logger, &standing);
	assert_lines(&text,
	    "logger,site=pond-works,host=line\\ pc,version=0.1.0 up_s=600.5,polls=1i,"
	    "failures=2i,late=3i,queue=4i,queue_most=5i,dropped=6i,waiting=7i,lost=8i,"
	    "filed=9i,clock_steps=10i,memory_bytes=11i,ledger_bytes=12i,"
	    "free_bytes=5000000000i,backlog=14i,refused=15i,lost_readings=16i,"
	    "delivering=1i 1772427600000000000\n");
	text_release(&text);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_device_is_one_line_of_counts),
	    cmocka_unit_test(what_is_not_known_of_a_device_is_left_out),
	    cmocka_unit_test(a_reading_is_one_line_of_its_channel),
	    cmocka_unit_test(readings_are_the_same_floats_when_read_back),
	    cmocka_unit_test(the_logger_is_one_line_of_counts),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
