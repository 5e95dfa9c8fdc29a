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
#include "tests/unit/published.h"

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
	    .cycle_count = -1,
	    .uncertainty_s = NAN,
	};
	for (int id = 0; id < FEATURE_COUNT; id++)
		shot.value[id] = NAN;
	shot.value[FEATURE_HEAT_S] = 161.5;
	shot.value[FEATURE_EXIT_TOP_C] = 0.1;
	return shot;
}

static const struct line_protocol_form influx1 = {"pond-works", true, true};
static const struct line_protocol_form influx3 = {"pond-works", true, false};
static const struct line_protocol_form victoria = {"pond-works", false, false};

static void
assert_lines(struct text *text, const char *expected)
{
	assert_false(text->failed);
	assert_string_equal(text->bytes != NULL ? text->bytes : "", expected);
	text_clear(text);
}

static void
assert_shot_line(const struct line_protocol_form *form, const struct ledger_shot *shot,
    const char *expected)
{
	struct text text;

	text_init(&text, 1 << 16);
	line_protocol_shot(&text, form, shot, "");
	assert_lines(&text, expected);
	text_release(&text);
}

static void
each_kind_of_store_has_its_form(void **state)
{
	static const struct {
		enum store_kind kind;
		bool strings, current;
	} cases[] = {
	    {STORE_INFLUXDB1, true, true},
	    {STORE_INFLUXDB2, true, true},
	    {STORE_INFLUXDB3, true, false},
	    {STORE_VICTORIAMETRICS, false, false},
	};
	(void)state;

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		struct line_protocol_form form =
		    line_protocol_form("pond", cases[i].kind);
		assert_string_equal(form.site, "pond");
		assert_int_equal(form.strings, cases[i].strings);
		assert_int_equal(form.current, cases[i].current);
	}
}

#define A_SHOT_TAGS                                                           \
	"shot,site=pond-works,line=line-3,recipe=12,tool=T-117,material=abs," \
	"outcome=complete,revision=0 "

static void
a_shot_is_one_line_with_what_is_known(void **state)
{
	struct ledger_shot shot = a_shot();
	(void)state;

	assert_shot_line(&influx1, &shot,
	    A_SHOT_TAGS "shot_no=1042i,filed_us=123456,flags=0,heat_s=161.5,"
			"exit_top_c=0.1,lot=\"L 9\",current=1 1772427600042000000\n");
	assert_shot_line(&influx3, &shot,
	    A_SHOT_TAGS "shot_no=1042i,filed_us=123456,flags=0,heat_s=161.5,"
			"exit_top_c=0.1,lot=\"L 9\" 1772427600042000000\n");
	assert_shot_line(&victoria, &shot,
	    A_SHOT_TAGS "shot_no=1042i,filed_us=123456,flags=0,heat_s=161.5,"
			"exit_top_c=0.1 1772427600042000000\n");
}

/* Microseconds from the point's second on: before it with a minus. */
static void
times_are_told_to_the_microsecond(void **state)
{
	struct ledger_shot shot = a_shot();
	(void)state;

	shot.loaded_at.ns = INT64_C(1772427000000001000);
	shot.heat_start_at.ns = INT64_C(1772427300999999000);
	shot.heat_end_at.ns = INT64_C(1772427600000000000);
	shot.form_start_at.ns = INT64_C(1772427600123456000);
	shot.form_end_at.ns = INT64_C(1772427700000002000);
	shot.closed_at.ns = INT64_C(1772427800000003000);
	shot.flags = SHOT_FLAG_GAP | SHOT_FLAG_SHORT_FORM;
	shot.cycle_count = 0;
	shot.uncertainty_s = 0.25;
	shot.lot[0] = '\0';
	assert_shot_line(&victoria, &shot,
	    A_SHOT_TAGS "shot_no=1042i,filed_us=123456,loaded_us=-599999999,"
			"heat_start_us=-299000001,heat_end_us=0,form_start_us=123456,"
			"form_end_us=100000002,closed_us=200000003,flags=16385,"
			"cycle_count=0,uncertainty_s=0.25,heat_s=161.5,exit_top_c=0.1 "
			"1772427600042000000\n");
}

/* Texts: a hash has more digits than a float. */
static void
words_are_fields_or_a_point_of_their_own(void **state)
{
	struct ledger_shot shot = a_shot();
	struct text text;
	(void)state;

	text_init(&text, 1 << 16);
	snprintf(shot.side, sizeof(shot.side), "left \"a\"");
	shot.set_points = UINT64_C(0x0123456789abcdef);
	text_copy(shot.properties, sizeof(shot.properties), "abs 2 4c1a09e2");
	text_copy(shot.reason, sizeof(shot.reason), "no = eye");
	line_protocol_shot(&text, &influx3, &shot, "0f0e0d0c0b0a0908");
	assert_lines(&text,
	    A_SHOT_TAGS "shot_no=1042i,filed_us=123456,flags=0,heat_s=161.5,"
			"exit_top_c=0.1,lot=\"L 9\",reason=\"no = eye\","
			"side=\"left \\\"a\\\"\",set_points=\"0123456789abcdef\","
			"properties=\"abs 2 4c1a09e2\",set_up=\"0f0e0d0c0b0a0908\" "
			"1772427600042000000\n");
	line_protocol_words(&text, &influx3, &shot, "0f0e0d0c0b0a0908");
	assert_lines(&text, "");
	line_protocol_words(&text, &victoria, &shot, "0f0e0d0c0b0a0908");
	assert_lines(&text,
	    "shot_words,site=pond-works,line=line-3,revision=0,lot=L\\ 9,"
	    "reason=no\\ \\=\\ eye,side=left\\ \"a\",set_points=0123456789abcdef,"
	    "properties=abs\\ 2\\ 4c1a09e2,set_up=0f0e0d0c0b0a0908 shot_no=1042i "
	    "1772427600042000000\n");
	shot.lot[0] = shot.reason[0] = shot.side[0] = shot.properties[0] = '\0';
	shot.set_points = 0;
	line_protocol_words(&text, &victoria, &shot, "");
	assert_lines(&text,
	    "shot_words,site=pond-works,line=line-3,revision=0 shot_no=1042i "
	    "1772427600042000000\n");
	text_release(&text);
}

static void
what_is_absent_for_a_reason_has_a_point(void **state)
{
	struct ledger_shot shot = a_shot();
	struct text text;
	(void)state;

	text_init(&text, 1 << 16);
	for (int id = 0; id < FEATURE_COUNT; id++)
		shot.absent[id] = ABSENT_NOT_CONFIGURED;
	shot.absent[FEATURE_HEAT_S] = ABSENT_NOT;
	shot.absent[FEATURE_EXIT_TOP_C] = ABSENT_STALE; /* and yet it is there */
	line_protocol_absent(&text, &influx1, &shot);
	assert_lines(&text, "");
	shot.value[FEATURE_HEAT_S] = NAN;
	shot.absent[FEATURE_HEAT_S] = ABSENT_NOT_APPLICABLE;
	shot.revision = 2;
	line_protocol_absent(&text, &influx1, &shot);
	assert_lines(&text,
	    "shot_absent,site=pond-works,line=line-3,revision=2,feature=heat_s,"
	    "reason=not_applicable shot_no=1042i 1772427600042000000\n");
	text_release(&text);
}

/* What was written stays; the point of then gets a field more. */
static void
an_earlier_revision_is_marked_under_its_own_tags(void **state)
{
	const struct ledger_superseded earlier = {
	    .revision = 1, .recipe = "7", .tool = "", .outcome = SHOT_PARTIAL};
	const struct ledger_channel channel = {
	    .device = "ovens", .channel = "zone_top_3", .role = "zone_top"};
	struct ledger_shot shot = a_shot();
	struct text text;
	(void)state;

	text_init(&text, 1 << 16);
	shot.revision = 2;
	line_protocol_mark(&text, &influx1, &shot, &earlier);
	assert_lines(&text,
	    "shot,site=pond-works,line=line-3,recipe=7,tool=unknown,material=unknown,"
	    "outcome=partial,revision=1 superseded=1,current=0 1772427600042000000\n");
	line_protocol_mark(&text, &victoria, &shot, &earlier);
	assert_lines(&text,
	    "shot,site=pond-works,line=line-3,recipe=7,tool=unknown,material=unknown,"
	    "outcome=partial,revision=1 superseded=1 1772427600042000000\n");
	line_protocol_channel_mark(&text, &influx1, &shot, &earlier, &channel);
	assert_lines(&text,
	    "shot_channel,site=pond-works,line=line-3,recipe=7,tool=unknown,"
	    "channel=ovens.zone_top_3,role=zone_top,revision=1 superseded=1,current=0 "
	    "1772427600042000000\n");
	text_release(&text);
}

static void
what_is_not_finite_is_left_out(void **state)
{
	struct ledger_shot shot = a_shot();
	(void)state;

	shot.value[FEATURE_HEAT_S] = INFINITY;
	shot.value[FEATURE_EXIT_TOP_C] = -INFINITY;
	assert_shot_line(&victoria, &shot,
	    A_SHOT_TAGS "shot_no=1042i,filed_us=123456,flags=0 "
			"1772427600042000000\n");
}

static void
an_empty_tag_is_written_as_unknown(void **state)
{
	struct ledger_shot shot = a_shot();
	(void)state;

	shot.recipe[0] = shot.tool[0] = shot.material[0] = shot.lot[0] = '\0';
	shot.outcome = SHOT_PARTIAL;
	assert_shot_line(&influx3, &shot,
	    "shot,site=pond-works,line=line-3,recipe=unknown,tool=unknown,"
	    "material=unknown,outcome=partial,revision=0 shot_no=1042i,filed_us=123456,"
	    "flags=0,heat_s=161.5,exit_top_c=0.1 1772427600042000000\n");
}

static void
a_shot_without_a_time_is_no_line(void **state)
{
	struct ledger_shot shot = a_shot();
	struct text text;
	(void)state;

	text_init(&text, 1 << 16);
	shot.filed_at.ns = 0;
	shot.absent[0] = ABSENT_STALE;
	assert_shot_line(&influx1, &shot, "");
	line_protocol_words(&text, &victoria, &shot, "x");
	line_protocol_absent(&text, &victoria, &shot);
	line_protocol_mark(&text, &victoria, &shot, &(struct ledger_superseded){0});
	assert_lines(&text, "");
	shot.filed_at.ns = -5000;
	assert_shot_line(&influx1, &shot, "");
	shot.filed_at.ns = 999999999;
	assert_shot_line(&influx1, &shot, "");
	text_release(&text);
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
	    {"a\xc2\x9b"
	     "31m\xe2\x80\xaez",
		"a??31m???z", "a??31m???z"},
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
	size_t equal = 0;
	(void)state;

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		struct ledger_event event = {.change = 7, .at = {INT64_C(2000005000)}};
		char expected[256];
		struct text text;
		snprintf(event.line, sizeof(event.line), "%s", cases[i].raw);
		snprintf(event.kind, sizeof(event.kind), "x");
		snprintf(event.text, sizeof(event.text), "%s", cases[i].raw);
		snprintf(expected, sizeof(expected),
		    "event,site=unknown,line=%s,kind=x count=1,at_us=5,text=\"%s\" "
		    "2007000000\n",
		    cases[i].tag, cases[i].string);
		text_init(&text, 4096);
		line_protocol_event(
		    &text, &(struct line_protocol_form){"", true, false}, &event);
		assert_string_equal(text.bytes, expected);
		equal++;
		text_release(&text);
	}
	published(SOURCE_MEMORY_LINE_PROTOCOL, "names and texts escaped as wanted",
	    (double)equal, (double)(sizeof(cases) / sizeof(cases[0])), 0);
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
	line_protocol_channel(&text, &influx1, &shot, &channel);
	assert_lines(&text,
	    "shot_channel,site=pond-works,line=line-3,recipe=12,tool=T-117,"
	    "channel=ovens.zone_top_3,role=zone_top,revision=0 shot_no=1042i,min=0,"
	    "mean=1e-07,max=0.3333333333333333,last=-12345678.5,"
	    "coverage=1,current=1 1772427600042000000\n");

	channel.min = channel.mean = channel.max = channel.last = channel.coverage =
	    NAN;
	line_protocol_channel(&text, &influx1, &shot, &channel);
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
	line_protocol_shot(&first, &influx1, &shot, "");
	shot.shot_no++;
	line_protocol_shot(&second, &influx1, &shot, "");
	assert_string_equal(strrchr(first.bytes, ' '), " 1772427600042000000\n");
	assert_string_equal(strrchr(second.bytes, ' '), " 1772427600043000000\n");
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
		line_protocol_shot(&text, &influx1, &shot, "");
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
	    "material", "outcome", "revision", "shot_no", "filed_us", "loaded_us",
	    "heat_start_us", "heat_end_us", "form_start_us", "form_end_us", "closed_us",
	    "flags", "cycle_count", "uncertainty_s", "lot", "reason", "side",
	    "set_points", "properties", "set_up", "current", "superseded"};
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

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(each_kind_of_store_has_its_form),
	    cmocka_unit_test(a_shot_is_one_line_with_what_is_known),
	    cmocka_unit_test(times_are_told_to_the_microsecond),
	    cmocka_unit_test(words_are_fields_or_a_point_of_their_own),
	    cmocka_unit_test(what_is_absent_for_a_reason_has_a_point),
	    cmocka_unit_test(an_earlier_revision_is_marked_under_its_own_tags),
	    cmocka_unit_test(what_is_not_finite_is_left_out),
	    cmocka_unit_test(an_empty_tag_is_written_as_unknown),
	    cmocka_unit_test(a_shot_without_a_time_is_no_line),
	    cmocka_unit_test(tags_and_strings_are_escaped),
	    cmocka_unit_test(a_channel_is_one_line_with_what_is_known),
	    cmocka_unit_test(shots_filed_at_one_instant_have_different_times),
	    cmocka_unit_test(numbers_read_back_bit_for_bit_in_any_locale),
	    cmocka_unit_test(feature_names_are_field_names),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
