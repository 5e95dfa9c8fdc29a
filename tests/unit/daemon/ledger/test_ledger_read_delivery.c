/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is read of the delivery: who, how far, what was refused. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include "daemon/ledger/ledger_read_delivery.h"
#include "tests/unit/daemon/ledger/ledger_fixture.h"

enum { SHOTS = 20, EVENTS = 5, REFUSED = 600 };

static struct fixture fixture;
static struct ledger *ledger;
static struct ledger_read *reader;
static struct error error;

/* Shots 1 to 20 of line-1, in two waves: the later half is filed first. */
static int
open_ledger(void **state)
{
	int64_t setup;

	(void)state;
	if (!fixture_init(&fixture))
		return -1;
	ledger = ledger_open(fixture.path, NULL, &error);
	if (!ledger || ledger_put_setup(ledger, &fixture.settings, fixture_time(0),
			   &setup, &error) != 0)
		return -1;
	for (int64_t i = 0; i < SHOTS; i++) {
		struct shot *shot =
		    fixture_shot(&fixture, 0, (i + SHOTS / 2) % SHOTS + 1);
		int code = ledger_put_shot(ledger, &fixture.settings, shot, &error);
		shot_free(shot);
		if (code != 0)
			return -1;
	}
	for (int64_t i = 1; i <= EVENTS; i++)
		if (ledger_put_event(ledger, "line-1", fixture_time(4 * i), "fault", "",
			&error) != 0)
			return -1;
	reader = ledger_read_open(fixture.path, &error);
	return reader ? 0 : -1;
}

static int
close_ledger(void **state)
{
	(void)state;
	ledger_read_close(reader);
	ledger_close(ledger);
	fixture_release(&fixture);
	return 0;
}

static void
deliver(const char *destination, const char *stream, int64_t change)
{
	struct ledger_delivered delivered;

	assert_int_equal(
	    ledger_delivered(ledger, destination, stream, &delivered, &error), 0);
	delivered.change = change;
	delivered.at = fixture_time(change);
	assert_int_equal(
	    ledger_set_delivered(ledger, destination, stream, &delivered, &error), 0);
}

static struct ledger_lack
lack_of(const char *destination)
{
	struct ledger_lack lack;

	assert_int_equal(ledger_read_lack(reader, destination, &lack, &error), 0);
	return lack;
}

static void
a_destination_that_is_not_on_file_lacks_everything(void **state)
{
	struct ledger_lack lack = lack_of("nobody");

	(void)state;
	assert_int_equal(lack.shots, SHOTS);
	assert_int_equal(lack.events, EVENTS);
	assert_int_equal(lack.shot_cursor, 0);
	assert_int_equal(lack.moved.ns, 0);
	assert_int_equal(lack.refused + lack.readings + lack.lost, 0);
	/* the first that goes out, which is not the first in time */
	assert_int_equal(lack.next.ns, fixture_time(SHOTS / 2 + 1).ns);
}

static void
what_lies_beyond_the_cursors_is_lacking(void **state)
{
	(void)state;
	deliver("plant", "shot", 12);
	deliver("plant", "event", SHOTS + 2);
	struct ledger_lack lack = lack_of("plant");
	assert_int_equal(lack.shots, SHOTS - 12);
	assert_int_equal(lack.events, EVENTS - 2);
	assert_int_equal(lack.shot_cursor, 12);
	assert_int_equal(lack.next.ns, fixture_time(3).ns);
	assert_int_equal(lack.moved.ns, fixture_time(SHOTS + 2).ns);
	deliver("plant", "shot", SHOTS);
	lack = lack_of("plant");
	assert_int_equal(lack.shots, 0);
	assert_int_equal(lack.next.ns, fixture_time(12).ns); /* of the third event */
	deliver("plant", "event", SHOTS + EVENTS);
	assert_int_equal(lack_of("plant").next.ns, 0);
}

static void
what_setting_back_would_do_is_what_it_does(void **state)
{
	(void)state;
	for (int64_t no = 0; no <= SHOTS + 1; no++) {
		struct ledger_lack would;
		int64_t shots, events;
		deliver("plant", "shot", SHOTS);
		deliver("plant", "event", SHOTS + EVENTS);
		assert_int_equal(ledger_read_lack_from(
				     reader, "plant", fixture_time(no), &would, &error),
		    0);
		assert_int_equal(ledger_set_back(ledger, "plant", fixture_time(no),
				     &shots, &events, &error),
		    0);
		assert_int_equal(would.shots, shots);
		assert_int_equal(would.events, events);
		assert_int_equal(lack_of("plant").shots, shots);
	}
}

static void
readings_wait_beyond_their_own_cursor(void **state)
{
	(void)state;
	for (int i = 1; i <= 9; i++) {
		const struct ledger_reading reading = {.line = "line-1",
		    .at = fixture_time(i),
		    .bytes = "x",
		    .byte_count = 1};
		assert_int_equal(ledger_put_reading(ledger, i % 3 ? "plant" : "other",
				     &reading, (struct wall){0}, &error),
		    0);
	}
	assert_int_equal(lack_of("plant").readings, 6);
	assert_int_equal(lack_of("other").readings, 3);
	deliver("plant", "reading", 4);
	assert_int_equal(lack_of("plant").readings, 2);
	/* of the cursor of readings nothing is told: shots and events are meant */
	assert_int_equal(lack_of("plant").moved.ns, 0);
}

/* --- refused lines -------------------------------------------------------------------- */

struct seen {
	int count;
	int64_t last_change;
	struct wall first_time;
	size_t longest;
	char line[64], answer[64];
};

static int
take_refused(void *arg, const struct ledger_refused *refused)
{
	struct seen *seen = arg;

	assert_true(refused->change >= seen->last_change);
	seen->last_change = refused->change;
	if (seen->count++ == 0) {
		seen->first_time = refused->time;
		snprintf(seen->line, sizeof seen->line, "%s", refused->line);
		snprintf(seen->answer, sizeof seen->answer, "%s", refused->answer);
	}
	if (strlen(refused->line) > seen->longest)
		seen->longest = strlen(refused->line);
	return 0;
}

static void
refuse(const char *destination, int64_t change, const char *line)
{
	const struct ledger_refusal refusal = {
	    destination, change, line, "400 no", fixture_time(9)};

	assert_int_equal(ledger_put_refusal(ledger, &refusal, &error), 0);
}

static struct seen
refused_by(const char *destination)
{
	struct seen seen = {0};

	assert_int_equal(
	    ledger_read_refusals(reader, destination, take_refused, &seen, &error), 0);
	return seen;
}

static void
every_refused_line_comes_once_in_order(void **state)
{
	char line[64];

	(void)state;
	for (int i = 0; i < REFUSED; i++) {
		snprintf(line, sizeof line, "shot,a=%d x=1 1772427602%03d000000", i / 2,
		    i % 1000);
		refuse("plant", REFUSED - i / 2, line); /* two of a change */
	}
	refuse("other", 1, "event x=1");
	struct seen seen = refused_by("plant");
	assert_int_equal(seen.count, REFUSED);
	assert_int_equal(lack_of("plant").refused, REFUSED);
	assert_string_equal(seen.answer, "400 no");
	/* to the second */
	assert_int_equal(seen.first_time.ns, INT64_C(1772427602000000000));
	seen = refused_by("other");
	assert_int_equal(seen.count, 1);
	assert_string_equal(seen.line, "event x=1");
	assert_int_equal(seen.first_time.ns, 0); /* no time in it */
	assert_int_equal(refused_by("nobody").count, 0);
}

static void
a_very_long_line_is_cut_and_still_has_its_time(void **state)
{
	enum { LENGTH = 200000 };
	char *line = malloc(LENGTH + 64);

	(void)state;
	assert_non_null(line);
	/* two-byte characters, of which none may be cut in two */
	for (int i = 0; i < LENGTH; i += 2)
		memcpy(line + i, "\xc3\xa4", 2);
	strcpy(line + LENGTH, " x=1 1772427602017000000");
	refuse("plant", 1, line);
	refuse("plant", 2, line);
	struct seen seen = refused_by("plant");
	assert_int_equal(seen.count, 2);
	assert_int_equal(seen.first_time.ns, INT64_C(1772427602000000000));
	assert_in_range(seen.longest, 1000, 16000);
	assert_int_equal(seen.longest % 2, 0);
	free(line);
}

/* --- who ---------------------------------------------------------------------------------- */

static int
take_name(void *arg, const char *destination)
{
	strcat(arg, destination);
	strcat(arg, " ");
	return 0;
}

static void
destinations_of_cursors_and_refusals_are_told_once(void **state)
{
	char names[256] = "";

	(void)state;
	deliver("plant", "shot", 1);
	deliver("plant", "event", 1);
	deliver("archive", "event", 1);
	refuse("plant", 1, "shot x=1 1");
	refuse("old", 1, "shot x=1 1");
	assert_int_equal(ledger_read_destinations(reader, take_name, names, &error), 0);
	assert_string_equal(names, "archive old plant ");
}

#define test(function) \
	cmocka_unit_test_setup_teardown(function, open_ledger, close_ledger)

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    test(a_destination_that_is_not_on_file_lacks_everything),
	    test(what_lies_beyond_the_cursors_is_lacking),
	    test(what_setting_back_would_do_is_what_it_does),
	    test(readings_wait_beyond_their_own_cursor),
	    test(every_refused_line_comes_once_in_order),
	    test(a_very_long_line_is_cut_and_still_has_its_time),
	    test(destinations_of_cursors_and_refusals_are_told_once),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
