/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <locale.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "conf/feature.h"
#include "daemon/publish/line_protocol.h"
#include "tests/unit/seed.h"

/* A shot with three features, of which two are known. */
static struct ledger_shot
a_shot(void)
{
	struct ledger_shot shot = {
	    .change = 77,
	    .shot_no = 1042,
	    .line = "line-3",
	    .recipe = "12",
	    .tool = "T-117",
	    .lot = "L 9",
	    .material = "abs",
	    .filed_at = {INT64_C(1772427600123456789)},
	    .outcome = SHOT_COMPLETE,
	};
	for (int id = 0; id < FEATURE_COUNT; id++)
		shot.value[id] = NAN;
	shot.value[FEATURE_HEAT_S] = 161.5;
	shot.value[FEATURE_EXIT_TOP_C] = 0.1;
	return shot;
}

static void
assert_shot_line(const struct ledger_shot *shot, const char *expected)
{
	struct text text;

	text_init(&text, 1 << 16);
	line_protocol_shot(&text, "pond-works", shot);
	assert_false(text.failed);
	assert_string_equal(text.bytes != NULL ? text.bytes : "", expected);
	text_release(&text);
}

static void
a_shot_is_one_line_with_what_is_known(void **state)
{
	struct ledger_shot shot = a_shot();
	(void)state;

	assert_shot_line(&shot,
	    "shot,site=pond-works,line=line-3,recipe=12,tool=T-117,material=abs,"
	    "outcome=complete shot_no=1042i,change=77i,lot=\"L 9\",reason=\"\","
	    "heat_s=161.5,exit_top_c=0.1 1772427600123456042\n");
}

/* Texts: a hash has more digits than a float. */
static void
side_set_points_and_properties_are_fields_where_there_are_such(void **state)
{
	struct ledger_shot shot = a_shot();
	(void)state;

	snprintf(shot.side, sizeof(shot.side), "left \"a\"");
	shot.set_points = UINT64_C(0x0123456789abcdef);
	text_copy(shot.properties, sizeof(shot.properties), "abs 2 4c1a09e2");
	assert_shot_line(&shot,
	    "shot,site=pond-works,line=line-3,recipe=12,tool=T-117,material=abs,"
	    "outcome=complete shot_no=1042i,change=77i,lot=\"L 9\",reason=\"\","
	    "side=\"left \\\"a\\\"\",set_points=\"0123456789abcdef\",properties=\"abs "
	    "2 4c1a09e2\","
	    "heat_s=161.5,exit_top_c=0.1 1772427600123456042\n");
}

static void
what_is_not_finite_is_left_out(void **state)
{
	struct ledger_shot shot = a_shot();
	(void)state;

	shot.value[FEATURE_HEAT_S] = INFINITY;
	shot.value[FEATURE_EXIT_TOP_C] = -INFINITY;
	assert_shot_line(&shot,
	    "shot,site=pond-works,line=line-3,recipe=12,tool=T-117,material=abs,"
	    "outcome=complete shot_no=1042i,change=77i,lot=\"L 9\",reason=\"\" "
	    "1772427600123456042\n");
}

static void
an_empty_tag_is_written_as_unknown(void **state)
{
	struct ledger_shot shot = a_shot();
	(void)state;

	shot.recipe[0] = shot.tool[0] = shot.material[0] = shot.lot[0] = '\0';
	shot.outcome = SHOT_PARTIAL;
	assert_shot_line(&shot,
	    "shot,site=pond-works,line=line-3,recipe=unknown,tool=unknown,"
	    "material=unknown,outcome=partial shot_no=1042i,change=77i,lot=\"\","
	    "reason=\"\",heat_s=161.5,exit_top_c=0.1 "
	    "1772427600123456042\n");
}

static void
a_shot_without_a_time_is_no_line(void **state)
{
	struct ledger_shot shot = a_shot();
	(void)state;

	shot.filed_at.ns = 0;
	assert_shot_line(&shot, "");
	shot.filed_at.ns = -5000;
	assert_shot_line(&shot, "");
}

/* A name in a tag and a text in a string, as they must be written. */
static void
tags_and_strings_are_escaped(void **state)
{
	const struct {
		const char *raw, *tag, *string;
	} cases[] = {
	    {"T 117", "T\\ 117", "T 117"},
	    {"a,b", "a\\,b", "a,b"},
	    {"a=b", "a\\=b", "a=b"},
	    {"back\\slash", "back/slash", "back\\\\slash"},
	    {"end\\", "end/", "end\\\\"},
	    {"say \"so\"", "say\\ \"so\"", "say \\\"so\\\""},
	    {"two\nlines\r\n", "two\\ lines\\ \\ ", "two lines  "},
	    {"tab\tbell\adel\x7f", "tab\\ bell\\ del\\ ", "tab bell del "},
	    {"Gr\xc3\xbc\xc3\x9f"
	     "e",
		"Gr\xc3\xbc\xc3\x9f"
		"e",
		"Gr\xc3\xbc\xc3\x9f"
		"e"},
	    {"\xe2\x82\xac \xf0\x9f\x94\xa5", "\xe2\x82\xac\\ \xf0\x9f\x94\xa5",
		"\xe2\x82\xac \xf0\x9f\x94\xa5"},
	    /* cut in the middle of a character, as a name too long is */
	    {"cut \xe2\x82", "cut\\ ??", "cut ??"},
	    {"\xc3", "?", "?"},
	    /* overlong, a surrogate, past the last character, a byte on its own */
	    {"\xc0\xaf", "??", "??"},
	    {"\xed\xa0\x80", "???", "???"},
	    {"\xf4\x90\x80\x80", "????", "????"},
	    {"\x80x\xff", "?x?", "?x?"},
	    {"#no comment", "#no\\ comment", "#no comment"},
	};
	(void)state;

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		struct ledger_event event = {.change = 7, .at = {INT64_C(2000000000)}};
		char expected[256];
		struct text text;
		snprintf(event.line, sizeof(event.line), "%s", cases[i].raw);
		snprintf(event.kind, sizeof(event.kind), "x");
		snprintf(event.text, sizeof(event.text), "%s", cases[i].raw);
		snprintf(expected, sizeof(expected),
		    "event,site=unknown,line=%s,kind=x text=\"%s\" 2000000007\n",
		    cases[i].tag, cases[i].string);
		text_init(&text, 4096);
		line_protocol_event(&text, "", &event);
		assert_string_equal(text.bytes, expected);
		text_release(&text);
	}
}

static void
a_channel_is_one_line_with_what_is_known(void **state)
{
	struct ledger_shot shot = a_shot();
	struct ledger_channel channel = {
	    .device = "ovens",
	    .channel = "zone_top_3",
	    .role = "zone_top",
	    .min = 0,
	    .mean = 1e-7,
	    .max = 1.0 / 3,
	    .sd = NAN,
	    .last = -12345678.5,
	    .coverage = 1,
	};
	struct text text;
	(void)state;

	text_init(&text, 4096);
	line_protocol_channel(&text, "pond-works", &shot, &channel);
	assert_string_equal(text.bytes,
	    "shot_channel,site=pond-works,line=line-3,recipe=12,tool=T-117,"
	    "channel=ovens.zone_top_3,role=zone_top change=77i,min=0,"
	    "mean=1e-07,max=0.3333333333333333,last=-12345678.5,"
	    "coverage=1 1772427600123456042\n");

	text_clear(&text);
	channel.min = channel.mean = channel.max = channel.last = channel.coverage =
	    NAN;
	line_protocol_channel(&text, "pond-works", &shot, &channel);
	assert_int_equal(text.length, 0);
	text_release(&text);
}

/* Closed together, labelled alike: they must stay two points. */
static void
shots_filed_at_one_instant_have_different_times(void **state)
{
	struct ledger_shot shot = a_shot();
	struct text first, second;
	(void)state;

	text_init(&first, 4096);
	text_init(&second, 4096);
	line_protocol_shot(&first, "s", &shot);
	shot.shot_no++;
	line_protocol_shot(&second, "s", &shot);
	assert_string_equal(strrchr(first.bytes, ' '), " 1772427600123456042\n");
	assert_string_equal(strrchr(second.bytes, ' '), " 1772427600123456043\n");
	text_release(&first);
	text_release(&second);
}

static void
numbers_read_back_bit_for_bit_in_any_locale(void **state)
{
	unsigned short random[3] = {(unsigned short)seed_take(1), 2, 3};
	struct ledger_shot shot = a_shot();
	struct text text;
	(void)state;

	(void)setlocale(LC_ALL, "de_DE.UTF-8"); /* a decimal comma, where installed */
	text_init(&text, 4096);
	for (int i = 0; i < 2000; i++) {
		uint64_t bits =
		    (uint64_t)jrand48(random) << 32 ^ (uint32_t)jrand48(random);
		double value;
		memcpy(&value, &bits, sizeof(value));
		if (!isfinite(value))
			continue;
		shot.value[FEATURE_HEAT_S] = value;
		text_clear(&text);
		line_protocol_shot(&text, "s", &shot);
		const char *number =
		    strstr(text.bytes, ",heat_s=") + strlen(",heat_s=");
		char written[64] = "";
		memcpy(written, number, strcspn(number, ", "));
		double read_back;
		assert_true(text_number(written, &read_back));
		assert_memory_equal(&read_back, &value, sizeof(value));
		/* VictoriaMetrics reads .5, 5. and +1 as 0: never written. */
		const char *point = strchr(written, '.');
		assert_int_not_equal(written[0], '+');
		assert_true(point == NULL || (point > written && point[-1] >= '0' &&
						 point[1] >= '0' && point[1] <= '9'));
	}
	text_release(&text);
	(void)setlocale(LC_ALL, "C");
}

/* Names that every server takes, and none that is a tag or the time. */
static void
feature_names_are_field_names(void **state)
{
	static const char *const taken[] = {"time", "site", "line", "recipe", "tool",
	    "material", "outcome", "shot_no", "change", "lot", "reason", "side",
	    "set_points", "properties"};
	(void)state;

	for (int id = 0; id < FEATURE_COUNT; id++) {
		const char *name = feature_get(id)->name;
		assert_true(name[0] >= 'a' && name[0] <= 'z');
		assert_int_equal(strspn(name, "abcdefghijklmnopqrstuvwxyz0123456789_"),
		    strlen(name));
		for (size_t i = 0; i < sizeof(taken) / sizeof(taken[0]); i++)
			assert_string_not_equal(name, taken[i]);
	}
}

static void
assert_device_line(
    const struct ledger_device *device, double answering, const char *expected)
{
	struct text text;

	text_init(&text, 1 << 16);
	line_protocol_device(&text, "pond-works", device, answering);
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
	    "wrong=11i,lost=12i,bad_channels=0i,answering=1 1772427600123456000\n");

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
	    "1772427600123456000\n");

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
		line_protocol_device(&text, "pond-works", &device, cases[i].answering);
		assert_non_null(strstr(text.bytes, cases[i].fields));
		text_release(&text);
	}
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_shot_is_one_line_with_what_is_known),
	    cmocka_unit_test(
		side_set_points_and_properties_are_fields_where_there_are_such),
	    cmocka_unit_test(what_is_not_finite_is_left_out),
	    cmocka_unit_test(an_empty_tag_is_written_as_unknown),
	    cmocka_unit_test(a_shot_without_a_time_is_no_line),
	    cmocka_unit_test(tags_and_strings_are_escaped),
	    cmocka_unit_test(a_channel_is_one_line_with_what_is_known),
	    cmocka_unit_test(shots_filed_at_one_instant_have_different_times),
	    cmocka_unit_test(numbers_read_back_bit_for_bit_in_any_locale),
	    cmocka_unit_test(feature_names_are_field_names),
	    cmocka_unit_test(a_device_is_one_line_of_counts),
	    cmocka_unit_test(what_is_not_known_of_a_device_is_left_out),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
