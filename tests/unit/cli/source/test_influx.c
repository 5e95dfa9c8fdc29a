/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is asked of the InfluxDB family, and answers that Debian's InfluxDB 1.6.7 gave to
 * points that were posted by hand. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "cli/source/influx.h"
#include "cli/source/json_lines.h"
#include "daemon/base/error.h"

/* GET /query with chunk_size=2: two revisions of one shot, then another shot.  The first
 * was marked as superseded; the mark of a revision that never came has no shot_no. */
static const char recorded[] =
    "{\"results\":[{\"statement_id\":0,\"series\":[{\"name\":\"shot\",\"columns\":["
    "\"time\",\"current\",\"exit_top_c\",\"filed_us\",\"flags\",\"heat_s\",\"line\","
    "\"loaded_us\",\"lot\",\"material\",\"outcome\",\"reason\",\"recipe\","
    "\"revision\",\"set_up\",\"shot_no\",\"site\",\"superseded\",\"tool\","
    "\"uncertainty_s\"],\"values\":[[1772427600041000000,0,171.2345678,250000,0,61.25,"
    "\"line-3\",-231000000,\"A \\\"1\\\" \\\\x\",\"abs\",\"complete\",\"\",\"12\","
    "\"0\",\"0123456789abcdef\",41,\"works\",1,\"T-117\",0.1],[1772427600041000000,1,"
    "171.2345678,250000,0,61.25,\"line-3\",-231000000,\"A-2\",\"abs\",\"complete\","
    "\"\",\"12\",\"1\",\"0123456789abcdef\",41,\"works\",null,\"T-118\",0.1]],"
    "\"partial\":true}],\"partial\":true}]}\n"
    "{\"results\":[{\"statement_id\":0,\"series\":[{\"name\":\"shot\",\"columns\":["
    "\"time\",\"current\",\"exit_top_c\",\"filed_us\",\"flags\",\"heat_s\",\"line\","
    "\"loaded_us\",\"lot\",\"material\",\"outcome\",\"reason\",\"recipe\","
    "\"revision\",\"set_up\",\"shot_no\",\"site\",\"superseded\",\"tool\","
    "\"uncertainty_s\"],\"values\":[[1772427660042000000,null,null,1,1,null,"
    "\"line-3\",null,\"\",\"unknown\",\"partial\",\"no sag\",\"unknown\",\"0\","
    "\"0123456789abcdef\",42,\"works\",null,\"unknown\",null],[1772427661043000000,0,"
    "null,null,null,null,\"line-3\",null,null,\"abs\",\"complete\",null,\"12\",\"0\","
    "null,null,\"works\",1,\"T-1\",null]]}]}]}\n";

static const char absences[] =
    "{\"results\":[{\"statement_id\":0,\"series\":[{\"name\":\"shot_absent\","
    "\"columns\":[\"time\",\"feature\",\"line\",\"reason\",\"revision\",\"shot_no\","
    "\"site\"],\"values\":[[1772427600041000000,\"exit_top_c\",\"line-3\",\"stale\","
    "\"1\",41,\"works\"],[1772427600041000000,\"sag_s\",\"line-3\","
    "\"not_applicable\",\"1\",41,\"works\"]]}]}]}\n";

typedef int take_document(void *answered, const json_t *document, struct error *error);

/* Feeds it in pieces of `piece` bytes. */
static int
feed(struct answered *answered, take_document *take, const char *bytes, size_t piece,
    struct error *error)
{
	size_t length = strlen(bytes);
	struct json_lines lines;
	int code = 0;

	json_lines_init(&lines, take, answered);
	for (size_t at = 0; at < length && code == 0; at += piece)
		code = json_lines_feed(&lines, bytes + at,
		    length - at < piece ? length - at : piece, error);
	if (code == 0)
		code = json_lines_end(&lines, error);
	json_lines_release(&lines);
	return code;
}

static void
check_shots(const struct answered *answered)
{
	assert_int_equal(answered->harvest.count, 2);
	const struct ledger_shot *first = &answered->harvest.rows[0]->shot;
	const struct ledger_shot *second = &answered->harvest.rows[1]->shot;
	assert_int_equal(first->shot_no, 41);
	assert_int_equal(first->revision, 1);
	assert_int_equal(first->filed_at.ns, INT64_C(1772427600250000000));
	assert_int_equal(first->loaded_at.ns, INT64_C(1772427369000000000));
	assert_int_equal(first->heat_start_at.ns, 0);
	assert_string_equal(first->tool, "T-118");
	assert_string_equal(first->lot, "A-2");
	assert_int_equal(first->outcome, SHOT_COMPLETE);
	assert_true(first->value[FEATURE_EXIT_TOP_C] == 171.2345678);
	assert_int_equal(first->absent[FEATURE_EXIT_TOP_C], ABSENT_NOT);
	assert_int_equal(first->absent[FEATURE_SAG_S], ABSENT_NOT_APPLICABLE);
	assert_int_equal(first->absent[FEATURE_FORM_S], ABSENT_NOT_CONFIGURED);
	assert_int_equal(first->cycle_count, -1);
	assert_string_equal(answered->harvest.rows[0]->set_up, "0123456789abcdef");
	assert_int_equal(second->shot_no, 42);
	assert_string_equal(second->tool, "");
	assert_string_equal(second->recipe, "");
	assert_string_equal(second->reason, "no sag");
	assert_int_equal(second->outcome, SHOT_PARTIAL);
	assert_int_equal(second->flags, SHOT_FLAG_GAP);
}

static void
an_answer_in_pieces_of_any_size_gives_the_current_shots(void **state)
{
	(void)state;
	for (size_t piece = 1; piece < 700; piece += piece < 20 ? 1 : 97) {
		struct answered answered;
		answered_init(&answered);
		assert_int_equal(
		    feed(&answered, influx_take_shots, recorded, piece, NULL), 0);
		assert_false(answered.is_partial);
		assert_int_equal(
		    feed(&answered, influx_take_absences, absences, piece, NULL), 0);
		harvest_finish(&answered.harvest);
		check_shots(&answered);
		answered_release(&answered);
	}
}

static void
an_answer_that_ends_before_its_last_document_is_partial(void **state)
{
	struct answered answered;
	char *first = strdup(recorded);

	(void)state;
	strchr(first, '\n')[1] = '\0';
	answered_init(&answered);
	assert_int_equal(feed(&answered, influx_take_shots, first, 1000, NULL), 0);
	assert_true(answered.is_partial);
	answered_release(&answered);
	free(first);
}

static void
what_is_no_answer_is_refused_with_a_sentence(void **state)
{
	static const struct {
		const char *bytes;
		int code;
		const char *told;
	} bad[] = {
	    {"{\"results\":[{\"statement_id\":0,\"error\":\"database not found: "
	     "plnt\"}]}\n",
		ERROR_NOT_FOUND, "database not found: plnt"},
	    {"{\"error\":\"error parsing query: found FRM\"}", ERROR_REFUSED,
		"found FRM"},
	    {"<html>no</html>", ERROR_REFUSED, "no JSON"},
	    {"{\"results\":", ERROR_REFUSED, "no JSON"},
	    {"[]", ERROR_REFUSED, "not what was asked for"},
	    {"{}", ERROR_REFUSED, "not what was asked for"},
	    {"{\"results\":[{\"series\":[{\"columns\":[\"time\"],\"values\":[[1,2]]}]}]"
	     "}",
		ERROR_REFUSED, "not what was asked for"},
	    {"{\"results\":[{\"series\":[{\"columns\":[\"time\"],\"values\":[[1]]}]}]}",
		ERROR_REFUSED, "not what was asked for"},
	};

	(void)state;
	for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
		struct answered answered;
		struct error error;
		answered_init(&answered);
		assert_int_equal(
		    feed(&answered, influx_take_shots, bad[i].bytes, 7, &error),
		    bad[i].code);
		if (strstr(error.text, bad[i].told) == NULL)
			fail_msg("'%s' is not in '%s'", bad[i].told, error.text);
		answered_release(&answered);
	}
}

static void
events_channels_and_lines_are_read(void **state)
{
	struct answered answered;

	(void)state;
	answered_init(&answered);
	assert_int_equal(
	    feed(&answered, influx_take_events,
		"{\"results\":[{\"statement_id\":0,\"series\":[{\"name\":"
		"\"event\",\"columns\":[\"time\",\"line\",\"kind\",\"text\","
		"\"at_us\"],\"values\":[[1772427000001000000,\"line-3\","
		"\"start\",\"evensoakd 0.1\",12]]}]}]}",
		9, NULL),
	    0);
	assert_int_equal(answered.event_count, 1);
	assert_int_equal(answered.events[0].event.at.ns, INT64_C(1772427000000012000));
	assert_string_equal(answered.events[0].event.kind, "start");
	assert_string_equal(answered.events[0].event.text, "evensoakd 0.1");
	assert_int_equal(
	    feed(&answered, influx_take_lines,
		"{\"results\":[{\"statement_id\":0,\"series\":[{\"name\":\"shot\","
		"\"columns\":[\"key\",\"value\"],\"values\":[[\"line\",\"line-3\"],"
		"[\"line\",\"line-1\"]]}]}]}",
		9, NULL),
	    0);
	answered_sort(&answered);
	assert_int_equal(answered.line_count, 2);
	assert_string_equal(answered.lines[0], "line-1");
	assert_int_equal(
	    feed(&answered, influx_take_channels,
		"{\"results\":[{\"statement_id\":0,\"series\":[{\"name\":"
		"\"shot_channel\",\"columns\":[\"time\",\"channel\",\"coverage\","
		"\"max\","
		"\"mean\",\"role\",\"sd\"],\"values\":[[1,\"water.tool_1\",1,80.5,80,"
		"\"tool\",null]]}]}]}",
		9, NULL),
	    0);
	assert_int_equal(answered.channel_count, 1);
	assert_string_equal(answered.channels[0].device, "water");
	assert_string_equal(answered.channels[0].channel, "tool_1");
	assert_string_equal(answered.channels[0].role, "tool");
	assert_true(answered.channels[0].max == 80.5);
	assert_true(answered.channels[0].sd != answered.channels[0].sd);
	answered_release(&answered);
}

static void
names_of_people_end_no_quotes(void **state)
{
	struct text text;

	(void)state;
	text_init(&text, 1000);
	influx_quote(&text, '\'', "O'Hara\\' OR \"x\"\n");
	assert_string_equal(text.bytes, "'O\\'Hara\\\\\\' OR \"x\"\\n'");
	text_clear(&text);
	influx_quote(&text, '"', "a\"b'c");
	assert_string_equal(text.bytes, "\"a\\\"b'c\"");
	text_release(&text);
}

static void
a_span_is_asked_for_by_line_and_time(void **state)
{
	const struct store_question question = {
	    .site = "works", .label = "", .line = "line-3", .from_s = 10, .to_s = 20};
	struct text form;

	(void)state;
	text_init(&form, 100000);
	influx_dialect.subjects[SUBJECT_SHOTS].ask(&form, &question);
	assert_false(form.failed);
	assert_non_null(strstr(form.bytes, "q=SELECT%20%2A%20FROM%20%22shot%22"));
	assert_non_null(strstr(form.bytes, "%22line%22%20%3D%20%27line-3%27"));
	assert_non_null(strstr(form.bytes, "10000000000"));
	assert_non_null(strstr(form.bytes, "20000000000"));
	assert_non_null(strstr(form.bytes, "&epoch=ns&chunked=true"));
	text_release(&form);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(an_answer_in_pieces_of_any_size_gives_the_current_shots),
	    cmocka_unit_test(an_answer_that_ends_before_its_last_document_is_partial),
	    cmocka_unit_test(what_is_no_answer_is_refused_with_a_sentence),
	    cmocka_unit_test(events_channels_and_lines_are_read),
	    cmocka_unit_test(names_of_people_end_no_quotes),
	    cmocka_unit_test(a_span_is_asked_for_by_line_and_time),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
