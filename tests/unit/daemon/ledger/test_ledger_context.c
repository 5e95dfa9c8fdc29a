/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What goes into the ledger beside the shots: context, events. */
#include "daemon/ledger/ledger.h"

#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "tests/unit/daemon/ledger/ledger_pair.h"

static int64_t
enter(enum context_key key, const char *value, struct wall from)
{
	const struct ledger_entry entry = {"line-1", key, value, from, seconds(999999)};
	int64_t relabelled = -1;

	if (ledger_put_context(ledger, &entry, &relabelled, &error) != 0)
		fail_msg("%s", error.text);
	return relabelled;
}

/* --- context -------------------------------------------------------------------------- */

static void
a_shot_gets_the_context_in_force_at_its_form_start(void **state)
{
	(void)state;

	enter(CONTEXT_TOOL, "T-117", fixture_time(0));
	enter(CONTEXT_TOOL, "T-204", fixture_time(3)); /* from exactly then on */
	enter(CONTEXT_LOT, "L-1", fixture_time(2));
	write_shots(0, 1, 4);
	write_shots(1, 1, 1); /* another line's */

	const struct shots *shots = read_shots((struct ledger_filter){0});
	assert_string_equal(shots->list[0].tool, "T-117");
	assert_string_equal(shots->list[0].lot, "");
	assert_string_equal(shots->list[1].tool, "T-117");
	assert_string_equal(shots->list[1].lot, "L-1");
	assert_string_equal(shots->list[2].tool, "T-204");
	assert_string_equal(shots->list[3].tool, "T-204");
	assert_string_equal(shots->list[4].line, "line-2");
	assert_string_equal(shots->list[4].tool, "");
}

static void
a_back_dated_entry_relabels_exactly_the_shots_it_covers(void **state)
{
	static const char *const tools[] = {"", "T-1", "T-1", "T-2", "T-2", "T-2"};
	(void)state;

	enter(CONTEXT_TOOL, "T-2", fixture_time(4));
	write_shots(0, 1, 6);
	write_shots(1, 3, 3);
	/* From shot 2 on, up to the next entry at shot 4. */
	assert_int_equal(enter(CONTEXT_TOOL, "T-1", fixture_time(2)), 2);

	const struct shots *shots =
	    read_shots((struct ledger_filter){.by_time = true, .line = "line-1"});
	assert_int_equal(shots->count, 6);
	for (int i = 0; i < 6; i++)
		assert_string_equal(shots->list[i].tool, tools[i]);
	assert_int_equal(shots->list[0].change, 1);
	assert_int_equal(shots->list[1].change, 8); /* seven were written before */
	assert_int_equal(shots->list[2].change, 9);
	assert_int_equal(shots->list[3].change, 4);
	assert_string_equal(
	    read_shots((struct ledger_filter){.line = "line-2"})->list[0].tool, "");

	/* A cursor at 7 sees them again, and only them. */
	shots = read_shots((struct ledger_filter){.after_change = 7});
	assert_int_equal(shots->count, 2);
	assert_int_equal(shots->list[0].shot_no, 2);
	assert_int_equal(shots->list[1].shot_no, 3);
}

static void
an_entry_that_changes_no_label_gives_no_new_change(void **state)
{
	(void)state;

	enter(CONTEXT_LOT, "L-1", fixture_time(0));
	write_shots(0, 1, 3);
	assert_int_equal(enter(CONTEXT_LOT, "L-1", fixture_time(2)), 0);
	assert_int_equal(enter(CONTEXT_NOTE, "changed a heater", fixture_time(2)), 0);
	assert_int_equal(
	    read_shots((struct ledger_filter){.after_change = 3})->count, 0);
}

static void
a_correction_at_the_same_time_wins_and_nothing_is_lost(void **state)
{
	(void)state;

	enter(CONTEXT_LOT, "L-1", fixture_time(1));
	write_shots(0, 1, 1);
	assert_int_equal(enter(CONTEXT_LOT, "L-2", fixture_time(1)), 1);
	write_shots(0, 2, 2);
	const struct shots *shots = read_shots((struct ledger_filter){.by_time = true});
	assert_string_equal(shots->list[0].lot, "L-2");
	assert_string_equal(shots->list[1].lot, "L-2");
	assert_int_equal(sql_integer("SELECT count(*) FROM context"), 2);
	/* And an empty value says that it is unknown from then on. */
	assert_int_equal(enter(CONTEXT_LOT, "", fixture_time(2)), 1);
	assert_string_equal(
	    read_shots((struct ledger_filter){.shot_no = 2})->list[0].lot, "");
}

static void
an_entered_recipe_holds_only_where_the_machine_tells_none(void **state)
{
	(void)state;

	enter(CONTEXT_RECIPE, "31", fixture_time(1));
	for (int no = 1; no <= 3; no++) {
		struct shot *shot = fixture_shot(&fixture, 0, no);
		shot->recipe = no == 2 ? 12 : -1;
		write_shot_and_free(shot);
	}
	const struct shots *shots = read_shots((struct ledger_filter){.by_time = true});
	assert_string_equal(shots->list[0].recipe, "31");
	assert_string_equal(shots->list[0].material, "hdpe");
	assert_string_equal(shots->list[1].recipe, "12");
	assert_string_equal(shots->list[1].material, "abs");

	assert_int_equal(enter(CONTEXT_RECIPE, " 12 ", fixture_time(1)), 2);
	shots = read_shots((struct ledger_filter){.by_time = true});
	assert_string_equal(shots->list[2].recipe, "12");
	assert_string_equal(shots->list[2].material, "abs");
	assert_int_equal(shots->list[1].change, 2);

	/* A recipe that the configuration does not know has no material. */
	assert_int_equal(enter(CONTEXT_RECIPE, "99", fixture_time(3)), 1);
	shots = read_shots((struct ledger_filter){.shot_no = 3});
	assert_string_equal(shots->list[0].recipe, "99");
	assert_string_equal(shots->list[0].material, "");
}

/* --- the material ------------------------------------------------------------------- */

static int64_t
enter_material(const char *name, const char *material)
{
	struct ledger_lot lot = {.name = name, .thickness_m = NAN, .stack_c = NAN};
	int64_t relabelled = -1;

	text_copy(lot.material, sizeof lot.material, material);
	if (ledger_put_lot(ledger, &lot, &relabelled, &error) != 0)
		fail_msg("%s", error.text);
	return relabelled;
}

/* Shots of recipe 12, which is of abs, some in lots. */
static void
expect_materials(const char *const *materials)
{
	const struct shots *shots =
	    read_shots((struct ledger_filter){.by_time = true, .line = "line-1"});

	for (int i = 0; i < shots->count; i++)
		assert_string_equal(shots->list[i].material, materials[i]);
}

static void
a_lot_of_its_own_material_labels_its_shots_with_it(void **state)
{
	static const char *const told[] = {"abs", "pmma", "pmma", "abs", "pmma"};
	static const char *const other[] = {"abs", "hdpe", "hdpe", "abs", "hdpe"};
	static const char *const as_recipe[] = {"abs", "abs", "abs", "abs", "abs"};
	(void)state;

	enter(CONTEXT_LOT, "L-1", fixture_time(2));
	enter(CONTEXT_LOT, "L-2", fixture_time(4));
	enter(CONTEXT_LOT, "L-1", fixture_time(5));
	write_shots(0, 1, 3);
	assert_int_equal(enter_material("L-1", "pmma"), 2); /* shots 2 and 3 */
	assert_int_equal(enter_material("L-1", "pmma"), 0);
	assert_int_equal(enter_material("L-7", "pmma"), 0); /* of no shot */
	write_shots(0, 4, 5);
	expect_materials(told);
	assert_int_equal(
	    read_shots((struct ledger_filter){.after_change = 3})->count, 4);
	assert_int_equal(enter_material("L-1", "hdpe"), 3);
	expect_materials(other);
	assert_int_equal(enter_material("L-1", ""), 3);
	expect_materials(as_recipe);
	assert_int_equal(sql_integer("SELECT count(*) FROM lot WHERE name = 'L-1'"), 4);
}

static void
a_lot_or_recipe_entered_late_brings_the_lots_material(void **state)
{
	static const char *const in_lot[] = {"abs", "pmma", "pmma"};
	static const char *const in_none[] = {"abs", "pmma", "abs"};
	static const char *const in_other[] = {"hdpe", "pmma", "hdpe"};
	(void)state;

	enter_material("L-1", "pmma");
	for (int no = 1; no <= 3; no++) {
		struct shot *shot = fixture_shot(&fixture, 0, no);
		shot->recipe = -1;
		write_shot_and_free(shot);
	}
	enter(CONTEXT_RECIPE, "12", fixture_time(1));
	assert_int_equal(enter(CONTEXT_LOT, "L-1", fixture_time(2)), 2);
	expect_materials(in_lot);
	assert_int_equal(enter(CONTEXT_LOT, "", fixture_time(3)), 1);
	expect_materials(in_none);
	assert_int_equal(enter(CONTEXT_RECIPE, "31", fixture_time(1)), 3);
	expect_materials(in_other);
	assert_int_equal(enter(CONTEXT_TOOL, "T-1", fixture_time(1)), 3);
	expect_materials(in_other);
}

static void
expect_refused(const char *line, enum context_key key, const char *value, int expected)
{
	const struct ledger_entry entry = {line, key, value, seconds(0), seconds(0)};
	int64_t relabelled;

	assert_int_equal(
	    ledger_put_context(ledger, &entry, &relabelled, &error), expected);
}

static void
an_entry_that_cannot_be_meant_is_refused(void **state)
{
	char long_name[80];
	(void)state;

	memset(long_name, 'x', sizeof long_name - 1);
	long_name[sizeof long_name - 1] = '\0';
	expect_refused("line-1", CONTEXT_RECIPE, "pond", ERROR_INVALID);
	assert_non_null(strstr(error.text, "'pond'"));
	expect_refused("line-1", CONTEXT_TOOL, long_name, ERROR_INVALID);
	expect_refused("line-1", CONTEXT_NOTE, "", ERROR_INVALID);
	expect_refused("line-9", CONTEXT_TOOL, "T", ERROR_NOT_FOUND);
	assert_non_null(strstr(error.text, "'line-9'"));
	assert_int_equal(sql_integer("SELECT count(*) FROM context"), 0);
}

static int
check_context(void *arg, const struct ledger_context *context)
{
	int *count = arg;

	assert_string_equal(context->line, "line-1");
	assert_string_equal(context->key, *count == 0 ? "tool" : "note");
	assert_string_equal(context->value, *count == 0 ? "T-1" : "Überlast, Zone 7");
	assert_int_equal(context->from.ns, seconds(*count).ns);
	assert_int_equal(context->entered.ns, seconds(999999).ns);
	++*count;
	return 0;
}

static void
context_entries_come_back_by_the_time_they_hold_from(void **state)
{
	int count = 0;
	(void)state;

	enter(CONTEXT_NOTE, "Überlast, Zone 7", seconds(1));
	enter(CONTEXT_TOOL, "T-1", seconds(0));
	assert_int_equal(
	    ledger_read_context(reader, "line-1", check_context, &count, &error), 0);
	assert_int_equal(count, 2);
	count = 0;
	assert_int_equal(
	    ledger_read_context(reader, NULL, check_context, &count, &error), 0);
	assert_int_equal(count, 2);
	assert_int_equal(
	    ledger_read_context(reader, "line-2", check_context, &count, &error), 0);
	assert_int_equal(count, 2);
}

/* --- who may write ------------------------------------------------------------------ */

/* Whether the last error says what to do. */
static bool
tells_what_to_do(void)
{
	if (strstr(error.text, "must be there and writable for user ") &&
	    strstr(error.text, "; join the group") &&
	    strstr(error.text, "Permission denied"))
		return true;
	print_message("%s\n", error.text);
	return false;
}

/* As somebody who may read the ledger and not write it. */
static bool
is_told_what_to_do(void)
{
	const struct ledger_entry entry = {
	    "line-1", CONTEXT_LOT, "A", seconds(1), seconds(2)};
	int64_t relabelled;

	/* root may do anything: as nobody, whose number Debian has fixed */
	if (geteuid() == 0 && seteuid(65534) != 0)
		return false;
	struct ledger *other = ledger_open(fixture.path, NULL, &error);
	if (other && ledger_put_context(other, &entry, &relabelled, &error) == 0)
		return false;
	return tells_what_to_do() && ledger_lock(fixture.path, &error) != 0 &&
	       tells_what_to_do();
}

static void
who_may_not_write_is_told_what_to_do(void **state)
{
	int status;
	(void)state;

	/* once the file and its folder are shut, once the folder alone */
	for (int i = 0; i < 2; i++) {
		assert_int_equal(chmod(fixture.path, i == 0 ? 0444 : 0666), 0);
		assert_int_equal(chmod(fixture.directory, 0555), 0);
		pid_t child = fork();
		assert_true(child >= 0);
		if (child == 0)
			_exit(is_told_what_to_do() ? 0 : 1);
		assert_int_equal(waitpid(child, &status, 0), child);
		assert_int_equal(chmod(fixture.directory, 0755), 0);
		assert_int_equal(status, 0);
	}
	assert_null(ledger_open("/nowhere/ledger.db", NULL, &error));
	assert_non_null(strstr(error.text, "the ledger's folder must be there"));
	assert_int_equal(ledger_lock("/nowhere/ledger.db", &error), ERROR_IO);
	assert_non_null(strstr(error.text, "the ledger's folder must be there"));
}

/* --- events --------------------------------------------------------------- */

struct events {
	int count;
	struct ledger_event list[8];
};

static int
keep_event(void *arg, const struct ledger_event *event)
{
	struct events *events = arg;

	assert_true(events->count < 8);
	events->list[events->count++] = *event;
	return 0;
}

static void
events_and_shots_share_one_rising_sequence(void **state)
{
	static struct events events;
	(void)state;

	assert_int_equal(ledger_put_event(ledger, NULL, seconds(1), "start",
			     "evensoakd starts", &error),
	    0);
	write_shots(0, 1, 1);
	assert_int_equal(ledger_put_event(ledger, "line-1", seconds(3), "count_jump",
			     "the counter went from 7 to 9", &error),
	    0);
	assert_int_equal(
	    ledger_put_event(ledger, "line-9", seconds(3), "x", "y", &error),
	    ERROR_NOT_FOUND);

	events.count = 0;
	struct ledger_filter filter = {0};
	assert_int_equal(
	    ledger_read_events(reader, &filter, keep_event, &events, &error), 0);
	assert_int_equal(events.count, 2);
	assert_int_equal(events.list[0].change, 1);
	assert_string_equal(events.list[0].line, "");
	assert_int_equal(events.list[1].change, 3);
	assert_string_equal(events.list[1].line, "line-1");
	assert_string_equal(events.list[1].kind, "count_jump");
	assert_string_equal(events.list[1].text, "the counter went from 7 to 9");
	assert_int_equal(events.list[1].at.ns, seconds(3).ns);
	assert_int_equal(read_shots(filter)->list[0].change, 2);

	events.count = 0;
	filter = (struct ledger_filter){.newest_first = true, .limit = 1};
	assert_int_equal(
	    ledger_read_events(reader, &filter, keep_event, &events, &error), 0);
	assert_int_equal(events.count, 1);
	assert_int_equal(events.list[0].change, 3);

	events.count = 0;
	filter = (struct ledger_filter){.by_time = true, .to = seconds(3)};
	assert_int_equal(
	    ledger_read_events(reader, &filter, keep_event, &events, &error), 0);
	assert_int_equal(events.count, 1);
	assert_int_equal(events.list[0].change, 1);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    TEST(a_shot_gets_the_context_in_force_at_its_form_start),
	    TEST(a_back_dated_entry_relabels_exactly_the_shots_it_covers),
	    TEST(who_may_not_write_is_told_what_to_do),
	    TEST(an_entry_that_changes_no_label_gives_no_new_change),
	    TEST(a_correction_at_the_same_time_wins_and_nothing_is_lost),
	    TEST(an_entered_recipe_holds_only_where_the_machine_tells_none),
	    TEST(a_lot_of_its_own_material_labels_its_shots_with_it),
	    TEST(a_lot_or_recipe_entered_late_brings_the_lots_material),
	    TEST(an_entry_that_cannot_be_meant_is_refused),
	    TEST(context_entries_come_back_by_the_time_they_hold_from),
	    TEST(events_and_shots_share_one_rising_sequence),
	};
	return cmocka_run_group_tests_name("ledger context", tests, NULL, NULL);
}
