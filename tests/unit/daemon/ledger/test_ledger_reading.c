/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The rings of live readings, and the row of the logger. */
#include "daemon/ledger/ledger.h"

#include "tests/unit/daemon/ledger/counting_vfs.h"
#include "tests/unit/daemon/ledger/ledger_pair.h"

enum { KEEP_S = 1000 }; /* a reading every 10 s: about 100 of them */

static void
put(const char *destination, const char *line, int64_t s, size_t byte_count)
{
	static unsigned char bytes[8000];
	const struct ledger_reading reading = {0, line, seconds(s), bytes, byte_count};

	assert_true(byte_count <= sizeof bytes);
	for (size_t i = 0; i < byte_count; i++)
		bytes[i] = (unsigned char)(s + (int64_t)(3 * i));
	if (ledger_put_reading(
		ledger, destination, &reading, seconds(s - KEEP_S), &error) != 0)
		fail_msg("%s", error.text);
}

struct seen {
	int64_t after, count, first, last, enough;
	int64_t first_s, last_s;
	char line[LEDGER_NAME];
};

static int
see(void *arg, const struct ledger_reading *reading)
{
	struct seen *seen = arg;
	const unsigned char *bytes = reading->bytes;
	int64_t s = (reading->at.ns - FIXTURE_START_NS) / CLOCK_SECOND_NS;

	if (seen->count++ == 0) {
		seen->first = reading->number;
		seen->first_s = s;
	} else {
		assert_int_equal(reading->number, seen->last + 1);
	}
	seen->last = reading->number;
	seen->last_s = s;
	snprintf(seen->line, sizeof seen->line, "%s", reading->line);
	for (size_t i = 0; i < reading->byte_count; i++)
		assert_int_equal(bytes[i], (s + (int64_t)(3 * i)) & 0xff);
	return seen->count == seen->enough;
}

static struct seen
read_ring(const char *destination, int64_t after, int64_t enough)
{
	struct seen seen = {.after = after, .enough = enough};

	assert_int_equal(
	    ledger_read_readings(reader, destination, after, see, &seen, &error), 0);
	return seen;
}

static void
readings_come_back_in_order_and_from_where_they_are_asked(void **state)
{
	(void)state;

	assert_int_equal(read_ring("plant", 0, 0).count, 0);
	for (int i = 1; i <= 5; i++)
		put("plant", i % 2 == 0 ? "line-2" : "line-1", 10 * i, 6000);
	put("plant", "line-1", 60, 0); /* nothing in it */
	struct seen all = read_ring("plant", 0, 0);
	assert_int_equal(all.count, 6);
	assert_int_equal(all.first, 1);
	assert_int_equal(all.last_s, 60);
	struct seen later = read_ring("plant", 3, 0);
	assert_int_equal(later.count, 3);
	assert_int_equal(later.first, 4);
	assert_int_equal(later.first_s, 40);
	struct seen one = read_ring("plant", 3, 1);
	assert_int_equal(one.count, 1);
	assert_string_equal(one.line, "line-2");
	assert_int_equal(read_ring("plant", 6, 0).count, 0);
}

static void
each_destination_has_a_ring_of_its_own(void **state)
{
	(void)state;

	put("plant", "line-1", 10, 20);
	put("head", "line-1", 10, 30);
	put("plant", "line-1", 20, 20);
	assert_int_equal(read_ring("plant", 0, 0).last, 2);
	assert_int_equal(read_ring("head", 0, 0).last, 1);
	assert_int_equal(read_ring("nobody", 0, 0).count, 0);
}

static void
a_reading_of_an_unknown_line_is_refused(void **state)
{
	const struct ledger_reading reading = {0, "line-9", seconds(1), "x", 1};
	(void)state;

	assert_int_equal(
	    ledger_put_reading(ledger, "plant", &reading, seconds(0), &error),
	    ERROR_NOT_FOUND);
	assert_non_null(strstr(error.text, "line-9"));
	assert_int_equal(sql_integer("SELECT count(*) FROM ring"), 0);
}

static void
the_ring_stays_bounded_and_what_it_dropped_shows_as_a_gap(void **state)
{
	(void)state;

	for (int i = 1; i <= 1000; i++)
		put("plant", "line-1", 10 * i, 100);
	struct seen seen = read_ring("plant", 0, 0);
	assert_int_equal(seen.last, 1000);
	assert_true(seen.count >= KEEP_S / 10 && seen.count <= KEEP_S / 10 + 40);
	assert_int_equal(seen.first, 1000 - seen.count + 1); /* the oldest went */
	assert_int_equal(sql_integer("SELECT count(*) FROM reading"), seen.count);
}

static void
after_a_long_stop_the_old_ones_go_and_the_numbers_go_on(void **state)
{
	(void)state;

	for (int i = 1; i <= 31; i++)
		put("plant", "line-1", 10 * i, 100);
	put("plant", "line-1", 9000, 100);
	struct seen seen = read_ring("plant", 0, 0);
	assert_int_equal(seen.count, 1);
	assert_int_equal(seen.first, 32);
}

/* What was written with a clock far ahead would be young for years. */
static void
a_clock_that_was_ahead_for_a_while_does_not_stop_the_ring(void **state)
{
	(void)state;

	for (int i = 1; i <= 10; i++)
		put("plant", "line-1", 100000000 + 10 * i, 100);
	for (int i = 1; i <= 500; i++)
		put("plant", "line-1", 10 * i, 100);
	struct seen seen = read_ring("plant", 0, 0);
	assert_int_equal(seen.last, 510);
	assert_true(seen.count <= KEEP_S / 10 + 40);
	assert_true(seen.first_s <= 5000);
}

static void
a_clock_set_back_a_little_loses_nothing_that_is_young(void **state)
{
	(void)state;

	for (int i = 1; i <= 100; i++)
		put("plant", "line-1", 5000 + 10 * i, 100);
	for (int i = 1; i <= 50; i++) /* half an hour back */
		put("plant", "line-1", 5700 + 10 * i, 100);
	struct seen seen = read_ring("plant", 0, 0);
	assert_int_equal(seen.last, 150);
	assert_true(seen.count >= 100 - 48);
}

static void
numbers_never_come_again_behind_what_was_delivered(void **state)
{
	const struct ledger_delivered far = {.change = 41, .at = seconds(1)};
	(void)state;

	put("plant", "line-1", 10, 100);
	/* As after a power loss that took the end of the ring and not the cursor. */
	assert_int_equal(
	    ledger_set_delivered(ledger, "plant", "reading", &far, &error), 0);
	put("plant", "line-1", 20, 100);
	assert_int_equal(read_ring("plant", 1, 0).first, 42);
	assert_int_equal(read_ring("plant", 41, 0).count, 1);
}

/* --- what it costs ---------------------------------------------------------------------- */

static void
a_reading_is_cheap_and_waits_for_no_disk(void **state)
{
	(void)state;

	for (int i = 1; i <= 300; i++)
		put("plant", "line-1", 10 * i, 6000);
	assert_int_equal(ledger_checkpoint(ledger, &error), 0);
	put("plant", "line-1", 10 * 301, 6000); /* begins a new WAL */
	counted.syncs = counted.wal_bytes = 0;
	for (int i = 302; i <= 401; i++) /* short of a checkpoint */
		put("plant", "line-1", 10 * i, 6000);
	print_message("%lld bytes of WAL a reading of 6000\n",
	    (long long)counted.wal_bytes / 100);
	assert_int_equal(counted.syncs, 0);
	/* Three pages hold it; three more say where it stands. */
	assert_true(counted.wal_bytes / 100 < 13500);
}

/* --- the logger -------------------------------------------------------------------------- */

static void
the_logger_is_one_row_that_is_replaced(void **state)
{
	struct ledger_logger logger = {.host = "line-pc",
	    .version = "0.6",
	    .started = seconds(1),
	    .at = seconds(2),
	    .polls = 3,
	    .failures = 4,
	    .late = 5,
	    .queue = 6,
	    .queue_most = 7,
	    .dropped = 8,
	    .waiting = 9,
	    .lost = 10,
	    .filed = 11,
	    .clock_steps = 12,
	    .memory_bytes = 13,
	    .ledger_bytes = 14,
	    .free_bytes = 15};
	struct ledger_logger read;
	(void)state;

	assert_int_equal(ledger_read_logger(reader, &read, &error), ERROR_NOT_FOUND);
	for (int i = 0; i < 2; i++) {
		logger.polls += i;
		assert_int_equal(ledger_put_logger(ledger, &logger, &error), 0);
	}
	memset(&read, 0, sizeof read);
	assert_int_equal(ledger_read_logger(reader, &read, &error), 0);
	assert_string_equal(read.host, logger.host);
	assert_string_equal(read.version, logger.version);
	assert_int_equal(read.polls, 4);
	/* All numbers stand behind the texts. */
	assert_memory_equal(&read.started, &logger.started,
	    sizeof read - offsetof(struct ledger_logger, started));
	assert_int_equal(sql_integer("SELECT count(*) FROM logger"), 1);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    TEST(readings_come_back_in_order_and_from_where_they_are_asked),
	    TEST(each_destination_has_a_ring_of_its_own),
	    TEST(a_reading_of_an_unknown_line_is_refused),
	    TEST(the_ring_stays_bounded_and_what_it_dropped_shows_as_a_gap),
	    TEST(after_a_long_stop_the_old_ones_go_and_the_numbers_go_on),
	    TEST(a_clock_that_was_ahead_for_a_while_does_not_stop_the_ring),
	    TEST(a_clock_set_back_a_little_loses_nothing_that_is_young),
	    TEST(numbers_never_come_again_behind_what_was_delivered),
	    TEST(a_reading_is_cheap_and_waits_for_no_disk),
	    TEST(the_logger_is_one_row_that_is_replaced),
	};
	if (counting_vfs_register() != SQLITE_OK)
		return 1;
	return cmocka_run_group_tests_name("ledger, reading", tests, NULL, NULL);
}
