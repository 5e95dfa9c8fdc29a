/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which configurations and definitions were in force, and from when. */
#include "daemon/ledger/ledger_read.h"

#include "tests/unit/daemon/ledger/ledger_pair.h"

enum { MOST = 600 };

struct seen {
	struct ledger_setup setups[MOST];
	struct ledger_definition definitions[MOST];
	int count;
};

static int
keep_setup(void *arg, const struct ledger_setup *setup)
{
	struct seen *seen = arg;

	assert_true(seen->count < MOST);
	seen->setups[seen->count++] = *setup;
	return 0;
}

static int
keep_definition(void *arg, const struct ledger_definition *definition)
{
	struct seen *seen = arg;

	assert_true(seen->count < MOST);
	seen->definitions[seen->count++] = *definition;
	return 0;
}

static struct seen seen;

static void
read_setups(void)
{
	seen.count = 0;
	assert_int_equal(ledger_read_setups(reader, keep_setup, &seen, &error), 0);
}

static void
set_ups_come_oldest_first_with_their_times(void **state)
{
	static char text[] = "[site]\nname = another\n";
	int64_t id;

	(void)state;
	read_setups();
	assert_int_equal(seen.count, 1);
	assert_int_equal(seen.setups[0].id, setup_id);
	assert_int_equal(seen.setups[0].filed.ns, seconds(0).ns);
	assert_string_equal(seen.setups[0].hash, fixture.settings.hash);
	assert_string_equal(seen.setups[0].program, EVENSOAK_VERSION);
	fixture_text(&fixture, text);
	assert_int_equal(
	    ledger_put_setup(ledger, &fixture.settings, seconds(90), &id, &error), 0);
	read_setups();
	assert_int_equal(seen.count, 2);
	assert_int_equal(seen.setups[1].id, id);
	assert_int_equal(seen.setups[1].filed.ns, seconds(90).ns);
	assert_string_equal(seen.setups[1].hash, fixture.settings.hash);
}

static void
more_set_ups_than_a_batch_are_all_read(void **state)
{
	(void)state;
	sql_run("WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n"
		" WHERE i < 400) INSERT INTO setup (filed_at, program, site, path,"
		" hash, text) SELECT i, '1', 's', 'p', 'h', 't' FROM n");
	read_setups();
	assert_int_equal(seen.count, 401);
	for (int i = 1; i < seen.count; i++)
		assert_true(seen.setups[i].id > seen.setups[i - 1].id);
}

static void
a_changed_definition_is_told_with_its_beginning(void **state)
{
	int of_cycle = 0;

	(void)state;
	sql_run("INSERT INTO setup (filed_at, program, site, path, hash, text)"
		" VALUES (5000, '2', 's', 'p', 'h', 't')");
	sql_run("INSERT INTO feature (name, version, unit, meaning, setup)"
		" SELECT 'cycle_s', 7, 's', 'otherwise', max(id) FROM setup");
	sql_run("INSERT INTO feature (name, version, unit, meaning, setup)"
		" SELECT 'of_a_later_program', 1, 's', 'what', max(id) FROM setup");
	seen.count = 0;
	assert_int_equal(
	    ledger_read_definitions(reader, keep_definition, &seen, &error), 0);
	assert_int_equal(seen.count, FIXTURE_FEATURES + 1);
	for (int i = 0; i < seen.count; i++) {
		const struct ledger_definition *one = &seen.definitions[i];
		if (one->feature != FEATURE_CYCLE_S)
			continue;
		assert_int_equal(one->version,
		    of_cycle == 0 ? feature_get(FEATURE_CYCLE_S)->version : 7);
		assert_int_equal(one->since.ns, of_cycle == 0 ? seconds(0).ns : 5000);
		assert_true(
		    of_cycle == 0 ? one->setup == setup_id : one->setup > setup_id);
		of_cycle++;
	}
	assert_int_equal(of_cycle, 2);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    TEST(set_ups_come_oldest_first_with_their_times),
	    TEST(more_set_ups_than_a_batch_are_all_read),
	    TEST(a_changed_definition_is_told_with_its_beginning),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
