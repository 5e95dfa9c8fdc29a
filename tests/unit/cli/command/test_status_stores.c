/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What `status` tells of the stores and of the logger, and what it says to do. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include "daemon/publish/trouble.h"
#include "tests/unit/cli/command/stored.h"

static struct plant plant;
static struct error error;

static const char stores[] = "[store plant]\n"
			     "kind = influxdb2\n"
			     "url = https://store.plant:8086\n"
			     "organization = works\n"
			     "database = shots\n"
			     "token_file = /etc/evensoak/plant-token\n"
			     "[store near]\n"
			     "kind = victoriametrics\n"
			     "url = http://127.0.0.1:8428\n"
			     "readings_s = 60\n";

static int
open_plant(void **state)
{
	(void)state;
	setenv("COLUMNS", "400", 1);
	stored_open(&plant, stores);
	plant_run(&plant, 1, 10);
	plant_need(ledger_put_event(plant.ledger, "line-3", plant_time(4), "recipe",
		       "told", NULL) == 0,
	    "an event");
	stored_deliver_all(&plant, "near");
	stored_deliver(&plant, "plant", "shot", 7);
	return ledger_lock(plant.ledger_path, NULL);
}

static int
close_plant(void **state)
{
	(void)state;
	plant_close(&plant);
	return 0;
}

/* The daemon tells this of the first store, and that the other is well; then asks. */
static void
ask(const char *state, const char *text, const char *format)
{
	const struct ledger_health rows[] = {
	    {"daemon", "ok", "", plant_time(0), clock_wall(), 1, 0},
	    {"store plant", state, text, plant_time(8), clock_wall(), 12, 34},
	    {"store near", "ok", "", plant_time(0), clock_wall(), 50, 0},
	};

	assert_int_equal(ledger_put_health(plant.ledger, rows, 3, NULL, 0, &error), 0);
	plant_run_command(
	    &plant, "status", "--ledger", plant.ledger_path, "--format", format);
}

static void
what_a_store_lacks_is_told(void **state)
{
	(void)state;
	ask("ok", "", "json");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells(plant.out, "\"kind\": \"influxdb2\"");
	assert_tells(plant.out, "\"url\": \"https://store.plant:8086\"");
	assert_tells(plant.out, "\"state\": \"ok\"");
	assert_tells(plant.out, "\"backlog\": 3");
	assert_tells(plant.out, "\"events\": 1");
	assert_tells(plant.out, "\"next_filed_at\": \"2026-03-02T05:24:00.000Z\"");
	assert_tells(plant.out, "\"moved_at\": \"2026-03-02T10:00:00.000Z\"");
	assert_tells(plant.out, "\"batches\": 12");
	assert_tells(plant.out, "\"failures\": 34");
	assert_tells(plant.out, "\"why\": null");
	ask("ok", "", "text");
	assert_tells(plant.out, "delivers");
	assert_tells(plant.out, "readings");
	assert_tells_not(plant.out, "dropped");
	assert_tells(plant.out, "all is well");
}

static void
each_trouble_is_wrong_and_told_with_what_to_do(void **state)
{
	static const struct {
		enum trouble trouble;
		const char *words, *advice;
	} cases[] = {
	    {TROUBLE_UNREACHABLE, "not reached", "does the server run there"},
	    {TROUBLE_SILENT, "no answer in time", "'timeout_s'"},
	    {TROUBLE_BUSY, "asks for time", "left alone"},
	    {TROUBLE_FAILING, "has an error of its own", "look at its log"},
	    {TROUBLE_LEDGER, "stuck on our side", NULL},
	    {TROUBLE_UNKEPT, "does not keep all", "its retention"},
	    {TROUBLE_LOGIN, "holds: login",
		"put the right token into '/etc/evensoak/plant-token'; no restart"},
	    {TROUBLE_RIGHTS, "holds: rights", "right to write there"},
	    {TROUBLE_MISSING, "holds: not there",
		"no bucket 'shots' in organization 'works'"},
	    {TROUBLE_CERTIFICATE, "holds: certificate", "'ca_file'"},
	    {TROUBLE_SECRET, "holds: secret", NULL},
	    {TROUBLE_ADDRESS, "holds: address", "'url' and 'kind'"},
	    {TROUBLE_FULL, "holds: full", "raise max-series-per-database"},
	    {TROUBLE_REFUSES, "holds: refuses all", "what do they say"},
	};

	(void)state;
	assert_int_equal(sizeof cases / sizeof cases[0], TROUBLE_COUNT - 1);
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		char sentence[128];
		const char *word = trouble_word(cases[i].trouble);
		ask(word, "the server's own words", "text");
		assert_int_equal(plant.code, COMMAND_NO);
		snprintf(sentence, sizeof sentence,
		    "wrong: store plant: the server's own words; %s", cases[i].words);
		assert_tells(plant.out, sentence);
		assert_tells(plant.out, "3 shots wait in the ledger, nothing is lost");
		if (cases[i].advice)
			assert_tells(plant.out, cases[i].advice);
		assert_tells_not(plant.out, "store near: ");
		if (trouble_holds(cases[i].trouble))
			assert_tells(plant.out, "tried again within five minutes");
		ask(word, "the server's own words", "json");
		assert_tells(plant.out, "\"wrong\": 1");
		assert_tells(plant.out, "\"why\": \"the server's own words\"");
	}
}

static void
a_state_that_nobody_knows_is_wrong_too(void **state)
{
	(void)state;
	ask("strange", "why it is strange", "text");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_tells(plant.out, "wrong: store plant: why it is strange; strange since");
}

static void
a_store_that_was_not_tried_yet_is_not_wrong(void **state)
{
	(void)state;
	ask("starting", "", "text");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells(plant.out, "not tried yet");
}

static void
the_table_keeps_within_a_narrow_terminal(void **state)
{
	static const char *const widths[] = {"80", "90", "100"};

	(void)state;
	for (size_t i = 0; i < 3; i++) {
		setenv("COLUMNS", widths[i], 1);
		ask("login", "'https://store.plant:8086' answers 401: unauthorized",
		    "text");
		size_t most = (size_t)atoi(widths[i]);
		for (const char *at = plant.out; *at;) {
			size_t length = strcspn(at, "\n");
			if (length > most)
				fail_msg("%zu wide: %.*s", length, (int)length, at);
			at += length + (at[length] != '\0');
		}
		assert_tells(plant.out, "https://store.plant:8086");
		assert_tells(plant.out, "to send  the first of");
	}
	setenv("COLUMNS", "400", 1);
}

static void
refuse(const char *words, struct wall at)
{
	const struct ledger_refusal refusal = {
	    "plant", 3, "shot,line=a x=1 1772427600000000000", words, at};

	assert_int_equal(ledger_put_refusal(plant.ledger, &refusal, &error), 0);
}

static void
lines_that_were_refused_long_ago_are_told_and_not_wrong(void **state)
{
	(void)state;
	refuse("400 no", plant_time(9));
	ask("ok", "", "text");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells(plant.out, "store plant has refused 1 line, none in the last 24 "
				"hours, set aside here");
	assert_tells(plant.out, "'evensoak resend plant --refused' (first with "
				"--dry-run)");
	ask("ok", "", "json");
	assert_tells(plant.out, "\"refused\": 1");
	assert_tells(plant.out, "\"wrong\": 0");
}

static void
lines_that_were_refused_lately_are_wrong_with_the_words_and_what_to_do(void **state)
{
	struct wall lately = clock_wall();

	(void)state;
	lately.ns -= 3600 * CLOCK_SECOND_NS;
	refuse("400 unable to parse 'shot,line=a x=1': no", lately);
	ask("ok", "", "text");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_tells(plant.out,
	    "wrong: store plant has refused 1 line, 1 in the last 24 hours, set aside "
	    "here: 400 unable to parse ...: no\n");
	assert_tells(plant.out, "mend what its words say; then 'evensoak resend plant "
				"--refused' sends them again");
	assert_tells_not(plant.out, "all is well");
	ask("ok", "", "json");
	assert_tells(plant.out, "\"wrong\": 1");
}

static void
a_retention_that_is_too_short_has_its_own_advice(void **state)
{
	static const char *const words[] = {
	    "400 partial write: points beyond retention policy dropped=7",
	    "422 dropped 3 points outside retention policy of duration 24h0m0s",
	};

	(void)state;
	for (size_t i = 0; i < 2; i++) {
		refuse(words[i], clock_wall());
		ask("ok", "", "text");
		assert_int_equal(plant.code, COMMAND_NO);
		assert_tells(plant.out, "its retention is shorter than what waits for "
					"it here, and is the store's own to change");
	}
}

static void
what_is_wrong_with_a_name_or_a_credential_is_told_so(void **state)
{
	(void)state;
	ask("unreachable", "post: Could not resolve host: stor.plant", "text");
	assert_tells(plant.out, "is the name in 'url' right");
	assert_tells_not(plant.out, "firewall");
	ask("address", "answers 405", "text");
	assert_tells(plant.out, "are 'url' and 'kind' right?\n");
	assert_tells(plant.out, "store plant: tried again within five minutes; at once "
				"after: systemctl reload evensoakd");
}

static void
rows_that_a_running_daemon_has_not_written_lately_are_stale(void **state)
{
	struct wall then = clock_wall();

	(void)state;
	then.ns -= 12 * 60 * CLOCK_SECOND_NS;
	const struct ledger_health old[] = {
	    {"daemon", "ok", "", clock_wall(), then, 1, 0},
	    {"store near", "ok", "", plant_time(0), then, 50, 0},
	};
	assert_int_equal(ledger_put_health(plant.ledger, old, 2, NULL, 0, &error), 0);
	plant_run_command(&plant, "status", "--ledger", plant.ledger_path);
	assert_int_equal(plant.code, COMMAND_NO);
	assert_tells(plant.out, "Health, as it was 12 min");
	assert_tells(plant.out, "wrong: daemon: cannot write how it is since ");
	assert_tells(plant.out, "is the disk full, the ledger damaged?");
	ask("ok", "", "text");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells(plant.out, "Health\n");

	/* of a simulated line, with a clock of its own */
	const struct ledger_health simulated = {
	    "daemon", "ok", "", plant_time(0), plant_time(20), 1, 0};
	assert_int_equal(
	    ledger_put_health(plant.ledger, &simulated, 1, NULL, 0, &error), 0);
	plant_run_command(&plant, "status", "--ledger", plant.ledger_path);
	assert_int_equal(plant.code, COMMAND_DONE);
}

static void
live_readings_that_wait_or_were_dropped_are_told(void **state)
{
	struct ledger_delivered delivered;

	(void)state;
	for (int i = 0; i < 5; i++) {
		const struct ledger_reading reading = {.line = "line-3",
		    .at = plant_time(i),
		    .bytes = "x",
		    .byte_count = 1};
		assert_int_equal(ledger_put_reading(plant.ledger, "near", &reading,
				     (struct wall){0}, &error),
		    0);
	}
	assert_int_equal(
	    ledger_delivered(plant.ledger, "near", "reading", &delivered, &error), 0);
	delivered.change = 2;
	delivered.lost = 7;
	assert_int_equal(
	    ledger_set_delivered(plant.ledger, "near", "reading", &delivered, &error),
	    0);
	ask("ok", "", "json");
	assert_tells(plant.out, "\"readings\": 3");
	assert_tells(plant.out, "\"lost_readings\": 7");
	ask("ok", "", "text");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells(plant.out, "store near: 7 live readings were dropped");
}

static void
a_store_that_left_the_set_up_is_still_shown(void **state)
{
	(void)state;
	stored_deliver(&plant, "old", "shot", 4);
	ask("ok", "", "text");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells(plant.out, "not in the set-up");
	ask("ok", "", "json");
	assert_tells(plant.out, "\"store\": \"old\"");
	assert_tells(plant.out, "\"backlog\": 6");
}

/* --- the logger --------------------------------------------------------------------- */

static struct ledger_logger
logger_well(void)
{
	return (struct ledger_logger){
	    .host = "pc-3",
	    .version = "0.1.0",
	    .started = plant_time(0),
	    .at = plant_time(20),
	    .polls = 1000,
	    .ledger_bytes = 5000000,
	    .free_bytes = INT64_C(30000000000),
	    .memory_bytes = 12000000,
	};
}

static void
ask_of_logger(const struct ledger_logger *logger, const char *format)
{
	assert_int_equal(ledger_put_logger(plant.ledger, logger, &error), 0);
	ask("ok", "", format);
}

static void
a_logger_that_is_well_is_told_in_figures_alone(void **state)
{
	struct ledger_logger logger = logger_well();

	(void)state;
	ask_of_logger(&logger, "json");
	assert_tells(plant.out, "\"host\": \"pc-3\"");
	assert_tells(plant.out, "\"free_bytes\": 30000000000");
	assert_tells(plant.out, "\"clock_steps\": 0");
	ask_of_logger(&logger, "text");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells(plant.out, "30000");
	assert_tells_not(plant.out, "was set");
}

static void
a_disk_that_gets_full_is_told_and_then_wrong(void **state)
{
	struct ledger_logger logger = logger_well();

	(void)state;
	logger.free_bytes = 900000000;
	ask_of_logger(&logger, "text");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells(plant.out, "900 MB are left on the disk of the ledger");
	logger.free_bytes = 100000000;
	ask_of_logger(&logger, "text");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_tells(plant.out, "wrong: disk: 100 MB are left");
	logger.free_bytes = logger.ledger_bytes = 0; /* it could not ask */
	ask_of_logger(&logger, "text");
	assert_int_equal(plant.code, COMMAND_DONE);
}

static void
what_was_lost_is_wrong_and_a_clock_that_was_set_is_told(void **state)
{
	struct ledger_logger logger = logger_well();

	(void)state;
	logger.clock_steps = 2;
	ask_of_logger(&logger, "text");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells(plant.out, "the system's clock was set 2 times since the start");
	logger.dropped = 11;
	logger.queue_most = 4096;
	logger.lost = 3;
	ask_of_logger(&logger, "text");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_tells(plant.out, "wrong: 11 readings were lost since the start");
	assert_tells(plant.out, "wrong: 3 shots were lost since the start");
	ask_of_logger(&logger, "json");
	assert_tells(plant.out, "\"wrong\": 2");
}

#define test(function) \
	cmocka_unit_test_setup_teardown(function, open_plant, close_plant)

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    test(what_a_store_lacks_is_told),
	    test(each_trouble_is_wrong_and_told_with_what_to_do),
	    test(a_state_that_nobody_knows_is_wrong_too),
	    test(a_store_that_was_not_tried_yet_is_not_wrong),
	    test(the_table_keeps_within_a_narrow_terminal),
	    test(lines_that_were_refused_long_ago_are_told_and_not_wrong),
	    test(
		lines_that_were_refused_lately_are_wrong_with_the_words_and_what_to_do),
	    test(a_retention_that_is_too_short_has_its_own_advice),
	    test(what_is_wrong_with_a_name_or_a_credential_is_told_so),
	    test(rows_that_a_running_daemon_has_not_written_lately_are_stale),
	    test(live_readings_that_wait_or_were_dropped_are_told),
	    test(a_store_that_left_the_set_up_is_still_shown),
	    test(a_logger_that_is_well_is_told_in_figures_alone),
	    test(a_disk_that_gets_full_is_told_and_then_wrong),
	    test(what_was_lost_is_wrong_and_a_clock_that_was_set_is_told),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
