/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Every write and every fsync of everything that the ledger writes fails once: then
 * nothing of it is there, the rest is as it was, and trying again does it.
 */
#include "daemon/ledger/ledger.h"

#include "tests/unit/daemon/ledger/counting_vfs.h"
#include "tests/unit/daemon/ledger/ledger_pair.h"

enum { BASE_SHOTS = 3, FAULTS_MAX = 400 };

/* A thing to write, the `turn`th time; each time it changes something. */
struct operation {
	const char *name;
	int (*run)(int64_t turn);
};

static int
put_shot(int64_t turn)
{
	return fixture_write(
	    &fixture, ledger, 0, BASE_SHOTS + turn, BASE_SHOTS + turn, &error);
}

static int
put_recomputed(int64_t turn)
{
	struct shot *shot = fixture_shot(&fixture, 0, 1);
	bool changed;

	shot->value[FEATURE_HEAT_S] = (double)turn;
	int code =
	    ledger_put_recomputed(ledger, &fixture.settings, 1, shot, &changed, &error);
	shot_free(shot);
	return code;
}

static int
put_in_flight(int64_t turn)
{
	unsigned char bytes[6000] = {(unsigned char)turn, (unsigned char)(turn >> 8)};

	return ledger_put_in_flight(
	    ledger, "line-1", bytes, sizeof bytes, seconds(turn), &error);
}

static int
put_lot(int64_t turn)
{
	struct ledger_lot lot = {.name = "L-1",
	    .thickness_m = 0.001 + 1e-6 * (double)turn,
	    .stack_c = NAN,
	    .entered = seconds(turn)};

	snprintf(lot.material, sizeof lot.material, "m-%lld", (long long)turn);
	return ledger_put_lot(ledger, &lot, NULL, &error);
}

static int
put_context(int64_t turn)
{
	char tool[16];
	int64_t relabelled;

	snprintf(tool, sizeof tool, "T-%lld", (long long)turn);
	return ledger_put_context(ledger,
	    &(struct ledger_entry){
		"line-1", CONTEXT_TOOL, tool, fixture_time(0), seconds(turn)},
	    &relabelled, &error);
}

static int
put_setup(int64_t turn)
{
	static char text[64];
	int64_t id;

	snprintf(text, sizeof text, "[site]\nname = site-%lld\n", (long long)turn);
	fixture_text(&fixture, text);
	return ledger_put_setup(ledger, &fixture.settings, seconds(turn), &id, &error);
}

static int
put_calibration(int64_t turn)
{
	return ledger_put_calibration(ledger,
	    &(struct ledger_calibration){.line = "line-1",
		.device = "plc-1",
		.channel = "tool_2",
		.at = seconds(turn),
		.as_found = NAN,
		.as_left = (double)turn},
	    &error);
}

/* As many as the thermocouples of a tool. */
static int
put_calibrations(int64_t turn)
{
	enum { MANY = 12 };
	struct ledger_calibration list[MANY];

	for (int i = 0; i < MANY; i++)
		list[i] = (struct ledger_calibration){.line = "line-1",
		    .device = "plc-1",
		    .channel = "tool_2",
		    .at = seconds(turn + i),
		    .as_found = NAN,
		    .as_left = 1,
		    .reference = "a bath with a thermometer of known error, stirred"};
	return ledger_put_calibrations(ledger, list, MANY, &error);
}

/* The first brings the columns of its features, each later one a column more. */
static int
put_reference(int64_t turn)
{
	static struct ledger_reference_shot shots[20];
	static int runs;
	char name[32];
	int64_t id;

	snprintf(name, sizeof name, "run-%d", ++runs);
	for (int i = 0; i < 20; i++) {
		shots[i].shot_no = i + 1;
		shots[i].filed_at = fixture_time(i);
		for (int feature = 0; feature < FEATURE_COUNT; feature++)
			shots[i].value[feature] = feature < 40 + turn % 100 ? 1 : NAN;
	}
	return ledger_put_reference(ledger,
	    &(struct ledger_reference){
		.name = name, .line = "line-1", .frozen = seconds(turn)},
	    shots, 20, &id, &error);
}

static int
withdraw_reference(int64_t turn)
{
	char name[32];

	snprintf(name, sizeof name, "run-%lld",
	    (long long)sql_integer("SELECT min(CAST(substr(name, 5) AS INTEGER)) FROM"
				   " reference_run WHERE withdrawn_at IS NULL"));
	return ledger_withdraw_reference(ledger, name, seconds(turn), &error);
}

static int
put_health(int64_t turn)
{
	struct ledger_health row = {
	    "device plc-1", "ok", "", seconds(0), seconds(turn), turn, 0};
	struct ledger_device device = {.device = "plc-1",
	    .line = "line-1",
	    .bus = "10.0.0.5:502",
	    .state = "ok",
	    .at = seconds(turn),
	    .counts = {turn}};

	return ledger_put_health(ledger, &row, 1, &device, 1, &error);
}

/* What any of the operations changes. */
static int64_t
digest(void)
{
	return sql_integer(
	    "SELECT (SELECT count(*) + sum(change) + sum(CAST(heat_s AS INTEGER)) FROM "
	    "shot)"
	    " + (SELECT count(*) FROM earlier) + (SELECT count(*) FROM lot)"
	    " + (SELECT count(*) FROM calibration)"
	    " + (SELECT count(*) + count(withdrawn_at) FROM reference_run)"
	    " + (SELECT count(*) FROM reference_shot)"
	    " + (SELECT count(*) FROM context) + (SELECT count(*) FROM setup)"
	    " + (SELECT coalesce(sum(at), 0) FROM in_flight)"
	    " + (SELECT coalesce(sum(good), 0) FROM health)"
	    " + (SELECT coalesce(sum(scans), 0) FROM device)"
	    " + (SELECT count(*) + sum(length(bytes)) FROM trace)"
	    " + (SELECT count(*) FROM shot_channel)");
}

/* The fault has come; whatever it hit, this much holds. */
static void
assert_failed_whole(
    const struct operation *operation, int code, int64_t turn, int64_t before)
{
	if (code != ERROR_FULL && code != ERROR_IO)
		fail_msg("%s: %d: %s", operation->name, code, error.text);
	assert_int_equal(digest(), before);
	assert_intact();
	if (operation->run(turn) != 0)
		fail_msg("%s again: %s", operation->name, error.text);
	assert_true(digest() != before);
}

/* How many places there were to fail. */
static int
fail_everywhere(const struct operation *operation, int fault_code)
{
	int failed = 0;

	for (int place = 0; place < FAULTS_MAX; place++) {
		int64_t turn =
		    sql_integer("SELECT 1 + max(change) FROM shot") + 100 + place;
		int64_t before = digest();
		fault.left = place;
		fault.code = fault_code;
		int code = operation->run(turn);
		bool came = fault.code == SQLITE_OK;
		fault.code = SQLITE_OK;
		if (!came) {
			assert_int_equal(code, 0);
			return failed;
		}
		if (code != 0) { /* else it hit a checkpoint, which can wait */
			assert_failed_whole(operation, code, turn, before);
			failed++;
		}
	}
	fail_msg("%s: no end of writes", operation->name);
	return failed;
}

static void
a_write_that_fails_leaves_nothing_and_can_be_tried_again(void **state)
{
	static const struct operation operations[] = {
	    {"put_shot", put_shot},
	    {"put_recomputed", put_recomputed},
	    {"put_in_flight", put_in_flight},
	    {"put_lot", put_lot},
	    {"put_calibration", put_calibration},
	    {"put_calibrations", put_calibrations},
	    {"put_reference", put_reference},
	    {"withdraw_reference", withdraw_reference},
	    {"put_context", put_context},
	    {"put_setup", put_setup},
	    {"put_health", put_health},
	};
	int64_t relabelled;
	(void)state;

	fixture.trace_bytes = 5000;
	write_shots(0, 1, BASE_SHOTS);
	assert_int_equal(ledger_put_context(ledger,
			     &(struct ledger_entry){"line-1", CONTEXT_LOT, "L-1",
				 fixture_time(0), seconds(1)},
			     &relabelled, &error),
	    0);
	for (size_t i = 0; i < sizeof operations / sizeof operations[0]; i++) {
		int full = fail_everywhere(&operations[i], SQLITE_FULL);
		int io = fail_everywhere(&operations[i], SQLITE_IOERR_WRITE);
		print_message(
		    "%s: failed at %d and %d places\n", operations[i].name, full, io);
		/* One page is a frame's head, the page, and the fsync. */
		assert_true(full >= 3 && io >= 3);
	}
}

static void
forgetting_that_fails_forgets_nothing_and_can_be_tried_again(void **state)
{
	bool more;
	int failed = 0;
	(void)state;

	fixture.trace_bytes = 5000;
	write_shots(0, 1, 5);
	for (int place = 0; place < FAULTS_MAX; place++) {
		int64_t traces = sql_integer("SELECT count(*) FROM trace");
		int64_t no = 6 + place;
		fault.left = place;
		fault.code = place % 2 == 0 ? SQLITE_FULL : SQLITE_IOERR_WRITE;
		int code =
		    ledger_forget_traces(ledger, fixture_time(no - 4), &more, &error);
		bool came = fault.code == SQLITE_OK;
		fault.code = SQLITE_OK;
		if (code != 0) {
			failed++;
			assert_true(code == ERROR_FULL || code == ERROR_IO);
			assert_int_equal(sql_integer("SELECT count(*) FROM"
						     " pragma_integrity_check WHERE"
						     " integrity_check = 'ok'"),
			    1);
			assert_int_equal(
			    sql_integer("SELECT count(*) FROM trace"), traces);
			assert_int_equal(ledger_forget_traces(ledger,
					     fixture_time(no - 4), &more, &error),
			    0);
		}
		assert_int_equal(sql_integer("SELECT count(*) FROM trace"), traces - 1);
		if (!came)
			break;
		write_shots(0, no, no);
	}
	assert_true(failed >= 4 && failed < FAULTS_MAX);
}

static void
a_batch_in_haste_that_fails_is_there_whole_or_not_at_all(void **state)
{
	int64_t there = 0;
	int failed = 0;
	(void)state;

	fixture.trace_bytes = 3000;
	for (int place = 0; place < FAULTS_MAX; place++) {
		assert_int_equal(ledger_set_hasty(ledger, true, &error), 0);
		write_shots(0, there + 1, there + 3);
		fault.left = place;
		fault.code = place % 2 == 0 ? SQLITE_FULL : SQLITE_IOERR_WRITE;
		int code = ledger_set_hasty(ledger, false, &error);
		bool came = fault.code == SQLITE_OK;
		fault.code = SQLITE_OK;
		int64_t now = sql_integer("SELECT count(*) FROM shot");
		assert_true(now == there || now == there + 3);
		assert_intact();
		if (code == 0)
			assert_int_equal(now, there + 3);
		else
			failed++;
		there = now;
		assert_int_equal(ledger_set_hasty(ledger, false, &error), 0);
		write_shots(0, there + 1, there + 1); /* and all is well */
		there++;
		if (!came)
			break;
	}
	assert_true(failed >= 10 && failed < FAULTS_MAX);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    TEST(a_write_that_fails_leaves_nothing_and_can_be_tried_again),
	    TEST(forgetting_that_fails_forgets_nothing_and_can_be_tried_again),
	    TEST(a_batch_in_haste_that_fails_is_there_whole_or_not_at_all),
	};

	if (counting_vfs_register() != SQLITE_OK)
		return 1;
	return cmocka_run_group_tests_name("ledger, disk", tests, NULL, NULL);
}
