/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Delivery to a real VictoriaMetrics that is killed: what it had acknowledged is gone with
 * it, and is there in the end, bit for bit as in the ledger.
 */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <math.h>
#include <string.h>

#include "daemon/publish/delivery.h"
#include "tests/unit/daemon/publish/filled_ledger.h"
#include "tests/unit/daemon/publish/real_victoria.h"

enum { SHOTS = 300 };

/* --- what was read back ----------------------------------------------------------------- */

/* A number of each shot, by its time; NAN: the store has none. */
struct column {
	double values[SHOTS + 1];
	int count;
	int twice;
};

static int64_t
point_ms(int64_t filed_ns, int64_t shot_no)
{
	return filed_ns / 1000000000 * 1000 + shot_no % 1000;
}

/* Takes one series: "values":[...],"timestamps":[...]. */
static void
take_series(struct column *column, const char *line)
{
	const char *value = strstr(line, "\"values\":[");
	const char *time = strstr(line, "\"timestamps\":[");

	assert_non_null(value);
	assert_non_null(time);
	value += strlen("\"values\":[") - 1;
	time += strlen("\"timestamps\":[") - 1;
	while (*value != ']' && *time != ']') {
		char *end;
		double number = strtod(value + 1, &end);
		value = end;
		int64_t ms = strtoll(time + 1, &end, 10);
		time = end;
		int64_t shot_no = ms % 1000;
		assert_in_range(shot_no, 1, SHOTS);
		column->twice += !isnan(column->values[shot_no]);
		column->values[shot_no] = number;
		column->count++;
	}
}

static struct column
read_column(struct real_victoria *victoria, const char *name)
{
	struct column column = {.count = 0};
	char match[128];

	for (int i = 0; i <= SHOTS; i++)
		column.values[i] = NAN;
	snprintf(match, sizeof(match), "%%7B__name__=%%22%s%%22%%7D", name);
	char *lines = victoria_export(victoria, match), *rest = lines, *line;
	while ((line = strsep(&rest, "\n")) != NULL)
		if (*line != '\0')
			take_series(&column, line);
	free(lines);
	return column;
}

struct comparison {
	const struct column *column;
	int feature, there;
};

static int
compare_shot(void *arg, const struct ledger_shot *shot)
{
	struct comparison *comparison = arg;
	double got = comparison->column->values[shot->shot_no];
	double wanted = shot->value[comparison->feature];

	assert_true(point_ms(shot->filed_at.ns, shot->shot_no) > 0);
	assert_int_equal(isnan(got), isnan(wanted));
	if (!isnan(wanted))
		assert_memory_equal(&got, &wanted, sizeof(got));
	comparison->there += !isnan(wanted);
	return 0;
}

static void
assert_store_equals_ledger(struct real_victoria *victoria, struct filled_ledger *filled)
{
	const int features[] = {FEATURE_HEAT_S, FEATURE_EXIT_TOP_C};
	struct ledger_read *read = ledger_read_open(filled->path, NULL);
	struct ledger_filter all = {0};
	struct column numbers = read_column(victoria, "shot_shot_no");

	assert_int_equal(numbers.count, SHOTS);
	for (int i = 1; i <= SHOTS; i++)
		assert_true(numbers.values[i] == (double)i);
	for (size_t i = 0; i < sizeof(features) / sizeof(features[0]); i++) {
		char name[64];
		snprintf(name, sizeof(name), "shot_%s", feature_get(features[i])->name);
		struct column column = read_column(victoria, name);
		struct comparison comparison = {&column, features[i], 0};
		assert_int_equal(ledger_read_shots(read, &all, false, compare_shot,
				     &comparison, &filled->error),
		    0);
		assert_true(comparison.there > SHOTS / 3);
		assert_int_equal(column.count, comparison.there);
		assert_int_equal(column.twice, 0);
	}
	ledger_read_close(read);
}

/* --- delivering --------------------------------------------------------------------------- */

static void
deliver(struct delivery *delivery, bool settled)
{
	struct error error;
	double retry_after_s;
	int steps = 0;

	while (delivery_step(delivery, &retry_after_s, &error) != DELIVERY_DONE ||
	       (settled && delivery_due_s(delivery) < INFINITY)) {
		assert_true(++steps < 5000);
		if (delivery_counts(delivery)->trouble != TROUBLE_NONE || settled)
			usleep(20000);
	}
}

static void
what_a_killed_store_had_acknowledged_is_there_in_the_end(void **state)
{
	struct real_victoria victoria;
	struct filled_ledger filled;
	(void)state;

	if (!victoria_there()) {
		print_message(
		    "there is no victoria-metrics: apt-get install victoria-metrics\n");
		skip();
	}
	victoria_prepare(&victoria);
	victoria_start(&victoria);
	filled_open(&filled, victoria.server.port);
	filled.settings->stores[0].kind = STORE_VICTORIAMETRICS;
	filled.settings->stores[0].settle_s = 12;
	filled_add_shots(&filled, SHOTS);
	struct delivery *delivery =
	    delivery_open(filled.settings, 0, filled.path, NULL, NULL, &filled.error);
	assert_non_null(delivery);

	deliver(delivery, false);
	assert_int_equal(delivery_counts(delivery)->settling, SHOTS);
	victoria_kill(&victoria);
	victoria_start(&victoria);
	struct column left = read_column(&victoria, "shot_shot_no");
	print_message(
	    "killed after the last 204: it has %d of %d shots\n", left.count, SHOTS);

	deliver(delivery, true);
	assert_int_equal(delivery_counts(delivery)->settling, 0);
	victoria_kill(&victoria);
	victoria_start(&victoria);
	print_message("sent again %lld times, settled, and killed once more\n",
	    (long long)delivery_counts(delivery)->again);
	assert_store_equals_ledger(&victoria, &filled);

	delivery_close(delivery);
	filled_close(&filled);
	victoria_close(&victoria);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(what_a_killed_store_had_acknowledged_is_there_in_the_end),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
