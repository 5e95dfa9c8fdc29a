/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Shifts on file: their revisions, and what is read of them. */
#include "daemon/ledger/ledger_shift.h"

#include "daemon/ledger/ledger_read_delivery.h"
#include "tests/unit/daemon/ledger/ledger_pair.h"

enum { SHIFTS_MOST = 16 };

static struct ledger_shift_row rows[2];

static struct ledger_shift
a_shift(void)
{
	struct ledger_shift shift = {.line = "line-1",
	    .shift = "early",
	    .from = fixture_time(0),
	    .to = fixture_time(240),
	    .closed = fixture_time(250),
	    .setup = "00000000000000aa",
	    .rows = rows,
	    .row_count = 2};

	for (int i = 0; i < LEDGER_SHIFT_SUMS; i++)
		shift.sum[i] = 1;
	shift.sum[LEDGER_SHIFT_CYCLE_S] = 181.123456789012;
	shift.sum[LEDGER_SHIFT_OVEN_KWH] = NAN;
	for (int i = 0; i < 2; i++) {
		rows[i] = (struct ledger_shift_row){.characteristic = "sag_s"};
		for (int k = 0; k < LEDGER_SHIFT_FIGURES; k++)
			rows[i].figure[k] = 2 + i;
	}
	snprintf(rows[0].recipe, sizeof rows[0].recipe, "12");
	snprintf(rows[0].tool, sizeof rows[0].tool, "T-1");
	rows[1].figure[LEDGER_SHIFT_PPK] = NAN;
	return shift;
}

static enum ledger_shift_filed
put(const struct ledger_shift *shift, bool dry)
{
	enum ledger_shift_filed filed;

	if (ledger_put_shift(ledger, shift, dry, &filed, &error) != 0)
		fail_msg("%s", error.text);
	return filed;
}

static struct ledger_shift seen[SHIFTS_MOST];
static struct ledger_shift_row seen_rows[SHIFTS_MOST];
static int seen_count, row_count;

static int
see(void *arg, const struct ledger_shift *shift)
{
	(void)arg;
	assert_true(seen_count < SHIFTS_MOST);
	seen[seen_count++] = *shift;
	return 0;
}

static int
see_row(void *arg, const struct ledger_shift_row *row)
{
	(void)arg;
	assert_true(row_count < SHIFTS_MOST);
	seen_rows[row_count++] = *row;
	return 0;
}

static int
read_with(struct ledger_shift_filter filter)
{
	seen_count = 0;
	assert_int_equal(ledger_read_shifts(reader, &filter, see, NULL, &error), 0);
	return seen_count;
}

static void
a_shift_is_read_as_it_was_put(void **state)
{
	const struct ledger_shift shift = a_shift();
	(void)state;

	assert_int_equal(put(&shift, true), LEDGER_SHIFT_NEW);
	assert_int_equal(read_with((struct ledger_shift_filter){0}), 0);
	assert_int_equal(put(&shift, false), LEDGER_SHIFT_NEW);
	assert_int_equal(read_with((struct ledger_shift_filter){0}), 1);
	assert_string_equal(seen[0].line, "line-1");
	assert_string_equal(seen[0].shift, "early");
	assert_string_equal(seen[0].setup, "00000000000000aa");
	assert_int_equal(seen[0].from.ns, shift.from.ns);
	assert_int_equal(seen[0].to.ns, shift.to.ns);
	assert_int_equal(seen[0].revision, 0);
	assert_true(seen[0].sum[LEDGER_SHIFT_CYCLE_S] == 181.1234568);
	assert_true(isnan(seen[0].sum[LEDGER_SHIFT_OVEN_KWH]));
	assert_true(seen[0].sum[LEDGER_SHIFT_NOT_ESTABLISHED] == 1);
	row_count = 0;
	assert_int_equal(
	    ledger_read_shift_rows(reader, seen[0].change, see_row, NULL, &error), 0);
	assert_int_equal(row_count, 2);
	assert_string_equal(seen_rows[0].recipe, "12");
	assert_string_equal(seen_rows[0].tool, "T-1");
	assert_string_equal(seen_rows[1].recipe, "");
	assert_true(seen_rows[1].figure[LEDGER_SHIFT_VERDICT] == 3);
	assert_true(isnan(seen_rows[1].figure[LEDGER_SHIFT_PPK]));
}

/* What differs in any figure, a row more or a row less is a revision; what is the same as
 * it is on file is none, also where its numbers have more digits. */
static void
only_what_comes_out_otherwise_is_a_revision(void **state)
{
	struct ledger_shift shift = a_shift();
	(void)state;

	assert_int_equal(put(&shift, false), LEDGER_SHIFT_NEW);
	assert_int_equal(put(&shift, false), LEDGER_SHIFT_SAME);
	shift.closed = fixture_time(300);
	assert_int_equal(put(&shift, false), LEDGER_SHIFT_SAME);
	int64_t revision = 0;
	for (int i = 0; i < LEDGER_SHIFT_SUMS; i++) {
		shift.sum[i] = 7;
		assert_int_equal(put(&shift, true), LEDGER_SHIFT_REVISED);
		assert_int_equal(put(&shift, false), LEDGER_SHIFT_REVISED);
		assert_int_equal(put(&shift, false), LEDGER_SHIFT_SAME);
		revision++;
	}
	for (int i = 0; i < LEDGER_SHIFT_FIGURES; i++) {
		rows[1].figure[i] = 7;
		assert_int_equal(put(&shift, false), LEDGER_SHIFT_REVISED);
		revision++;
	}
	shift.row_count = 1;
	assert_int_equal(put(&shift, false), LEDGER_SHIFT_REVISED);
	shift.row_count = 2;
	assert_int_equal(put(&shift, false), LEDGER_SHIFT_REVISED);
	assert_int_equal(read_with((struct ledger_shift_filter){0}), 1);
	assert_int_equal(seen[0].revision, revision + 2);
	assert_int_equal(
	    sql_integer("SELECT count(*) FROM shift_total t WHERE superseded"
			" = (SELECT change FROM shift_total n WHERE"
			" n.revision = t.revision + 1)"),
	    revision + 2);
}

static void
earlier_revisions_stay_readable_with_their_rows(void **state)
{
	struct ledger_shift shift = a_shift();
	(void)state;

	put(&shift, false);
	snprintf(rows[0].tool, sizeof rows[0].tool, "T-2");
	put(&shift, false);
	shift.from = fixture_time(240);
	shift.to = fixture_time(480);
	put(&shift, false); /* of another day */
	assert_int_equal(read_with((struct ledger_shift_filter){.limit = 1}), 1);
	const struct ledger_shift now = seen[0];
	seen_count = 0;
	assert_int_equal(ledger_read_shift_earlier(reader, &now, see, NULL, &error), 0);
	assert_int_equal(seen_count, 1);
	assert_int_equal(seen[0].revision, 0);
	assert_int_equal(seen[0].superseded, now.change);
	row_count = 0;
	assert_int_equal(
	    ledger_read_shift_rows(reader, seen[0].change, see_row, NULL, &error), 0);
	assert_string_equal(seen_rows[0].tool, "T-1");
}

static void
shifts_are_found_by_line_time_and_shots_of_later_changes(void **state)
{
	struct ledger_shift shift = a_shift();
	int64_t last = 0, looked = 1;
	(void)state;

	write_shots(0, 1, 3);
	put(&shift, false);
	shift.from = fixture_time(240);
	shift.to = fixture_time(480);
	put(&shift, false);
	snprintf(shift.line, sizeof shift.line, "line-2");
	put(&shift, false);
	assert_int_equal(read_with((struct ledger_shift_filter){.line = "line-1"}), 2);
	assert_int_equal(
	    read_with((struct ledger_shift_filter){.from = fixture_time(240)}), 2);
	assert_int_equal(
	    read_with((struct ledger_shift_filter){.to = fixture_time(240)}), 1);
	assert_int_equal(ledger_read_shift_closing(reader, &looked, &last, &error), 0);
	assert_int_equal(looked, 0);
	assert_int_equal(last, sql_integer("SELECT max(change) FROM shot"));
	assert_int_equal(
	    read_with((struct ledger_shift_filter){.with_later = last}), 0);
	write_shots(0, 250, 250);
	assert_int_equal(
	    read_with((struct ledger_shift_filter){.with_later = last}), 1);
	assert_int_equal(seen[0].from.ns, fixture_time(240).ns);
	assert_string_equal(seen[0].line, "line-1");
	assert_int_equal(ledger_put_shift_closing(ledger, last, &error), 0);
	assert_int_equal(ledger_read_shift_closing(reader, &looked, &last, &error), 0);
	assert_int_equal(looked, last - 4); /* three shifts and a shot since */
}

/* Its marks go out with the new one; what was refused of the old one is of no use. */
static void
refused_lines_of_an_earlier_revision_go(void **state)
{
	struct ledger_shift shift = a_shift();
	(void)state;

	put(&shift, false);
	read_with((struct ledger_shift_filter){0});
	const struct ledger_refusal refusal = {
	    "plant", seen[0].change, "shift x=1 1", "no", seconds(1)};
	assert_int_equal(ledger_put_refusal(ledger, &refusal, &error), 0);
	shift.sum[0] = 9;
	put(&shift, false);
	assert_int_equal(sql_integer("SELECT count(*) FROM refusal"), 0);
}

static void
after_a_copy_revisions_lie_behind_all_that_were_given(void **state)
{
	struct ledger_shift shift = a_shift();
	(void)state;

	put(&shift, false);
	sql_run("UPDATE line SET restored = 2");
	shift.sum[0] = 9;
	put(&shift, false);
	read_with((struct ledger_shift_filter){0});
	assert_int_equal(seen[0].revision, 2000);
	shift.sum[0] = 10;
	put(&shift, false);
	read_with((struct ledger_shift_filter){0});
	assert_int_equal(seen[0].revision, 2001);
}

static void
a_store_lacks_what_lies_beyond_its_cursor(void **state)
{
	struct ledger_shift shift = a_shift();
	struct ledger_lack lack;
	int64_t shots, events;
	(void)state;

	put(&shift, false);
	shift.sum[0] = 9;
	put(&shift, false);
	assert_int_equal(ledger_read_lack(reader, "plant", &lack, &error), 0);
	assert_int_equal(lack.shifts, 1); /* the earlier one goes as a mark */
	read_with((struct ledger_shift_filter){0});
	const struct ledger_delivered delivered = {
	    .change = seen[0].change, .at = seconds(1)};
	assert_int_equal(
	    ledger_set_delivered(ledger, "plant", "shift", &delivered, &error), 0);
	assert_int_equal(ledger_read_lack(reader, "plant", &lack, &error), 0);
	assert_int_equal(lack.shifts, 0);
	assert_int_equal(
	    ledger_read_lack_from(reader, "plant", fixture_time(240), &lack, &error),
	    0);
	assert_int_equal(lack.shifts, 0);
	assert_int_equal(
	    ledger_read_lack_from(reader, "plant", fixture_time(239), &lack, &error),
	    0);
	assert_int_equal(lack.shifts, 1);
	assert_int_equal(ledger_set_back(ledger, "plant", fixture_time(239), &shots,
			     &events, &error),
	    0);
	assert_int_equal(ledger_read_lack(reader, "plant", &lack, &error), 0);
	assert_int_equal(lack.shifts, 1);
}

static bool
find(const char *text, size_t words, bool dry)
{
	bool filed = false;
	const struct ledger_finding finding = {
	    "line-1", fixture_time(0), fixture_time(240), fixture_time(9), text, words};

	assert_int_equal(ledger_put_finding(ledger, &finding, dry, &filed, &error), 0);
	return filed;
}

static void
a_finding_is_filed_once_by_its_first_words(void **state)
{
	(void)state;
	assert_true(find("mains: likely", 5, true));
	assert_true(find("mains: likely", 5, false));
	assert_false(find("mains: sure", 5, false));
	assert_true(find("mains, of recipe 3: sure", 18, false));
	assert_true(find("tool \xc3\xa4: sure", 7, false));
	assert_false(find("tool \xc3\xa4: likely", 7, false));
	assert_int_equal(
	    sql_integer("SELECT count(*) FROM event WHERE kind = 'finding'"), 3);
}

static void
a_line_that_is_not_known_is_an_error(void **state)
{
	struct ledger_shift shift = a_shift();
	enum ledger_shift_filed filed;
	(void)state;

	snprintf(shift.line, sizeof shift.line, "line-9");
	assert_int_equal(
	    ledger_put_shift(ledger, &shift, false, &filed, &error), ERROR_NOT_FOUND);
	assert_non_null(strstr(error.text, "close shift 'early' of 'line-9'"));
}

/* No memory is short where the tables are another's. */
static void
what_cannot_be_filed_is_told_by_its_kind(void **state)
{
	struct ledger_shift shift = a_shift();
	enum ledger_shift_filed filed;
	(void)state;

	sql_run("ALTER TABLE shift_summary RENAME TO shift_summaries");
	assert_int_equal(
	    ledger_put_shift(ledger, &shift, false, &filed, &error), ERROR_IO);
	assert_non_null(strstr(error.text, "no such table: shift_summary"));
	sql_run("ALTER TABLE shift_total RENAME TO shift_totals");
	assert_int_equal(
	    ledger_put_shift(ledger, &shift, false, &filed, &error), ERROR_IO);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, open_both, close_both)

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    TEST(a_shift_is_read_as_it_was_put),
	    TEST(only_what_comes_out_otherwise_is_a_revision),
	    TEST(earlier_revisions_stay_readable_with_their_rows),
	    TEST(shifts_are_found_by_line_time_and_shots_of_later_changes),
	    TEST(refused_lines_of_an_earlier_revision_go),
	    TEST(after_a_copy_revisions_lie_behind_all_that_were_given),
	    TEST(a_store_lacks_what_lies_beyond_its_cursor),
	    TEST(a_finding_is_filed_once_by_its_first_words),
	    TEST(a_line_that_is_not_known_is_an_error),
	    TEST(what_cannot_be_filed_is_told_by_its_kind),
	};
	return cmocka_run_group_tests_name("ledger, shifts", tests, NULL, NULL);
}
