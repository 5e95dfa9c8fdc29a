/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Everything that is written into a ledger, each as one call that can be made again and
 * again, for tests that let it fail.  For one test program, on the ledger of
 * ledger_pair.h.
 */
#ifndef TESTS_UNIT_DAEMON_LEDGER_LEDGER_OPERATIONS_H
#define TESTS_UNIT_DAEMON_LEDGER_LEDGER_OPERATIONS_H

#include "daemon/ledger/ledger_shift.h"
#include "tests/unit/daemon/ledger/ledger_pair.h"

enum { BASE_SHOTS = 3 }; /* on file before */

/* A thing to write, the `turn`th time; each time it changes something. */
struct operation {
	const char *name;
	int (*run)(int64_t turn);
};

static inline int
put_shot(int64_t turn)
{
	return fixture_write(
	    &fixture, ledger, 0, BASE_SHOTS + turn, BASE_SHOTS + turn, &error);
}

static inline int
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

static inline int
put_in_flight(int64_t turn)
{
	unsigned char bytes[6000] = {(unsigned char)turn, (unsigned char)(turn >> 8)};

	return ledger_put_in_flight(
	    ledger, "line-1", bytes, sizeof bytes, seconds(turn), &error);
}

static inline int
put_lot(int64_t turn)
{
	struct ledger_lot lot = {.name = "L-1",
	    .thickness_m = 0.001 + 1e-6 * (double)turn,
	    .stack_c = NAN,
	    .entered = seconds(turn)};

	snprintf(lot.material, sizeof lot.material, "m-%lld", (long long)turn);
	return ledger_put_lot(ledger, &lot, NULL, &error);
}

static inline int
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

static inline int
put_setup(int64_t turn)
{
	static char text[64];
	int64_t id;

	snprintf(text, sizeof text, "[site]\nname = site-%lld\n", (long long)turn);
	fixture_text(&fixture, text);
	return ledger_put_setup(ledger, &fixture.settings, seconds(turn), &id, &error);
}

static inline int
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
static inline int
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
static inline int
put_reference(int64_t turn)
{
	static struct ledger_reference_shot shots[20];
	static int runs;
	char name[32];
	int64_t id;

	snprintf(name, sizeof name, "run-%d", runs + 1);
	for (int i = 0; i < 20; i++) {
		shots[i].shot_no = i + 1;
		shots[i].filed_at = fixture_time(i);
		for (int feature = 0; feature < FEATURE_COUNT; feature++)
			shots[i].value[feature] = feature < 40 + turn % 100 ? 1 : NAN;
	}
	int code = ledger_put_reference(ledger,
	    &(struct ledger_reference){
		.name = name, .line = "line-1", .frozen = seconds(turn)},
	    shots, 20, &id, &error);
	if (code == 0)
		runs++;
	return code;
}

static inline int
withdraw_reference(int64_t turn)
{
	static int withdrawn;
	char name[32];

	snprintf(name, sizeof name, "run-%d", withdrawn + 1);
	int code = ledger_withdraw_reference(ledger, name, seconds(turn), &error);
	if (code == 0)
		withdrawn++;
	return code;
}

static inline int
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

static inline int
put_event(int64_t turn)
{
	return ledger_put_event(
	    ledger, "line-1", seconds(turn), "start", "evensoakd started", &error);
}

static inline int
put_refusal(int64_t turn)
{
	static int64_t change;

	return ledger_put_refusal(ledger,
	    &(struct ledger_refusal){
		"plant", ++change, "shot,line=line-1 x=1", "400", seconds(turn)},
	    &error);
}

static inline int
set_delivered(int64_t turn)
{
	static int64_t change;

	return ledger_set_delivered(ledger, "plant", "shot",
	    &(struct ledger_delivered){.change = ++change, .at = seconds(turn)},
	    &error);
}

/* Of another store, whose cursor moves by nothing else. */
static inline int
set_back(int64_t turn)
{
	int64_t shots = -turn, events = -turn;
	int code =
	    ledger_set_back(ledger, "other", fixture_time(0), &shots, &events, &error);

	if (code == 0 && (shots < BASE_SHOTS || events < 0))
		return ERROR_INVALID;
	return code;
}

static inline int
put_reading(int64_t turn)
{
	return ledger_put_reading(ledger, "plant",
	    &(struct ledger_reading){.line = "line-1",
		.at = seconds(turn),
		.bytes = "what all channels read",
		.byte_count = 22},
	    seconds(0), &error);
}

static inline int
put_logger(int64_t turn)
{
	return ledger_put_logger(ledger,
	    &(struct ledger_logger){
		.host = "line-pc", .version = "0.1.0", .polls = turn},
	    &error);
}

/* The same shift again and again, each time otherwise: a revision more. */
static inline int
put_shift(int64_t turn)
{
	struct ledger_shift_row rows[2] = {
	    {.recipe = "12", .characteristic = "sag_s"}, {.characteristic = "cycle_s"}};
	struct ledger_shift shift = {.line = "line-1",
	    .shift = "early",
	    .from = fixture_time(0),
	    .to = fixture_time(200),
	    .closed = seconds(turn),
	    .sum = {(double)turn},
	    .rows = rows,
	    .row_count = 2};
	enum ledger_shift_filed filed;

	rows[0].figure[LEDGER_SHIFT_MEAN] = (double)turn;
	int code = ledger_put_shift(ledger, &shift, false, &filed, &error);
	return code == 0 && filed == LEDGER_SHIFT_SAME ? ERROR_INVALID : code;
}

static inline int
put_finding(int64_t turn)
{
	char text[32];
	bool filed = false;
	size_t words =
	    (size_t)snprintf(text, sizeof text, "cause %lld: likely", (long long)turn);
	int code = ledger_put_finding(ledger,
	    &(struct ledger_finding){"line-1", fixture_time(0), fixture_time(200),
		fixture_time(7), text, words - 8},
	    false, &filed, &error);

	return code == 0 && !filed ? ERROR_INVALID : code;
}

static inline int
put_shift_closing(int64_t turn)
{
	return ledger_put_shift_closing(ledger, turn, &error);
}

static const struct operation operations[] = {
    {"put_recomputed", put_recomputed}, {"put_in_flight", put_in_flight},
    {"put_lot", put_lot}, {"put_calibration", put_calibration},
    {"put_calibrations", put_calibrations}, {"put_reference", put_reference},
    {"withdraw_reference", withdraw_reference}, {"put_context", put_context},
    {"put_setup", put_setup}, {"put_health", put_health}, {"put_event", put_event},
    {"put_refusal", put_refusal}, {"set_delivered", set_delivered},
    {"set_back", set_back}, {"put_reading", put_reading}, {"put_logger", put_logger},
    {"put_shift", put_shift}, {"put_finding", put_finding},
    {"put_shift_closing", put_shift_closing},
    {"put_shot", put_shot}, /* last: it leaves the more shots to relabel */
};
enum { OPERATIONS = sizeof operations / sizeof operations[0] };

/* What they find there. */
static inline void
prepare_operations(void)
{
	int64_t relabelled;

	fixture.trace_bytes = 5000;
	write_shots(0, 1, BASE_SHOTS);
	assert_int_equal(ledger_put_context(ledger,
			     &(struct ledger_entry){"line-1", CONTEXT_LOT, "L-1",
				 fixture_time(0), seconds(1)},
			     &relabelled, &error),
	    0);
}

/* What any of the operations changes. */
static inline int64_t
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
	    " + (SELECT count(*) FROM event) + (SELECT count(*) FROM refusal)"
	    " + (SELECT coalesce(sum(change + turn), 0) FROM delivery)"
	    " + (SELECT count(*) FROM reading)"
	    " + (SELECT coalesce(sum(polls), 0) FROM logger)"
	    " + (SELECT count(*) + count(superseded) FROM shift_total)"
	    " + (SELECT count(*) FROM shift_summary)"
	    " + (SELECT coalesce(sum(change), 0) FROM shift_closing)"
	    " + (SELECT count(*) FROM shot_channel)");
}

#endif
