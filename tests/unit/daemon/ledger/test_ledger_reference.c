/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reference runs: frozen once, read again whatever becomes of the shots. */
#include "daemon/ledger/ledger.h"

#include "tests/unit/daemon/ledger/counting_vfs.h"
#include "tests/unit/daemon/ledger/ledger_pair.h"

enum { RUN = 300 }; /* more than a batch */

static struct ledger_reference_shot frozen[RUN];

static struct ledger_reference
sound(void)
{
	return (struct ledger_reference){
	    .name = "first parts",
	    .line = "line-1",
	    .recipe = "12",
	    .tool = "T-117",
	    .from = fixture_time(1),
	    .to = fixture_time(RUN),
	    .frozen = seconds(99999),
	    .setup = setup_id,
	    .note = "after the new elements",
	};
}

/* Shots with the features up to cycle_s alone. */
static void
make_shots(void)
{
	for (int i = 0; i < RUN; i++) {
		frozen[i] = (struct ledger_reference_shot){
		    .shot_no = i + 1, .filed_at = fixture_time(i + 1)};
		snprintf(frozen[i].lot, sizeof frozen[i].lot, "%s",
		    i < RUN / 2 ? "L-1" : "");
		for (int id = 0; id < FEATURE_COUNT; id++)
			frozen[i].value[id] = id <= FEATURE_CYCLE_S && id != i
			                          ? 100 + fixture_random(&fixture)
			                          : NAN;
	}
}

static int64_t
freeze(struct ledger_reference reference, size_t count)
{
	int64_t id = 0;

	if (ledger_put_reference(ledger, &reference, frozen, count, &id, &error) != 0)
		fail_msg("%s", error.text);
	return id;
}

struct seen {
	int count;
	struct ledger_reference list[4];
	char text[4][6][64];
};

static int
see(void *arg, const struct ledger_reference *reference)
{
	struct seen *seen = arg;
	const char *const texts[] = {reference->name, reference->line, reference->side,
	    reference->recipe, reference->tool, reference->note};

	assert_true(seen->count < 4);
	for (int i = 0; i < 6; i++)
		text_copy(seen->text[seen->count][i], 64, texts[i]);
	seen->list[seen->count++] = *reference;
	return 0;
}

static const struct seen *
read_runs(void)
{
	static struct seen seen;

	seen.count = 0;
	if (ledger_read_references(reader, see, &seen, &error) != 0)
		fail_msg("%s", error.text);
	return &seen;
}

static int
same_shot(void *arg, const struct ledger_reference_shot *shot)
{
	int *count = arg;
	const struct ledger_reference_shot *was = &frozen[*count];

	assert_true(*count < RUN);
	assert_int_equal(shot->shot_no, was->shot_no);
	assert_int_equal(shot->filed_at.ns, was->filed_at.ns);
	assert_string_equal(shot->lot, was->lot);
	for (int id = 0; id < FEATURE_COUNT; id++)
		assert_true(isnan(was->value[id]) ? isnan(shot->value[id])
						  : shot->value[id] == was->value[id]);
	++*count;
	return 0;
}

static int
read_same(int64_t id)
{
	int count = 0;

	if (ledger_read_reference_shots(reader, id, same_shot, &count, &error) != 0)
		fail_msg("%s", error.text);
	return count;
}

static void
a_run_comes_back_to_the_last_bit_in_the_order_of_time(void **state)
{
	(void)state;

	make_shots();
	assert_int_equal(read_runs()->count, 0);
	int64_t id = freeze(sound(), RUN);
	assert_int_equal(id, 1);
	const struct seen *seen = read_runs();
	static const char *const texts[] = {
	    "first parts", "line-1", "", "12", "T-117", "after the new elements"};
	assert_int_equal(seen->count, 1);
	for (int i = 0; i < 6; i++)
		assert_string_equal(seen->text[0][i], texts[i]);
	assert_int_equal(seen->list[0].id, id);
	assert_int_equal(seen->list[0].shots, RUN);
	assert_int_equal(seen->list[0].setup, setup_id);
	assert_int_equal(seen->list[0].from.ns, fixture_time(1).ns);
	assert_int_equal(seen->list[0].to.ns, fixture_time(RUN).ns);
	assert_int_equal(seen->list[0].frozen.ns, seconds(99999).ns);
	assert_int_equal(read_same(id), RUN);
	assert_int_equal(read_same(id + 1), 0);
}

static void
features_that_come_later_leave_it_as_it_was(void **state)
{
	(void)state;

	make_shots();
	int64_t first = freeze(sound(), RUN);
	int64_t columns =
	    sql_integer("SELECT count(*) FROM pragma_table_info('reference_shot')");
	struct ledger_reference next = sound();
	next.name = "second";
	frozen[7].value[FEATURE_WATER_RISE_FIRST + 3] = 4.5;
	int64_t second = freeze(next, 8);
	assert_int_equal(
	    sql_integer("SELECT count(*) FROM pragma_table_info('reference_shot')"),
	    columns + 1);
	assert_int_equal(read_same(second), 8);
	frozen[7].value[FEATURE_WATER_RISE_FIRST + 3] = NAN;
	assert_int_equal(read_same(first), RUN);
	assert_int_equal(read_runs()->list[0].id, second); /* the newest first */
}

/* A shot made again, or with another label, is not what was frozen. */
static void
what_becomes_of_the_shots_is_nothing_to_it(void **state)
{
	(void)state;

	make_shots();
	write_shots(0, 1, 3);
	int64_t id = freeze(sound(), 3), relabelled;
	struct shot *again = fixture_shot(&fixture, 0, 2);
	bool changed;
	assert_int_equal(ledger_put_recomputed(
			     ledger, &fixture.settings, 2, again, &changed, &error),
	    0);
	assert_true(changed);
	assert_int_equal(ledger_put_context(ledger,
			     &(struct ledger_entry){
				 "line-1", CONTEXT_LOT, "L-9", seconds(0), seconds(1)},
			     &relabelled, &error),
	    0);
	assert_int_equal(relabelled, 3);
	assert_int_equal(read_same(id), 3);
	shot_free(again);
}

static void
any_sql_tool_reads_it(void **state)
{
	(void)state;

	make_shots();
	frozen[1].value[FEATURE_CYCLE_S] = 181;
	freeze(sound(), 2);
	assert_int_equal(sql_integer("SELECT cycle_s FROM reference_shot JOIN"
				     " reference_run AS r ON r.id = run"
				     " WHERE name = 'first parts' AND shot_no = 2"),
	    181);
	/* A run of 200 shots, 60 features: some 600 bytes a shot. */
	assert_in_range(
	    sql_integer("SELECT sum(pgsize) / 300 FROM dbstat WHERE name IN"
			" ('reference_shot', 'sqlite_autoindex_reference_shot_1')"),
	    1, 1000);
}

static void
one_that_cannot_be_is_refused_whole(void **state)
{
	struct ledger_reference nameless = sound(), elsewhere = sound(),
				longest = sound();
	char note[300];
	int64_t id = 77;
	(void)state;

	make_shots();
	nameless.name = "";
	elsewhere.line = "line-9";
	memset(note, 'x', sizeof note - 1);
	note[sizeof note - 1] = '\0';
	longest.note = note;
	const struct {
		struct ledger_reference reference;
		size_t count;
		int code;
		const char *why;
	} cases[] = {
	    {nameless, 3, ERROR_INVALID, "its name is empty"},
	    {sound(), 0, ERROR_INVALID, "it has no shots"},
	    {elsewhere, 3, ERROR_NOT_FOUND, "line-9"},
	    {longest, 3, ERROR_INVALID, "its note is longer than 255 bytes"},
	};
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		assert_int_equal(ledger_put_reference(ledger, &cases[i].reference,
				     frozen, cases[i].count, &id, &error),
		    cases[i].code);
		if (strstr(error.text, cases[i].why) == NULL)
			fail_msg("%s", error.text);
	}
	freeze(sound(), 3);
	struct ledger_reference twice = sound();
	assert_int_equal(ledger_put_reference(ledger, &twice, frozen, 2, &id, &error),
	    ERROR_INVALID);
	assert_non_null(strstr(error.text,
	    "freeze reference run 'first parts': there is one of that name"));
	/* The same shot twice: nothing of it is there. */
	frozen[1].shot_no = frozen[0].shot_no;
	twice.name = "twice";
	assert_int_not_equal(
	    ledger_put_reference(ledger, &twice, frozen, 2, &id, &error), 0);
	assert_int_equal(id, 77);
	assert_int_equal(read_runs()->count, 1);
	assert_int_equal(sql_integer("SELECT count(*) FROM reference_shot"), 3);
}

static void
one_that_is_withdrawn_stays_on_file_with_the_time(void **state)
{
	struct ledger_reference second = sound();
	(void)state;

	make_shots();
	int64_t id = freeze(sound(), 3);
	second.name = "second";
	freeze(second, 2);
	assert_int_equal(
	    ledger_withdraw_reference(ledger, "first parts", seconds(500), &error), 0);
	const struct seen *seen = read_runs();
	assert_int_equal(seen->count, 2);
	assert_int_equal(seen->list[0].withdrawn.ns, 0);
	assert_int_equal(seen->list[1].withdrawn.ns, seconds(500).ns);
	assert_int_equal(seen->list[1].frozen.ns, seconds(99999).ns);
	assert_int_equal(read_same(id), 3);
	/* Once is enough, and the first time stands. */
	assert_int_equal(
	    ledger_withdraw_reference(ledger, "first parts", seconds(600), &error),
	    ERROR_INVALID);
	assert_string_equal(error.text,
	    "withdraw reference run 'first parts': it was withdrawn before");
	assert_int_equal(
	    ledger_withdraw_reference(ledger, "third", seconds(600), &error),
	    ERROR_NOT_FOUND);
	assert_non_null(strstr(error.text, "reference run 'third'"));
	assert_int_equal(read_runs()->list[1].withdrawn.ns, seconds(500).ns);
	/* Its name is not given to another. */
	struct ledger_reference again = sound();
	assert_int_equal(ledger_put_reference(ledger, &again, frozen, 3, &id, &error),
	    ERROR_INVALID);
}

/* Every write fails once: the run is there whole, or not at all. */
static void
a_full_disk_leaves_nothing_half_frozen(void **state)
{
	int64_t id;
	int fail_at = 0, code;
	(void)state;

	make_shots();
	do {
		struct ledger_reference reference = sound();
		fault.code = SQLITE_FULL;
		fault.left = fail_at++;
		code =
		    ledger_put_reference(ledger, &reference, frozen, 60, &id, &error);
		bool met = fault.code == SQLITE_OK;
		fault.code = SQLITE_OK;
		assert_true(code == 0 || code == ERROR_FULL);
		assert_true(code == 0 || met);
		assert_int_equal(read_runs()->count, code == 0);
		assert_int_equal(sql_integer("SELECT count(*) FROM reference_shot"),
		    code == 0 ? 60 : 0);
		assert_true(fail_at < 1000);
	} while (code != 0);
	assert_true(fail_at > 5);
	assert_int_equal(read_same(id), 60);
	assert_intact();
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    TEST(a_run_comes_back_to_the_last_bit_in_the_order_of_time),
	    TEST(features_that_come_later_leave_it_as_it_was),
	    TEST(what_becomes_of_the_shots_is_nothing_to_it),
	    TEST(any_sql_tool_reads_it),
	    TEST(one_that_cannot_be_is_refused_whole),
	    TEST(one_that_is_withdrawn_stays_on_file_with_the_time),
	    TEST(a_full_disk_leaves_nothing_half_frozen),
	};

	if (counting_vfs_register() != SQLITE_OK)
		return 1;
	return cmocka_run_group_tests_name("ledger, reference runs", tests, NULL, NULL);
}
