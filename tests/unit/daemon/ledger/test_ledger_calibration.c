/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Calibrations: entered, never changed, read again. */
#include "daemon/ledger/ledger.h"

#include "tests/unit/daemon/ledger/ledger_pair.h"

/* One that is in order; the tests change what they are about. */
static struct ledger_calibration
sound(void)
{
	return (struct ledger_calibration){
	    .line = "line-1",
	    .device = "plc-1",
	    .channel = "tool_2",
	    .at = seconds(100),
	    .as_found = 1.75,
	    .as_left = -0.5,
	    .due = seconds(86400),
	    .reference = "stirred bath, thermometer 7",
	    .by = "M. Köhler",
	    .entered = seconds(200),
	};
}

static void
put(struct ledger_calibration calibration)
{
	if (ledger_put_calibration(ledger, &calibration, &error) != 0)
		fail_msg("%s", error.text);
}

struct seen {
	int count;
	struct ledger_calibration list[8];
	char text[8][5][64]; /* line, device, channel, reference, by */
};

static int
see(void *arg, const struct ledger_calibration *calibration)
{
	struct seen *seen = arg;
	const char *const texts[] = {calibration->line, calibration->device,
	    calibration->channel, calibration->reference, calibration->by};

	assert_true(seen->count < 8);
	for (int i = 0; i < 5; i++)
		text_copy(seen->text[seen->count][i], 64, texts[i]);
	seen->list[seen->count++] = *calibration;
	return 0;
}

static const struct seen *
read_all(const char *line)
{
	static struct seen seen;

	seen.count = 0;
	if (ledger_read_calibrations(reader, line, see, &seen, &error) != 0)
		fail_msg("%s", error.text);
	return &seen;
}

static void
one_comes_back_as_it_was_entered(void **state)
{
	struct ledger_calibration bare = sound();
	(void)state;

	assert_int_equal(read_all(NULL)->count, 0);
	put(sound());
	bare.line = "line-2";
	bare.as_found = NAN;
	bare.due.ns = 0;
	bare.reference = bare.by = NULL;
	put(bare);
	const struct seen *seen = read_all(NULL);
	assert_int_equal(seen->count, 2);
	assert_int_equal(seen->list[0].id, 1);
	assert_string_equal(seen->text[0][0], "line-1");
	assert_string_equal(seen->text[0][1], "plc-1");
	assert_string_equal(seen->text[0][2], "tool_2");
	assert_string_equal(seen->text[0][3], "stirred bath, thermometer 7");
	assert_string_equal(seen->text[0][4], "M. Köhler");
	assert_true(seen->list[0].as_found == 1.75 && seen->list[0].as_left == -0.5);
	assert_int_equal(seen->list[0].at.ns, seconds(100).ns);
	assert_int_equal(seen->list[0].due.ns, seconds(86400).ns);
	assert_int_equal(seen->list[0].entered.ns, seconds(200).ns);
	assert_true(isnan(seen->list[1].as_found));
	assert_int_equal(seen->list[1].due.ns, 0);
	assert_string_equal(seen->text[1][3], "");
	assert_string_equal(seen->text[1][4], "");
}

static void
they_come_by_channel_and_time_and_a_correction_stands_beside_what_it_corrects(
    void **state)
{
	static const struct {
		const char *channel;
		int at_s;
		double left;
	} entered[] = {
	    {"tool_4", 50, 4},
	    {"tool_2", 90, 3},
	    {"tool_2", 10, 1},
	    {"tool_2", 10, 2},
	};
	(void)state;

	for (size_t i = 0; i < sizeof entered / sizeof entered[0]; i++) {
		struct ledger_calibration one = sound();
		one.channel = entered[i].channel;
		one.at = seconds(entered[i].at_s);
		one.as_left = entered[i].left;
		put(one);
	}
	const struct seen *seen = read_all("line-1");
	assert_int_equal(seen->count, 4);
	for (int i = 0; i < 4; i++)
		assert_true(seen->list[i].as_left == i + 1);
	assert_int_equal(read_all("line-2")->count, 0);
	assert_int_equal(read_all("line-9")->count, 0);
}

static int
count_one(void *arg, const struct ledger_calibration *calibration)
{
	int64_t *count = arg;

	assert_int_equal(calibration->id, ++*count);
	return 0;
}

static void
more_than_a_batch_of_them_come_once_each(void **state)
{
	enum { MANY = 600 };
	int64_t count = 0;
	(void)state;

	for (int i = 0; i < MANY; i++) {
		struct ledger_calibration one = sound();
		one.at = seconds(i / 2); /* two at once each time */
		put(one);
	}
	assert_int_equal(
	    ledger_read_calibrations(reader, "line-1", count_one, &count, &error), 0);
	assert_int_equal(count, MANY);
}

static void
one_that_cannot_be_is_refused_with_the_reason(void **state)
{
	enum { CASES = 7 };
	static char longest[257];
	struct ledger_calibration cases[CASES];
	static const char *const why[CASES] = {"its channel has no name",
	    "its channel has no name", "left off is no number", "left off is no number",
	    "found off is no number", "checked with is longer than 255 bytes",
	    "channel's name is longer than 63 bytes"};
	(void)state;

	memset(longest, 'x', sizeof longest - 1);
	for (int i = 0; i < CASES; i++)
		cases[i] = sound();
	cases[0].channel = "";
	cases[1].device = NULL;
	cases[2].as_left = NAN;
	cases[3].as_left = INFINITY;
	cases[4].as_found = -INFINITY;
	cases[5].reference = longest;
	cases[6].channel = longest;
	for (int i = 0; i < CASES; i++) {
		assert_int_equal(
		    ledger_put_calibration(ledger, &cases[i], &error), ERROR_INVALID);
		if (strstr(error.text, why[i]) == NULL)
			fail_msg("%s", error.text);
	}
	struct ledger_calibration unknown = sound();
	unknown.line = "line-9";
	assert_int_equal(
	    ledger_put_calibration(ledger, &unknown, &error), ERROR_NOT_FOUND);
	assert_non_null(
	    strstr(error.text, "enter the calibration of 'plc-1.tool_2': "));
	assert_int_equal(sql_integer("SELECT count(*) FROM calibration"), 0);
	write_shots(0, 1, 1); /* the ledger is none the worse */
}

static void
several_are_entered_together_or_not_at_all(void **state)
{
	struct ledger_calibration list[3] = {sound(), sound(), sound()};
	(void)state;

	list[1].channel = "tool_3";
	list[2].channel = "tool_4";
	assert_int_equal(ledger_put_calibrations(ledger, list, 0, &error), 0);
	list[1].as_left = NAN; /* what is wrong with itself */
	assert_int_equal(
	    ledger_put_calibrations(ledger, list, 3, &error), ERROR_INVALID);
	assert_non_null(
	    strstr(error.text, "enter the calibration of 'plc-1.tool_3': "));
	assert_int_equal(read_all(NULL)->count, 0);
	list[1] = sound();
	list[2].line = "line-9"; /* what only the ledger can tell */
	assert_int_equal(
	    ledger_put_calibrations(ledger, list, 3, &error), ERROR_NOT_FOUND);
	assert_non_null(
	    strstr(error.text, "enter the calibration of 'plc-1.tool_4': "));
	assert_int_equal(read_all(NULL)->count, 0);
	list[2].line = "line-1";
	assert_int_equal(ledger_put_calibrations(ledger, list, 3, &error), 0);
	assert_int_equal(read_all(NULL)->count, 3);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    TEST(one_comes_back_as_it_was_entered),
	    TEST(
		they_come_by_channel_and_time_and_a_correction_stands_beside_what_it_corrects),
	    TEST(more_than_a_batch_of_them_come_once_each),
	    TEST(several_are_entered_together_or_not_at_all),
	    TEST(one_that_cannot_be_is_refused_with_the_reason),
	};
	return cmocka_run_group_tests_name("ledger, calibrations", tests, NULL, NULL);
}
