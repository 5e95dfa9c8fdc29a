/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Traces of shots, sheets in flight, lots. */
#include "daemon/ledger/ledger.h"

#include "tests/unit/daemon/ledger/ledger_pair.h"

/* --- traces -------------------------------------------------------------------------- */

static int64_t
id_of(int64_t shot_no)
{
	const struct shots *shots =
	    read_shots((struct ledger_filter){.line = "line-1", .shot_no = shot_no});

	assert_int_equal(shots->count, 1);
	return shots->list[0].id;
}

static size_t
trace_bytes_of(int64_t shot_no)
{
	void *bytes = &fixture;
	size_t count = 99;

	assert_int_equal(
	    ledger_read_trace(reader, id_of(shot_no), &bytes, &count, &error), 0);
	assert_true((bytes != NULL) == (count != 0));
	free(bytes);
	return count;
}

static void
a_trace_comes_back_byte_for_byte(void **state)
{
	static const size_t sizes[] = {1, 500, 2048, 20000, 300000};
	(void)state;

	for (int i = 0; i < 5; i++) {
		void *bytes = NULL;
		size_t count = 0;
		fixture.trace_bytes = sizes[i];
		struct shot *shot = fixture_shot(&fixture, 0, i + 1);
		assert_int_equal(
		    ledger_put_shot(ledger, &fixture.settings, shot, &error), 0);
		assert_int_equal(
		    ledger_read_trace(reader, id_of(i + 1), &bytes, &count, &error), 0);
		assert_int_equal(count, sizes[i]);
		assert_memory_equal(bytes, shot->trace, count);
		free(bytes);
		shot_free(shot);
	}
}

static void
a_shot_without_a_trace_has_none(void **state)
{
	void *bytes = &fixture;
	size_t count = 99;
	(void)state;

	write_shots(0, 1, 1);
	assert_int_equal(trace_bytes_of(1), 0);
	assert_int_equal(sql_integer("SELECT count(*) FROM trace"), 0);
	assert_int_equal(ledger_read_trace(reader, 4711, &bytes, &count, &error), 0);
	assert_null(bytes);
	assert_int_equal(count, 0);
	int64_t setup = 99;
	assert_int_equal(ledger_read_trace_setup(reader, id_of(1), &setup, &error), 0);
	assert_int_equal(setup, 0);
}

static void
writing_a_shot_again_leaves_its_trace(void **state)
{
	(void)state;

	fixture.trace_bytes = 700;
	write_shots(0, 1, 1);
	fixture.trace_bytes = 900;
	write_shots(0, 1, 1);
	assert_int_equal(trace_bytes_of(1), 700);
	assert_int_equal(sql_integer("SELECT count(*) FROM trace"), 1);
}

/* Many shots, without waiting for the disk. */
static void
write_many(uint32_t line, int64_t first, int64_t last)
{
	assert_int_equal(ledger_set_hasty(ledger, true, &error), 0);
	write_shots(line, first, last);
	assert_int_equal(ledger_set_hasty(ledger, false, &error), 0);
}

/* How many calls it takes. */
static int
forget_before(struct wall before)
{
	bool more = true;
	int calls = 0;

	while (more) {
		int64_t there = sql_integer("SELECT count(*) FROM trace");
		assert_int_equal(
		    ledger_forget_traces(ledger, before, &more, &error), 0);
		assert_true(there - sql_integer("SELECT count(*) FROM trace") <= 200);
		assert_true(++calls < 100);
	}
	return calls;
}

static void
traces_are_forgotten_by_time_in_pieces(void **state)
{
	(void)state;

	fixture.trace_bytes = 100;
	write_many(0, 1, 10);
	fixture.trace_bytes = 0;
	write_many(0, 11, 20); /* without */
	fixture.trace_bytes = 100;
	write_many(1, 1, 450);
	write_many(0, 21, 450);
	/* The last two of the first line are older than their numbers tell. */
	for (int64_t no = 451; no <= 452; no++) {
		struct shot *shot = fixture_shot(&fixture, 0, no);
		shot->form_start_at = fixture_time(3);
		write_shot_and_free(shot);
	}
	assert_int_equal(forget_before(fixture_time(1)), 1); /* nothing is that old */
	assert_int_equal(sql_integer("SELECT count(*) FROM trace"), 440 + 450 + 2);

	assert_int_equal(forget_before(fixture_time(401)), 4); /* 392 + 400 of them */
	assert_int_equal(sql_integer("SELECT count(*) FROM trace"), 50 + 50);
	assert_int_equal(
	    sql_integer("SELECT min(filed_at) FROM shot JOIN trace ON shot = shot.id"),
	    fixture_time(401).ns);
	assert_int_equal(sql_integer("SELECT count(*) FROM shot"), 902);
	assert_int_equal(trace_bytes_of(400), 0);
	assert_int_equal(trace_bytes_of(401), 100);
	assert_int_equal(forget_before(fixture_time(1000)), 1);
	assert_int_equal(sql_integer("SELECT count(*) FROM trace"), 0);
	assert_int_equal(forget_before(fixture_time(1000)), 1);
}

static int64_t
file_pages(void)
{
	assert_int_equal(ledger_checkpoint(ledger, &error), 0);
	return sql_integer("PRAGMA page_count");
}

static void
the_space_of_forgotten_traces_is_used_again(void **state)
{
	enum { DAY = 100, DAYS = 8 };
	int64_t pages[DAYS];
	(void)state;

	fixture.trace_bytes = 20000;
	for (int day = 0; day < DAYS; day++) {
		write_many(0, day * DAY + 1, (day + 1) * DAY);
		forget_before(fixture_time((day - 1) * DAY + 1));
		pages[day] = file_pages();
	}
	/* Two days are kept, a third while it is written; what still grows are the shots
	 * themselves: far less than the 1000 pages of a day's traces. */
	assert_in_range(pages[DAYS - 1] - pages[DAYS - 2], 0, 600);
	assert_in_range(pages[DAYS - 1] - pages[2], 0, 600 * (DAYS - 3));
	assert_true(pages[2] > 3000);
}

/* --- sheets in flight ------------------------------------------------------------------ */

static void
assert_in_flight(const char *line, const char *expected)
{
	void *bytes = &fixture;
	size_t count = 99;

	assert_int_equal(ledger_in_flight(ledger, line, &bytes, &count, &error), 0);
	assert_int_equal(count, strlen(expected));
	if (count == 0)
		assert_null(bytes);
	else
		assert_memory_equal(bytes, expected, count);
	free(bytes);
}

static void
put_in_flight(const char *line, const char *bytes, int64_t at_s)
{
	if (ledger_put_in_flight(
		ledger, line, bytes, strlen(bytes), seconds(at_s), &error) != 0)
		fail_msg("%s", error.text);
}

static void
the_sheets_of_a_line_are_those_that_were_put_last(void **state)
{
	(void)state;

	assert_in_flight("line-1", "");
	put_in_flight("line-1", "sheets 1, 2", 1);
	put_in_flight("line-2", "others", 2);
	assert_in_flight("line-1", "sheets 1, 2");
	put_in_flight("line-1", "2, 3 and 4", 3);
	assert_in_flight("line-1", "2, 3 and 4");
	assert_in_flight("line-2", "others");
	assert_int_equal(sql_integer("SELECT count(*) FROM in_flight"), 2);
	assert_int_equal(sql_integer("SELECT max(at) FROM in_flight"), seconds(3).ns);
	put_in_flight("line-1", "", 4); /* none stand there any more */
	assert_in_flight("line-1", "");
	assert_in_flight("line-2", "others");
}

static void
the_sheets_of_an_unknown_line_are_refused_and_none(void **state)
{
	(void)state;

	assert_int_equal(
	    ledger_put_in_flight(ledger, "line-9", "x", 1, seconds(1), &error),
	    ERROR_NOT_FOUND);
	assert_non_null(strstr(error.text, "line-9"));
	assert_in_flight("line-9", "");
	write_shots(0, 1, 1); /* the ledger is none the worse */
}

/* --- lots ------------------------------------------------------------------------------- */

static int
put_lot(const char *name, double thickness_m, double stack_c)
{
	return ledger_put_lot(ledger,
	    &(struct ledger_lot){.name = name,
		.thickness_m = thickness_m,
		.stack_c = stack_c,
		.entered = seconds(7)},
	    NULL, &error);
}

static void
assert_lot(const char *name, double thickness_m, double stack_c)
{
	struct ledger_lot lot;

	assert_int_equal(ledger_read_lot(reader, name, &lot, &error), 0);
	assert_string_equal(lot.name, name);
	assert_true(lot.thickness_m == thickness_m ||
		    (isnan(lot.thickness_m) && isnan(thickness_m)));
	assert_true(lot.stack_c == stack_c || (isnan(lot.stack_c) && isnan(stack_c)));
}

static void
of_a_lot_the_later_entry_holds_whole(void **state)
{
	(void)state;

	assert_lot("L-1", NAN, NAN);
	assert_int_equal(put_lot("L-1", 0.0061, 18.5), 0);
	assert_int_equal(put_lot("L-2", 0.004, NAN), 0);
	assert_lot("L-1", 0.0061, 18.5);
	assert_lot("L-2", 0.004, NAN);
	assert_int_equal(put_lot("L-1", 0.0063, NAN), 0);
	assert_lot("L-1", 0.0063, NAN);
	assert_int_equal(sql_integer("SELECT count(*) FROM lot"), 3); /* none is lost */
	assert_int_equal(sql_integer("SELECT max(entered_at) FROM lot"), seconds(7).ns);
}

static void
a_lot_may_be_of_a_material_of_its_own(void **state)
{
	struct ledger_lot lot = {.name = "L-1",
	    .thickness_m = 0.006,
	    .stack_c = NAN,
	    .material = "abs-regrind"};
	(void)state;

	assert_int_equal(ledger_put_lot(ledger, &lot, NULL, &error), 0);
	lot.material[0] = '\0';
	lot.name = "L-2";
	assert_int_equal(ledger_put_lot(ledger, &lot, NULL, &error), 0);
	assert_int_equal(ledger_read_lot(reader, "L-1", &lot, &error), 0);
	assert_string_equal(lot.material, "abs-regrind");
	assert_int_equal(ledger_read_lot(reader, "L-2", &lot, &error), 0);
	assert_string_equal(lot.material, "");
	assert_int_equal(ledger_read_lot(reader, "L-3", &lot, &error), 0);
	assert_string_equal(lot.material, "");
}

static void
a_lot_that_cannot_be_is_refused_with_the_reason(void **state)
{
	const struct {
		const char *name;
		double thickness_m, stack_c;
		const char *why;
	} cases[] = {
	    {"", 0.006, 20, "empty"},
	    {"1234567890123456789012345678901234567890123456789012345678901234", 0.006,
		20, "63 bytes"},
	    {"L", 0, 20, "0 mm"},
	    {"L", -0.001, 20, "-1 mm"},
	    {"L", 0.00019, 20, "0.19 mm, must be 0.2 mm to 50 mm"},
	    {"L", 0.0501, 20, "50.1 mm"},
	    {"L", INFINITY, 20, "inf mm"},
	    {"L", 0.006, -20.5, "-20.5 C, must be -20 C to 100 C"},
	    {"L", 0.006, 100.5, "100.5 C"},
	};
	(void)state;

	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		assert_int_equal(
		    put_lot(cases[i].name, cases[i].thickness_m, cases[i].stack_c),
		    ERROR_INVALID);
		if (strstr(error.text, cases[i].why) == NULL ||
		    strstr(error.text, "enter lot") == NULL)
			fail_msg("%s", error.text);
	}
	assert_int_equal(sql_integer("SELECT count(*) FROM lot"), 0);
	assert_int_equal(
	    put_lot("123456789012345678901234567890123456789012345678901234567890123",
		0.05, -20),
	    0);
	assert_int_equal(put_lot("L", 0.2e-3, 100), 0);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    TEST(a_trace_comes_back_byte_for_byte),
	    TEST(a_shot_without_a_trace_has_none),
	    TEST(writing_a_shot_again_leaves_its_trace),
	    TEST(traces_are_forgotten_by_time_in_pieces),
	    TEST(the_space_of_forgotten_traces_is_used_again),
	    TEST(the_sheets_of_a_line_are_those_that_were_put_last),
	    TEST(the_sheets_of_an_unknown_line_are_refused_and_none),
	    TEST(of_a_lot_the_later_entry_holds_whole),
	    TEST(a_lot_may_be_of_a_material_of_its_own),
	    TEST(a_lot_that_cannot_be_is_refused_with_the_reason),
	};
	return cmocka_run_group_tests_name("ledger, traces", tests, NULL, NULL);
}
