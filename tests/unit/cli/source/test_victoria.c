/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is asked of VictoriaMetrics, and what its 1.79.5 of Debian exported of points that
 * were posted by hand. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "cli/source/json_lines.h"
#include "cli/source/victoria.h"
#include "daemon/base/error.h"
#include "tests/unit/seed.h"

#define SHOT_1                                                           \
	"\"db\":\"plant\",\"line\":\"line-3\",\"material\":\"abs\","     \
	"\"outcome\":\"complete\",\"recipe\":\"12\",\"revision\":\"1\"," \
	"\"site\":\"works\",\"tool\":\"T-118\"}"
#define SHOT_0                                                           \
	"\"db\":\"plant\",\"line\":\"line-3\",\"material\":\"abs\","     \
	"\"outcome\":\"complete\",\"recipe\":\"12\",\"revision\":\"0\"," \
	"\"site\":\"works\",\"tool\":\"T-117\"}"

/* In any order: it has none. */
static const char *const recorded[] = {
    "{\"metric\":{\"__name__\":\"shot_exit_top_c\"," SHOT_1
    ",\"values\":[171.2345678],\"timestamps\":[1772427600041]}\n",
    "{\"metric\":{\"__name__\":\"shot_shot_no\"," SHOT_1
    ",\"values\":[41],\"timestamps\":[1772427600041]}\n",
    "{\"metric\":{\"__name__\":\"shot_shot_no\"," SHOT_0
    ",\"values\":[41,43],\"timestamps\":[1772427600041,1772427720043]}\n",
    "{\"metric\":{\"__name__\":\"shot_filed_us\"," SHOT_1
    ",\"values\":[250000],\"timestamps\":[1772427600041]}\n",
    "{\"metric\":{\"__name__\":\"shot_filed_us\"," SHOT_0
    ",\"values\":[250000,999999],\"timestamps\":[1772427600041,1772427720043]}\n",
    "{\"metric\":{\"__name__\":\"shot_exit_top_c\"," SHOT_0
    ",\"values\":[170,169],\"timestamps\":[1772427600041,1772427720043]}\n",
    "{\"metric\":{\"__name__\":\"shot_loaded_us\"," SHOT_1
    ",\"values\":[-231000000],\"timestamps\":[1772427600041]}\n",
    "{\"metric\":{\"__name__\":\"shot_absent_shot_no\",\"db\":\"plant\",\"feature\":"
    "\"sag_s\",\"line\":\"line-3\",\"reason\":\"not_applicable\",\"revision\":\"1\","
    "\"site\":\"works\"},\"values\":[41],\"timestamps\":[1772427600041]}\n",
    "{\"metric\":{\"__name__\":\"shot_words_shot_no\",\"db\":\"plant\",\"line\":"
    "\"line-3\",\"lot\":\"A-2\",\"revision\":\"1\",\"set_up\":\"0123456789abcdef\","
    "\"site\":\"works\"},\"values\":[41],\"timestamps\":[1772427600041]}\n",
};
enum { RECORDED = sizeof recorded / sizeof recorded[0] };

static int
feed(struct answered *answered, const char *bytes, struct error *error)
{
	struct json_lines lines;

	json_lines_init(&lines, victoria_take_shots, answered);
	int code = json_lines_feed(&lines, bytes, strlen(bytes), error);
	if (code == 0)
		code = json_lines_end(&lines, error);
	json_lines_release(&lines);
	return code;
}

static void
series_in_any_order_give_the_current_shots(void **state)
{
	(void)state;
	srand48((long)seed_take(6));
	for (int round = 0; round < 200; round++) {
		const char *order[RECORDED];
		struct answered answered;
		memcpy(order, recorded, sizeof order);
		answered_init(&answered);
		for (size_t left = RECORDED; left > 0; left--) {
			size_t at = (size_t)lrand48() % left;
			assert_int_equal(feed(&answered, order[at], NULL), 0);
			order[at] = order[left - 1];
		}
		harvest_finish(&answered.harvest);
		assert_int_equal(answered.harvest.count, 2);
		const struct harvest_row *row = answered.harvest.rows[0];
		assert_int_equal(row->shot.shot_no, 41);
		assert_int_equal(row->shot.revision, 1);
		assert_int_equal(row->shot.filed_at.ns, INT64_C(1772427600250000000));
		assert_int_equal(row->shot.loaded_at.ns, INT64_C(1772427369000000000));
		assert_string_equal(row->shot.tool, "T-118");
		assert_string_equal(row->shot.lot, "A-2");
		assert_string_equal(row->shot.reason, "");
		assert_string_equal(row->set_up, "0123456789abcdef");
		assert_int_equal(row->shot.outcome, SHOT_COMPLETE);
		assert_true(row->shot.value[FEATURE_EXIT_TOP_C] == 171.2345678);
		assert_int_equal(
		    row->shot.absent[FEATURE_SAG_S], ABSENT_NOT_APPLICABLE);
		assert_int_equal(answered.harvest.rows[1]->shot.shot_no, 43);
		assert_int_equal(answered.harvest.rows[1]->shot.filed_at.ns,
		    INT64_C(1772427720999999000));
		answered_release(&answered);
	}
}

static void
what_is_no_export_is_refused(void **state)
{
	static const char *const bad[] = {
	    "{\"metric\":{\"__name__\":\"shot_x\"},\"values\":[Inf],\"timestamps\":[1]}"
	    "\n",
	    "{\"metric\":{\"__name__\":\"shot_x\"},\"values\":[1],\"timestamps\":[]}\n",
	    "{\"metric\":{},\"values\":[1],\"timestamps\":[1]}\n",
	    "{\"metric\":{\"__name__\":\"up\"},\"values\":[1],\"timestamps\":[1]}\n",
	    "remoteAddr: cannot parse\n",
	    "{\"status\":\"error\"}",
	};

	(void)state;
	for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
		struct answered answered;
		struct error error;
		answered_init(&answered);
		assert_int_equal(feed(&answered, bad[i], &error), ERROR_REFUSED);
		answered_release(&answered);
	}
}

static void
more_shots_than_fit_are_told(void **state)
{
	struct answered answered;
	struct text line;
	struct error error;

	(void)state;
	text_init(&line, 1 << 20);
	text_puts(&line, "{\"metric\":{\"__name__\":\"shot_shot_no\"},\"values\":[1");
	for (int i = 0; i < HARVEST_MOST; i++)
		text_puts(&line, ",1");
	text_puts(&line, "],\"timestamps\":[1");
	for (int i = 0; i < HARVEST_MOST; i++)
		text_printf(&line, ",%d", i + 2);
	text_puts(&line, "]}");
	answered_init(&answered);
	assert_int_equal(feed(&answered, line.bytes, &error), ERROR_FULL);
	assert_int_equal(answered.harvest.count, HARVEST_MOST);
	answered_release(&answered);
	text_release(&line);
}

static void
a_selector_quotes_its_names(void **state)
{
	const struct store_question question = {.site = "wo\"r\\ks",
	    .label = "plant",
	    .line = "line-3",
	    .from_s = 10,
	    .to_s = 20,
	    .reasons = true};
	struct text text;

	(void)state;
	text_init(&text, 100000);
	victoria_add_label(&text, "site", "wo\"r\\ks\n");
	assert_string_equal(text.bytes, ",site=\"wo\\\"r\\\\ks\\n\"");
	text_clear(&text);
	victoria_dialect.subjects[SUBJECT_SHOTS].ask(&text, &question);
	assert_false(text.failed);
	assert_non_null(strstr(text.bytes, "match%5B%5D="));
	assert_non_null(strstr(text.bytes, "wo%5C%22r%5C%5Cks"));
	assert_non_null(strstr(text.bytes, "&start=10&end=19.999"));
	text_release(&text);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(series_in_any_order_give_the_current_shots),
	    cmocka_unit_test(what_is_no_export_is_refused),
	    cmocka_unit_test(more_shots_than_fit_are_told),
	    cmocka_unit_test(a_selector_quotes_its_names),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
