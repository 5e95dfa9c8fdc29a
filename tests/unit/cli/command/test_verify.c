/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A store held against the ledger: what is missing, what only seems to be. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include "cli/command/verify.h"
#include "cli/command/verify_view.h"
#include "cli/source/source.h"
#include "daemon/base/text.h"
#include "tests/unit/cli/command/stored.h"

static struct error error;

/* --- pure ----------------------------------------------------------------------------- */

/* Shot n was filed with change n, at second n. */
static void
add(struct verify_list *list, int64_t from, int64_t to, int64_t revision)
{
	for (int64_t no = from; no <= to; no++)
		verify_list_add(list, &(struct verify_shot){no, revision, no,
					  {no * CLOCK_SECOND_NS}, 20});
}

static void
numbers_are(const struct numbers *numbers, const char *expected)
{
	struct text text;

	text_init(&text, 4096);
	numbers_text(numbers, &text);
	assert_string_equal(text.bytes ? text.bytes : "", expected);
	text_release(&text);
}

static void
what_is_there_is_not_missing_in_whatever_order(void **state)
{
	struct verify_list ledger = {0}, store = {0};
	struct verify_day day = {.line = "line-3"};
	const struct verify_terms terms = {.shot_cursor = 1000};

	(void)state;
	add(&ledger, 50, 99, 0);
	add(&ledger, 1, 49, 0);
	add(&store, 1, 30, 0);
	add(&store, 70, 99, 0);
	add(&store, 31, 69, 0);
	assert_true(verify_compare(&day, &ledger, &store, &terms));
	assert_int_equal(day.ledger, 99);
	assert_int_equal(day.store, 99);
	assert_int_equal(day.missing_count + day.alone + day.unsent + day.hidden, 0);
	assert_int_equal(day.first.ns, 0);
	verify_list_release(&ledger);
	verify_list_release(&store);
}

static void
what_is_missing_is_named(void **state)
{
	struct verify_list ledger = {0}, store = {0};
	struct verify_day day = {.line = "line-3"};
	const struct verify_terms terms = {.shot_cursor = 1000};

	(void)state;
	add(&ledger, 800, 820, 0);
	add(&store, 801, 811, 0);
	add(&store, 816, 819, 0);
	add(&store, 900, 901, 0);
	assert_true(verify_compare(&day, &ledger, &store, &terms));
	numbers_are(&day.missing, "800, 812-815, 820");
	numbers_are(&day.earlier, "");
	assert_int_equal(day.missing_count, 6);
	assert_int_equal(day.alone, 2);
	assert_int_equal(day.first.ns, 800 * CLOCK_SECOND_NS);
	verify_day_release(&day);
	verify_list_release(&ledger);
	verify_list_release(&store);
}

static void
an_earlier_revision_is_not_the_shot(void **state)
{
	struct verify_list ledger = {0}, store = {0};
	struct verify_day day = {.line = "line-3"};
	const struct verify_terms terms = {.shot_cursor = 1000};

	(void)state;
	add(&ledger, 1, 4, 0);
	add(&ledger, 5, 9, 2);
	add(&store, 1, 9, 0);
	add(&store, 5, 7, 1);
	add(&store, 7, 9, 2);
	add(&store, 2, 2, 1); /* of a ledger that was restored from an older copy */
	assert_true(verify_compare(&day, &ledger, &store, &terms));
	numbers_are(&day.missing, "");
	numbers_are(&day.earlier, "5-6");
	numbers_are(&day.newer, "2");
	assert_int_equal(day.missing_count, 2);
	assert_int_equal(day.store, 9);
	assert_int_equal(day.alone, 0);
	verify_day_release(&day);
	verify_list_release(&ledger);
	verify_list_release(&store);
}

static void
a_shot_with_fewer_values_is_told(void **state)
{
	struct verify_list ledger = {0}, store = {0};
	struct verify_day day = {.line = "line-3"};
	const struct verify_terms terms = {.shot_cursor = 1000};

	(void)state;
	add(&ledger, 1, 9, 1);
	add(&store, 1, 9, 0);
	add(&store, 1, 9, 1);
	store.shots[9 + 3].values = 19; /* 4, as corrected */
	store.shots[5].values = 0;      /* what 6 was before */
	store.shots[9 + 6].values = 21; /* 7: another release files more */
	assert_true(verify_compare(&day, &ledger, &store, &terms));
	numbers_are(&day.fewer, "4");
	numbers_are(&day.missing, "");
	numbers_are(&day.earlier, "");
	assert_int_equal(day.missing_count, 1);
	assert_int_equal(day.first.ns, 4 * CLOCK_SECOND_NS);
	verify_day_release(&day);
	verify_list_release(&ledger);
	verify_list_release(&store);
}

static void
what_was_not_sent_or_is_not_shown_yet_is_not_missing(void **state)
{
	struct verify_list ledger = {0}, store = {0};
	struct verify_day day = {.line = "line-3"};
	const struct verify_terms terms = {
	    .shot_cursor = 30, .hidden_from = {25 * CLOCK_SECOND_NS}};

	(void)state;
	add(&ledger, 1, 40, 0);
	add(&store, 1, 19, 0);
	add(&store, 31, 33, 0); /* acknowledged, not settled */
	assert_true(verify_compare(&day, &ledger, &store, &terms));
	numbers_are(&day.missing, "20-24");
	assert_int_equal(day.hidden, 6); /* 25 to 30 */
	assert_int_equal(day.unsent, 7); /* 34 to 40 */
	verify_day_release(&day);
	verify_list_release(&ledger);
	verify_list_release(&store);
}

static void
nothing_on_either_side_is_no_trouble(void **state)
{
	struct verify_list none = {0}, other = {0}, store = {0};
	struct verify_day day = {.line = "line-3"};
	const struct verify_terms terms = {.shot_cursor = 1000};

	(void)state;
	assert_true(verify_compare(&day, &none, &other, &terms));
	assert_int_equal(day.ledger + day.store + day.missing_count + day.alone, 0);
	add(&store, 1, 3, 0);
	assert_true(verify_compare(&day, &none, &store, &terms));
	assert_int_equal(day.alone, 3);
	verify_list_release(&store);
}

/* --- from two places -------------------------------------------------------------------- */

enum { SHOTS = 40 };

/* The store is another ledger of the same line, which has not all. */
struct pair {
	struct plant ours, theirs;
	struct ledger_read *ledger, *other;
	struct source *source;
};

static void
put_event(struct plant *plant, int64_t no, const char *kind)
{
	plant_need(ledger_put_event(
		       plant->ledger, "line-3", plant_time(no), kind, "", NULL) == 0,
	    "an event");
}

static void
pair_open(struct pair *pair)
{
	plant_open(&pair->ours);
	plant_open(&pair->theirs);
	plant_run(&pair->ours, 1, SHOTS);
	plant_run(&pair->theirs, 1, 11);
	plant_run(&pair->theirs, 16, SHOTS - 15);
	for (int64_t no = 1; no <= 5; no++)
		put_event(&pair->ours, no, "recipe");
	put_event(&pair->theirs, 1, "recipe");
	put_event(&pair->theirs, 2, "fault"); /* another one at that time */
	put_event(&pair->theirs, 3, "recipe");
	put_event(&pair->theirs, 5, "recipe");
	pair->ledger = ledger_read_open(pair->ours.ledger_path, &error);
	pair->other = ledger_read_open(pair->theirs.ledger_path, &error);
	plant_need(pair->ledger && pair->other, "opening the ledgers");
	pair->source = source_of_ledger(pair->other, pair->theirs.ledger_path, &error);
	plant_need(pair->source != NULL, "a source");
}

static void
pair_close(struct pair *pair)
{
	source_close(pair->source);
	ledger_read_close(pair->ledger);
	ledger_read_close(pair->other);
	plant_close(&pair->ours);
	plant_close(&pair->theirs);
}

static const struct verify_terms all_sent = {
    .shot_cursor = 1000000, .event_cursor = 1000000};

static void
shots_and_events_of_a_span_are_read_and_compared(void **state)
{
	struct pair pair;
	struct verify_day shots = {
	    .from = plant_time(0), .to = plant_time(31), .line = "line-3"};
	struct verify_day events = {
	    .from = plant_time(0), .to = plant_time(31), .events = true};

	(void)state;
	pair_open(&pair);
	assert_int_equal(
	    verify_day_read(&shots, pair.ledger, pair.source, &all_sent, &error), 0);
	assert_int_equal(shots.ledger, 30);
	assert_int_equal(shots.store, 26);
	numbers_are(&shots.missing, "12-15");
	assert_int_equal(shots.first.ns, plant_time(12).ns);
	assert_int_equal(
	    verify_day_read(&events, pair.ledger, pair.source, &all_sent, &error), 0);
	assert_int_equal(events.ledger, 5);
	assert_int_equal(events.store, 4);
	assert_int_equal(events.missing_count, 2); /* 2 and 4 */
	assert_int_equal(events.alone, 1);
	assert_int_equal(events.first.ns, plant_time(2).ns);
	verify_day_release(&shots);
	pair_close(&pair);
}

/* --- told ---------------------------------------------------------------------------------- */

static const struct store_settings victoria = {
    .name = "near", .kind = STORE_VICTORIAMETRICS, .url = "http://127.0.0.1:8428"};

/* Puts three days of a store, in the second of which something may be missing. */
static char *
told(const struct verify_day *second, enum page_format format, bool *missing)
{
	const struct wall start = {PLANT_SHIFT_NS / VERIFY_DAY_NS * VERIFY_DAY_NS};
	struct verified verified = {
	    .store = &victoria, .from = start, .lack = {.refused = 2}};
	char *text = NULL;
	size_t length;
	FILE *out = open_memstream(&text, &length);

	for (int i = 0; i < 3; i++) {
		struct wall from = {start.ns + i * VERIFY_DAY_NS};
		struct wall to = {from.ns + VERIFY_DAY_NS};
		struct verify_day day = {.line = "line-3", .ledger = 480, .store = 480};
		struct verify_day events = {.events = true, .ledger = 7, .store = 7};
		if (i == 1)
			day = *second;
		day.from = events.from = from;
		day.to = events.to = verified.to = to;
		assert_true(verified_add(&verified, &day));
		assert_true(verified_add(&verified, &events));
	}
	struct page *page = page_new(out, format, false, "days");
	assert_non_null(page);
	page_open(page, GROUP_LIST, "stores", NULL);
	*missing = verified_put(page, &verified);
	page_close(page);
	assert_int_equal(page_end(page), 0);
	fclose(out);
	verified_release(&verified);
	return text;
}

static struct verify_day
day_that_lacks(void)
{
	struct verify_day day = {.line = "line-3",
	    .ledger = 480,
	    .store = 474,
	    .missing_count = 7,
	    .unsent = 3,
	    .hidden = 4,
	    .alone = 5,
	    .first = {PLANT_SHIFT_NS + VERIFY_DAY_NS + 250000000}};

	for (int64_t no = 812; no <= 815; no++)
		assert_true(numbers_add(&day.missing, no));
	assert_true(numbers_add(&day.earlier, 830));
	assert_true(numbers_add(&day.earlier, 831));
	assert_true(numbers_add(&day.fewer, 840));
	return day;
}

static void
a_day_that_lacks_something_is_told_with_what_to_do(void **state)
{
	struct verify_day day = day_that_lacks();
	bool missing;
	char *text = told(&day, PAGE_TEXT, &missing);

	(void)state;
	assert_true(missing);
	assert_tells(text, "812-815");
	assert_tells(text, "830-831");
	assert_tells(text, "2026-03-03");
	assert_tells_not(text, "2026-03-04  ");
	/* as the days are: none of them local */
	assert_tells(text, "looked at from  2026-03-02T00:00:00Z");
	assert_says(text, "2 days agree, 1 does not");
	assert_says(text, "store near took and has not: 4 shots, the last correction "
			  "of 2 shots, some "
			  "of the values of 1 shot");
	assert_says(text, "'evensoak resend near --from 2026-03-03T05:00:00Z'");
	assert_says(text, "2 lines that it refused may be among");
	assert_says(text, "not sent yet, and so not missing: 3");
	assert_says(text, "so not missing: 4");
	assert_says(text, "in store near and not in this ledger: 5");
	free(text);
}

static void
machines_get_every_day(void **state)
{
	struct verify_day day = day_that_lacks();
	bool missing;
	char *text = told(&day, PAGE_CSV, &missing);

	(void)state;
	assert_tells(text, "store,day,of,line,ledger,found,missing,missing_shots,"
			   "earlier_shots,fewer_values,not_sent,not_visible,store_"
			   "alone,newer_shots\r\n");
	assert_tells(text, "near,2026-03-02,shots,line-3,480,480,0,,,,0,0,0,\r\n");
	assert_tells(text,
	    "near,2026-03-03,shots,line-3,480,474,7,812-815,830-831,840,3,4,5,\r\n");
	assert_tells(text, "near,2026-03-04,events,,7,7,0,,,,0,0,0,\r\n");
	free(text);
	day = day_that_lacks();
	text = told(&day, PAGE_JSON, &missing);
	assert_tells(text, "\"missing\": 4");
	assert_tells(text, "\"earlier\": 2");
	assert_tells(text, "\"fewer\": 1");
	assert_tells(text, "\"missing_shots\": \"812-815\"");
	free(text);
}

static void
a_ledger_that_lacks_a_correction_is_told(void **state)
{
	struct verify_day day = {
	    .line = "line-3", .ledger = 480, .store = 480, .first = {0}};
	bool wrong;

	(void)state;
	assert_true(numbers_add(&day.newer, 17));
	char *text = told(&day, PAGE_TEXT, &wrong);
	assert_true(wrong);
	assert_tells(text, "corrected later");
	assert_says(
	    text, "store near has a later correction of 1 shot than this ledger");
	assert_says(text, "'evensoak shots --from near' shows it");
	free(text);
}

static void
a_store_that_has_all_is_told_in_one_sentence(void **state)
{
	struct verify_day day = {.line = "line-3", .ledger = 480, .store = 480};
	bool missing;
	char *text = told(&day, PAGE_TEXT, &missing);

	(void)state;
	assert_false(missing);
	assert_says(text, "nothing is missing: 3 days, 1440 shots, 21 events and 0 "
			  "closed shifts in the "
			  "ledger");
	assert_tells_not(text, "resend");
	assert_tells_not(text, "day (UTC)");
	free(text);
}

/* --- the command line ------------------------------------------------------------------------ */

static void
verifying_needs_a_store_and_says_which_there_are(void **state)
{
	struct plant plant;

	(void)state;
	plant_open(&plant);
	plant_run(&plant, 1, 3);
	plant_run_command(&plant, "status", "--verify", "--ledger", plant.ledger_path);
	assert_int_equal(plant.code, COMMAND_USAGE);
	assert_tells(plant.err, "the set-up has no store to look at");
	plant_close(&plant);

	stored_open(&plant, "[store plant]\nurl = http://127.0.0.1:1\ndatabase = a\n");
	plant_run_command(&plant, "status", "--verify", "--ledger", plant.ledger_path);
	assert_int_equal(plant.code, COMMAND_NO);
	assert_tells(plant.err, "there are no shots in '");
	plant_run(&plant, 1, 3);
	plant_run_command(&plant, "status", "--verify", "--store", "plnat", "--ledger",
	    plant.ledger_path);
	assert_int_equal(plant.code, COMMAND_USAGE);
	assert_tells(plant.err, "did you mean 'plant'?");
	plant_run_command(
	    &plant, "status", "--since", "7d", "--ledger", plant.ledger_path);
	assert_int_equal(plant.code, COMMAND_USAGE);
	assert_tells(plant.err, "'status without --verify' takes no '--since'");

	/* where nobody listens */
	plant_run_command(&plant, "status", "--verify", "--from", "2026-03-02", "--to",
	    "2026-03-03", "--ledger", plant.ledger_path);
	assert_int_equal(plant.code, COMMAND_CANNOT);
	assert_tells(plant.out, "cannot be read back: ");
	plant_close(&plant);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(what_is_there_is_not_missing_in_whatever_order),
	    cmocka_unit_test(what_is_missing_is_named),
	    cmocka_unit_test(an_earlier_revision_is_not_the_shot),
	    cmocka_unit_test(a_shot_with_fewer_values_is_told),
	    cmocka_unit_test(what_was_not_sent_or_is_not_shown_yet_is_not_missing),
	    cmocka_unit_test(nothing_on_either_side_is_no_trouble),
	    cmocka_unit_test(shots_and_events_of_a_span_are_read_and_compared),
	    cmocka_unit_test(a_day_that_lacks_something_is_told_with_what_to_do),
	    cmocka_unit_test(machines_get_every_day),
	    cmocka_unit_test(a_ledger_that_lacks_a_correction_is_told),
	    cmocka_unit_test(a_store_that_has_all_is_told_in_one_sentence),
	    cmocka_unit_test(verifying_needs_a_store_and_says_which_there_are),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
