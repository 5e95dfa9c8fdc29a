/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The power goes after any write of a session: what was acknowledged is there, nothing is
 * there by half, and the ledger opens and goes on.
 */
#include "daemon/ledger/ledger.h"

#include "tests/unit/daemon/ledger/ledger_pair.h"
#include "tests/unit/daemon/ledger/power_vfs.h"
#include "tests/unit/seed.h"

#include <time.h>

#include "daemon/ledger/ledger_inside.h"
#include "daemon/ledger/schema.h"

enum { MARKS_MAX = 200, LOSSES_EACH = 4 };

/* What had been acknowledged when so many steps had been taken. */
struct mark {
	size_t steps;
	int64_t shots, contexts, cursor;
	bool hasty; /* promises nothing */
};
static struct {
	struct mark list[MARKS_MAX];
	size_t count;
	struct mark now;
} marks;

static void
acknowledge(void)
{
	assert_true(marks.count < MARKS_MAX);
	marks.now.steps = power.count;
	marks.list[marks.count++] = marks.now;
}

/* --- the session ------------------------------------------------------------------------ */

static void
put_one_shot(void)
{
	write_shots(0, marks.now.shots + 1, marks.now.shots + 1);
	marks.now.shots++;
	acknowledge();
}

static void
put_tool(void)
{
	char tool[32];
	int64_t relabelled;

	snprintf(tool, sizeof tool, "T-%lld", (long long)marks.now.contexts + 1);
	assert_int_equal(ledger_put_context(ledger,
			     &(struct ledger_entry){"line-1", CONTEXT_TOOL, tool,
				 fixture_time(0), seconds(marks.now.contexts)},
			     &relabelled, &error),
	    0);
	assert_int_equal(relabelled, marks.now.shots);
	marks.now.contexts++;
	acknowledge();
}

static void
put_what_waits_for_no_disk(void)
{
	struct ledger_health row = {
	    "daemon", "ok", "runs", seconds(0), seconds(0), 1, 0};
	unsigned char sheets[3000] = {1};

	marks.now.cursor = sql_integer("SELECT max(change) FROM shot");
	acknowledge(); /* it may be there from now on */
	assert_int_equal(
	    ledger_set_delivered(ledger, "plant", "shot",
		&(struct ledger_delivered){.change = marks.now.cursor}, &error),
	    0);
	assert_int_equal(ledger_put_in_flight(ledger, "line-1", sheets, sizeof sheets,
			     seconds(1), &error),
	    0);
	assert_int_equal(ledger_put_health(ledger, &row, 1, NULL, 0, &error), 0);
	acknowledge();
}

/* The WAL is begun anew without being cut. */
static void
checkpoint_beside(void)
{
	assert_int_equal(
	    database_run(ledger->db, "PRAGMA wal_checkpoint(PASSIVE)", &error), 0);
	acknowledge();
}

static void
put_in_haste(void)
{
	marks.now.hasty = true;
	acknowledge();
	assert_int_equal(ledger_set_hasty(ledger, true, &error), 0);
	for (int i = 0; i < 3; i++)
		put_one_shot();
	assert_int_equal(ledger_set_hasty(ledger, false, &error), 0);
	marks.now.hasty = false;
	acknowledge();
}

static void
open_ledger(void)
{
	ledger = ledger_open(fixture.path, NULL, &error);
	if (ledger == NULL || ledger_put_setup(ledger, &fixture.settings, seconds(0),
				  &setup_id, &error) != 0)
		fail_msg("%s", error.text);
	acknowledge();
}

static void
close_ledger(void)
{
	ledger_close(ledger);
	ledger = NULL;
	acknowledge();
}

static void
play_session(void)
{
	power.on = true;
	acknowledge();
	open_ledger();
	put_one_shot();
	put_tool();
	put_one_shot();
	put_what_waits_for_no_disk();
	put_one_shot();
	checkpoint_beside();
	put_what_waits_for_no_disk();
	put_one_shot();
	put_tool();
	assert_int_equal(ledger_checkpoint(ledger, &error), 0);
	put_one_shot();
	put_in_haste();
	put_one_shot();
	put_what_waits_for_no_disk();
	close_ledger();
	open_ledger();
	put_one_shot();
	close_ledger();
	power.on = false;
}

/* --- after it ------------------------------------------------------------------------------ */

static const struct mark *
mark_before(size_t steps)
{
	size_t i = marks.count - 1;

	while (i > 0 && marks.list[i].steps > steps)
		i--;
	return &marks.list[i];
}

static char where[80];

static void
assert_integer(const char *sql, int64_t least, int64_t most)
{
	int64_t value = 0;

	if (database_integer(ledger->db, sql, &value, &error) != 0)
		fail_msg("%s: %s", where, error.text);
	if (value < least || value > most)
		fail_msg("%s: %lld, not %lld to %lld: %s", where, (long long)value,
		    (long long)least, (long long)most, sql);
}

/* Everything that the header of the ledger promises.  One shot and one entry more may be
 * there: written, but not acknowledged yet. */
static void
assert_kept(const struct mark *mark)
{
	assert_integer("SELECT count(*) FROM shot", mark->shots, mark->shots + 1);
	assert_integer("SELECT count(*) - coalesce(max(shot_no), 0) FROM shot", 0, 0);
	assert_integer("SELECT count(*) - count(DISTINCT shot_no) FROM shot", 0, 0);
	assert_integer(
	    "SELECT count(*) FROM context", mark->contexts, mark->contexts + 1);
	assert_integer("SELECT count(*) FROM shot WHERE tool IS NOT"
		       " (SELECT value FROM context ORDER BY id DESC LIMIT 1)",
	    0, 0);
	assert_integer(
	    "SELECT coalesce((SELECT change FROM delivery), 0)", 0, mark->cursor);
	assert_integer("SELECT coalesce((SELECT change FROM delivery), 0)"
		       " > coalesce((SELECT max(change) FROM shot), 0)",
	    0, 0);
	assert_integer("SELECT count(*) FROM pragma_integrity_check"
		       " WHERE integrity_check <> 'ok'",
	    0, 0);
	assert_integer("SELECT count(*) FROM pragma_foreign_key_check", 0, 0);
	assert_integer("SELECT count(*) - 90 * (SELECT count(*) FROM shot)"
		       " FROM shot_channel",
	    0, 0);
	assert_integer(
	    "SELECT count(*) - (SELECT count(*) FROM shot) FROM trace", 0, 0);
}

static void
assert_goes_on(void)
{
	if (ledger_put_setup(
		ledger, &fixture.settings, seconds(0), &setup_id, &error) != 0)
		fail_msg("%s: %s", where, error.text);
	write_shots(0, 100, 100);
}

static void
lose_power(size_t steps, enum power_loss loss, uint64_t seed)
{
	snprintf(where, sizeof where, "after %zu steps, loss %d, seed %llu", steps,
	    (int)loss, (unsigned long long)seed);
	power_lay(fixture.path, steps, loss, seed);
	ledger = ledger_open(fixture.path, NULL, &error);
	if (ledger == NULL)
		fail_msg("%s: %s", where, error.text);
	assert_kept(mark_before(steps));
	if (seed % 5 == 0)
		assert_goes_on();
	ledger_close(ledger);
	ledger = NULL;
}

static void
what_was_acknowledged_survives_a_loss_of_power_at_any_write(void **state)
{
	uint64_t seed = seed_take((unsigned)time(NULL));
	size_t lost = 0;
	(void)state;

	fixture.trace_bytes = 3000;
	play_session();
	print_message("%zu writes, fsyncs and deletions\n", power.count);
	assert_in_range(power.count, 300, POWER_STEPS_MAX);
	for (size_t steps = 0; steps <= power.count; steps += FIXTURE_SPARSELY) {
		if (mark_before(steps)->hasty)
			continue;
		/* Until it is set up, opening takes long. */
		int count = steps < marks.list[1].steps ? 1 : LOSSES_EACH;
		for (int i = 0; i < count; i++) {
			uint64_t this = seed + lost++;
			lose_power(steps, (enum power_loss)(this % LOSSES), this);
		}
	}
	print_message("%zu losses of power\n", lost);
	power_release();
}

static int
make_place(void **state)
{
	(void)state;
	return fixture_init(&fixture) ? 0 : -1;
}

static int
remove_place(void **state)
{
	(void)state;
	ledger_close(ledger);
	fixture_release(&fixture);
	return 0;
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test_setup_teardown(
		what_was_acknowledged_survives_a_loss_of_power_at_any_write, make_place,
		remove_place),
	};

	if (power_vfs_register() != SQLITE_OK)
		return 1;
	return cmocka_run_group_tests_name("ledger, power", tests, NULL, NULL);
}
