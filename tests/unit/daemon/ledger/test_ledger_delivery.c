/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How far a destination has what is on file, and setting it back. */
#include "daemon/ledger/ledger.h"

#include "tests/unit/daemon/ledger/counting_vfs.h"
#include "tests/unit/daemon/ledger/ledger_pair.h"

static struct ledger_delivered
delivered(const char *destination, const char *stream)
{
	struct ledger_delivered delivered = {-1, -1, -1, {-1}};

	assert_int_equal(
	    ledger_delivered(ledger, destination, stream, &delivered, &error), 0);
	return delivered;
}

static int
move(const char *stream, int64_t change, int64_t turn)
{
	return ledger_set_delivered(ledger, "plant", stream,
	    &(struct ledger_delivered){
		.change = change, .turn = turn, .lost = 7, .at = seconds(5)},
	    &error);
}

static void
put_event(struct wall at)
{
	assert_int_equal(
	    ledger_put_event(ledger, "line-1", at, "start", "x", &error), 0);
}

static void
a_destination_has_nothing_at_first_and_then_what_was_said(void **state)
{
	(void)state;

	assert_int_equal(delivered("plant", "shot").change, 0);
	assert_int_equal(delivered("plant", "shot").turn, 0);
	assert_int_equal(delivered("plant", "shot").at.ns, 0);
	assert_int_equal(move("shot", 3, 0), 0);
	assert_int_equal(move("shot", 2, 0), 0); /* it may step back by itself */
	struct ledger_delivered said = delivered("plant", "shot");
	assert_int_equal(said.change, 2);
	assert_int_equal(said.turn, 0);
	assert_int_equal(said.lost, 7);
	assert_int_equal(said.at.ns, seconds(5).ns);
	assert_int_equal(delivered("plant", "event").change, 0);
	assert_int_equal(delivered("other", "shot").change, 0);
}

static void
a_destination_lacks_the_shots_beyond_its_cursor(void **state)
{
	int64_t shots = -1, refused = -1;
	(void)state;

	write_shots(0, 1, 5);
	assert_int_equal(move("shot", 3, 0), 0);
	assert_int_equal(move("event", 9, 0), 0);
	assert_int_equal(
	    ledger_read_backlog(reader, "plant", &shots, &refused, &error), 0);
	assert_int_equal(shots, 2);
	assert_int_equal(refused, 0);
	assert_int_equal(
	    ledger_read_backlog(reader, "new", &shots, &refused, &error), 0);
	assert_int_equal(shots, 5);
}

static void
a_cursor_of_an_earlier_turn_is_refused_and_changes_nothing(void **state)
{
	int64_t shots, events;
	(void)state;

	write_shots(0, 1, 5);
	assert_int_equal(move("shot", 5, 0), 0);
	assert_int_equal(
	    ledger_set_back(ledger, "plant", fixture_time(3), &shots, &events, &error),
	    0);
	assert_int_equal(move("shot", 5, 0), ERROR_BUSY); /* what was under way */
	assert_non_null(strstr(error.text, "'plant' was set back meanwhile"));
	assert_int_equal(delivered("plant", "shot").change, 2);
	assert_int_equal(delivered("plant", "shot").at.ns, seconds(5).ns);
	assert_int_equal(move("shot", 4, 1), 0);
	assert_int_equal(delivered("plant", "shot").change, 4);
	assert_int_equal(move("shot", 5, 2), ERROR_BUSY); /* there was no such turn */
	assert_int_equal(move("reading", 1, 1), ERROR_BUSY);
	assert_int_equal(delivered("plant", "reading").change, 0);
}

static void
set_back_to_a_time_all_from_then_on_goes_out_again(void **state)
{
	int64_t shots = -1, events = -1;
	(void)state;

	write_shots(0, 1, 3);       /* changes 1 to 3 */
	put_event(fixture_time(2)); /* 4 */
	write_shots(1, 3, 5);       /* 5 to 7 */
	put_event(fixture_time(6)); /* 8 */
	assert_int_equal(move("shot", 8, 0), 0);
	assert_int_equal(move("event", 8, 0), 0);
	assert_int_equal(
	    ledger_set_back(ledger, "plant", fixture_time(3), &shots, &events, &error),
	    0);
	/* Shot 3 of the first line and all of the second; of the events the last. */
	assert_int_equal(shots, 4);
	assert_int_equal(events, 1);
	assert_int_equal(delivered("plant", "shot").change, 2);
	assert_int_equal(delivered("plant", "event").change, 7);
	assert_int_equal(delivered("plant", "shot").turn, 1);
	assert_int_equal(delivered("plant", "event").turn, 1);
	assert_int_equal(delivered("plant", "shot").lost, 7);
	assert_int_equal(delivered("other", "shot").turn, 0);

	/* To the beginning. */
	assert_int_equal(
	    ledger_set_back(ledger, "plant", seconds(0), &shots, &events, &error), 0);
	assert_int_equal(shots, 6);
	assert_int_equal(events, 2);
	assert_int_equal(delivered("plant", "shot").turn, 2);
}

static void
a_shot_relabelled_since_counts_by_its_time_too(void **state)
{
	const struct ledger_entry entry = {
	    "line-1", CONTEXT_TOOL, "T-1", fixture_time(1), seconds(99999)};
	int64_t shots = -1, events = -1, relabelled;
	(void)state;

	write_shots(0, 1, 4);
	assert_int_equal(ledger_put_context(ledger, &entry, &relabelled, &error), 0);
	assert_int_equal(move("shot", 8, 0), 0);
	/* Shots 3 and 4 have changes 7 and 8 now. */
	assert_int_equal(
	    ledger_set_back(ledger, "plant", fixture_time(3), &shots, &events, &error),
	    0);
	assert_int_equal(shots, 2);
	assert_int_equal(delivered("plant", "shot").change, 6);
}

static void
setting_back_never_moves_forward(void **state)
{
	int64_t shots = -1, events = -1;
	(void)state;

	write_shots(0, 1, 5);
	assert_int_equal(move("shot", 1, 0), 0);
	assert_int_equal(
	    ledger_set_back(ledger, "plant", fixture_time(4), &shots, &events, &error),
	    0);
	assert_int_equal(shots, 4);
	assert_int_equal(delivered("plant", "shot").change, 1);
	/* Nothing is that new, and nothing was sent to it ever. */
	assert_int_equal(
	    ledger_set_back(ledger, "other", fixture_time(9), &shots, &events, &error),
	    0);
	assert_int_equal(shots, 5);
	assert_int_equal(events, 0);
	assert_int_equal(delivered("other", "shot").change, 0);
}

static void
what_goes_out_again_is_refused_no_more(void **state)
{
	const struct ledger_refusal refusals[] = {
	    {"plant", 2, "shot a", "no", seconds(1)},
	    {"plant", 4, "shot b", "no", seconds(1)},
	    {"other", 4, "shot b", "no", seconds(1)},
	};
	int64_t shots, events, refused = -1;
	(void)state;

	write_shots(0, 1, 5);
	assert_int_equal(move("shot", 5, 0), 0);
	assert_int_equal(move("event", 5, 0), 0);
	for (int i = 0; i < 3; i++)
		assert_int_equal(ledger_put_refusal(ledger, &refusals[i], &error), 0);
	assert_int_equal(
	    ledger_set_back(ledger, "plant", fixture_time(3), &shots, &events, &error),
	    0);
	assert_int_equal(
	    ledger_read_backlog(reader, "plant", &shots, &refused, &error), 0);
	assert_int_equal(refused, 1);
	assert_int_equal(shots, 3);
	assert_int_equal(
	    ledger_read_backlog(reader, "other", &shots, &refused, &error), 0);
	assert_int_equal(refused, 1);
}

static void
a_refused_line_is_kept_once_with_the_last_answer(void **state)
{
	int64_t shots, refused;
	(void)state;

	const struct ledger_refusal refusals[] = {
	    {"plant", 4, "shot,site=x heat_s=1 1", "first", seconds(0)},
	    {"plant", 4, "shot,site=x heat_s=1 1", "field type conflict", seconds(1)},
	    {"plant", 5, "y", "z", seconds(0)},
	};
	for (size_t i = 0; i < sizeof refusals / sizeof refusals[0]; i++)
		assert_int_equal(ledger_put_refusal(ledger, &refusals[i], &error), 0);
	assert_int_equal(
	    ledger_read_backlog(reader, "plant", &shots, &refused, &error), 0);
	assert_int_equal(refused, 2);
	assert_int_equal(sql_integer("SELECT count(*) FROM refusal WHERE change = 4"
				     " AND answer = 'field type conflict'"),
	    1);
}

static int64_t
refused_lines(const char *destination)
{
	int64_t shots, refused = -1;

	assert_int_equal(
	    ledger_read_backlog(reader, destination, &shots, &refused, &error), 0);
	return refused;
}

static void
refused_lines_of_what_is_no_longer_on_file_stay(void **state)
{
	const struct ledger_refusal refusals[] = {
	    {"plant", 1, "shot a", "no", seconds(1)},
	    {"plant", 2, "shot b", "no", seconds(1)},
	    {"plant", 6, "event c", "no", seconds(1)},
	};
	int64_t shots, events;
	(void)state;

	write_shots(0, 1, 5);
	put_event(fixture_time(1)); /* 6 */
	assert_int_equal(move("shot", 6, 0), 0);
	assert_int_equal(move("event", 6, 0), 0);
	assert_int_equal(ledger_put_refusals(ledger, refusals, 3, &error), 0);
	sql_run(
	    "DELETE FROM absent WHERE shot = 1;"
	    "DELETE FROM shot_channel WHERE shot = 1; DELETE FROM shot WHERE id = 1");
	/* The event is from before that time, whatever its change number. */
	assert_int_equal(
	    ledger_set_back(ledger, "plant", fixture_time(2), &shots, &events, &error),
	    0);
	assert_int_equal(shots, 4);
	assert_int_equal(events, 0);
	assert_int_equal(refused_lines("plant"), 2);
	assert_int_equal(
	    sql_integer("SELECT count(*) FROM refusal WHERE change = 2"), 0);
	assert_int_equal(
	    ledger_set_back(ledger, "plant", seconds(0), &shots, &events, &error), 0);
	assert_int_equal(refused_lines("plant"), 1); /* of the shot that is gone */
}

static void
a_shot_labelled_anew_is_refused_no_more(void **state)
{
	const struct ledger_entry entry = {
	    "line-1", CONTEXT_TOOL, "T-1", fixture_time(2), seconds(99999)};
	const struct ledger_refusal refusals[] = {
	    {"plant", 1, "shot a", "no", seconds(1)},
	    {"plant", 2, "shot b", "no", seconds(1)},
	    {"other", 2, "shot b", "no", seconds(1)},
	};
	int64_t relabelled;
	(void)state;

	write_shots(0, 1, 2);
	assert_int_equal(ledger_put_refusals(ledger, refusals, 3, &error), 0);
	assert_int_equal(ledger_put_context(ledger, &entry, &relabelled, &error), 0);
	assert_int_equal(relabelled, 1); /* shot 2 goes out anew */
	assert_int_equal(refused_lines("plant"), 1);
	assert_int_equal(refused_lines("other"), 0);
}

static void
many_refused_lines_wait_for_the_disk_not_once(void **state)
{
	enum { MANY = 500 };
	static struct ledger_refusal list[MANY];
	static char lines[MANY][32];
	(void)state;

	write_shots(0, 1, 1);
	for (int i = 0; i < MANY; i++) {
		snprintf(lines[i], sizeof lines[i], "shot a=%d", i);
		list[i] =
		    (struct ledger_refusal){"plant", 1, lines[i], "no", seconds(1)};
	}
	counted.syncs = 0;
	assert_int_equal(ledger_put_refusals(ledger, list, MANY, &error), 0);
	assert_int_equal(ledger_put_refusal(ledger, &list[0], &error), 0);
	assert_int_equal(counted.syncs, 0);
	assert_int_equal(refused_lines("plant"), MANY);
	/* All or none. */
	list[1].line = NULL;
	assert_int_not_equal(ledger_put_refusals(ledger, list, MANY, &error), 0);
	assert_int_equal(refused_lines("plant"), MANY);
	write_shots(0, 2, 2);
	assert_true(counted.syncs > 0); /* what is counted comes about */
}

static void
the_newest_hundred_thousand_refused_lines_are_kept(void **state)
{
	const struct ledger_refusal more[] = {
	    {"plant", 2, "shot a", "no", seconds(1)},
	    {"plant", 2, "shot b", "no", seconds(1)},
	};
	(void)state;

	sql_run(
	    "WITH RECURSIVE n (i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE"
	    " i < 100000) INSERT INTO refusal (destination, change, line, answer, at)"
	    " SELECT 'plant', 1, 'shot ' || i, 'no', 1 FROM n");
	assert_int_equal(ledger_put_refusals(ledger, more, 2, &error), 0);
	assert_int_equal(refused_lines("plant"), LEDGER_REFUSALS_MOST);
	assert_int_equal(
	    sql_integer("SELECT count(*) FROM refusal WHERE line IN ('shot 1',"
			" 'shot 2', 'shot 3', 'shot a', 'shot b')"),
	    3);
}

/* --- a ledger that has lost its newest rows -------------------------------------------- */

static int
count_one(void *arg, const struct ledger_shot *shot)
{
	(void)shot;
	++*(int *)arg;
	return 0;
}

static void
what_is_filed_after_a_loss_still_goes_out(void **state)
{
	int lacking = 0;
	(void)state;

	write_shots(0, 1, 8);
	put_event(fixture_time(8)); /* 9 */
	assert_int_equal(move("shot", 8, 0), 0);
	assert_int_equal(move("event", 9, 0), 0);
	assert_int_equal(move("reading", 5000, 0), 0); /* another numbering */
	sql_run(
	    "DELETE FROM absent WHERE shot > 3; DELETE FROM event;"
	    "DELETE FROM shot_channel WHERE shot > 3; DELETE FROM shot WHERE id > 3");
	write_shots(0, 1001, 1002);
	put_event(fixture_time(9));
	assert_int_equal(
	    ledger_read_shots(reader, &(struct ledger_filter){.after_change = 8}, false,
		count_one, &lacking, &error),
	    0);
	assert_int_equal(lacking, 2);
	assert_int_equal(sql_integer("SELECT min(change) FROM shot WHERE id > 3"), 10);
	assert_int_equal(sql_integer("SELECT change FROM event"), 12);
}

/* Of the program of [notify] too: it has no store, and perhaps there is none at all. */
static void
what_is_filed_after_a_loss_is_still_told(void **state)
{
	const struct ledger_delivered told = {.change = 1000000, .at = seconds(5)};
	(void)state;

	assert_int_equal(
	    ledger_set_delivered(ledger, "[notify]", "notice", &told, &error), 0);
	put_event(fixture_time(1));
	assert_int_equal(sql_integer("SELECT change FROM event"), 1000001);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    TEST(a_destination_has_nothing_at_first_and_then_what_was_said),
	    TEST(a_destination_lacks_the_shots_beyond_its_cursor),
	    TEST(a_cursor_of_an_earlier_turn_is_refused_and_changes_nothing),
	    TEST(set_back_to_a_time_all_from_then_on_goes_out_again),
	    TEST(a_shot_relabelled_since_counts_by_its_time_too),
	    TEST(setting_back_never_moves_forward),
	    TEST(what_goes_out_again_is_refused_no_more),
	    TEST(a_refused_line_is_kept_once_with_the_last_answer),
	    TEST(refused_lines_of_what_is_no_longer_on_file_stay),
	    TEST(a_shot_labelled_anew_is_refused_no_more),
	    TEST(many_refused_lines_wait_for_the_disk_not_once),
	    TEST(the_newest_hundred_thousand_refused_lines_are_kept),
	    TEST(what_is_filed_after_a_loss_still_goes_out),
	    TEST(what_is_filed_after_a_loss_is_still_told),
	};

	if (counting_vfs_register() != SQLITE_OK)
		return 1;
	return cmocka_run_group_tests_name("ledger, delivery", tests, NULL, NULL);
}
