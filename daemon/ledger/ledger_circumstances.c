/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/ledger/ledger_circumstances.h"

#include <math.h>
#include <string.h>

#include "daemon/base/error.h"
#include "daemon/ledger/filed.h"
#include "daemon/base/text.h"
#include "daemon/ledger/held.h"
#include "daemon/ledger/ledger_inside.h"
#include "daemon/ledger/ledger_read_inside.h"
#include "daemon/shot/circumstances.h"

/* clang-format off */
/* Of line ?1 (its name) at ?2, where the machine told recipe ?3: what was entered, and the
 * newest row of the lot. */
#define OF_LINE "(SELECT id FROM line WHERE name = ?1)"
static const char labels_sql[] =
    "SELECT told.recipe, told.tool, lot.thickness_m, lot.stack_c, lot.material FROM"
    " (SELECT coalesce(?3, CAST(" HELD(OF_LINE, "recipe") " AS INTEGER)) AS recipe,"
    " " HELD(OF_LINE, "tool") " AS tool, " HELD(OF_LINE, "lot") " AS lot) AS told"
    " LEFT JOIN lot ON lot.id = (SELECT max(id) FROM lot WHERE name = told.lot)";

/* The calibration of each channel of line ?1 that holds at ?2; NULL: none does yet. */
static const char calibrations_sql[] =
    "SELECT device, channel, (SELECT as_left FROM calibration AS one"
    " WHERE one.line = sensor.line AND one.device = sensor.device"
    " AND one.channel = sensor.channel AND holds_from <= ?2"
    " ORDER BY holds_from DESC, id DESC LIMIT 1) FROM"
    " (SELECT DISTINCT line, device, channel FROM calibration WHERE line = " OF_LINE
    ") AS sensor";
/* clang-format on */

/* Whom it is put to. */
struct asked {
	struct told *told;
	sqlite3 *db;
	const struct ledger_question *question;
};

void
told_release(struct told *told)
{
	sqlite3_finalize(told->labels);
	sqlite3_finalize(told->calibrations);
	*told = (struct told){0};
}

static int
prepare(const struct asked *asked, struct error *error)
{
	struct told *told = asked->told;

	if (told->labels == NULL)
		told->labels = database_prepare(asked->db, labels_sql, error);
	if (told->labels != NULL && told->calibrations == NULL)
		told->calibrations =
		    database_prepare(asked->db, calibrations_sql, error);
	return told->labels != NULL && told->calibrations != NULL ? 0 : ERROR_IO;
}

static struct binding
ask(const struct asked *asked, sqlite3_stmt *statement)
{
	struct binding binding = bind_start(statement);

	bind_text(
	    &binding, asked->question->settings->lines[asked->question->line].name);
	bind_integer(&binding, filed_time(asked->question->at).ns);
	return binding;
}

static void
fill(const struct settings *settings, sqlite3_stmt *row,
    struct circumstances *circumstances)
{
	int recipe = -1;

	if (sqlite3_column_type(row, 0) != SQLITE_NULL)
		recipe = sqlite3_column_int(row, 0);
	*circumstances = circumstances_untold(settings, recipe);
	column_text(row, 1, circumstances->tool, sizeof circumstances->tool);
	circumstances->thickness_m = column_number(row, 2);
	circumstances->stack_c = column_number(row, 3);
	if (*column_string(row, 4) != '\0')
		column_text(
		    row, 4, circumstances->material, sizeof circumstances->material);
}

static int
read_labels(
    const struct asked *asked, struct circumstances *circumstances, struct error *error)
{
	struct binding binding = ask(asked, asked->told->labels);

	bind_known(&binding, asked->question->recipe);
	if (bind_step(&binding) != SQLITE_ROW)
		return database_failed(asked->db, error, "ledger");
	fill(asked->question->settings, binding.statement, circumstances);
	sqlite3_reset(binding.statement);
	return 0;
}

/* True when there is such a channel, and its readings are to be corrected. */
static bool
take_calibration(const struct asked *asked, sqlite3_stmt *row, double *correction)
{
	const struct settings *settings = asked->question->settings;
	const char *device = column_string(row, 0), *name = column_string(row, 1);

	for (size_t i = 0; i < settings->channel_count; i++) {
		const struct channel_settings *channel = &settings->channels[i];
		const struct device_settings *its = &settings->devices[channel->device];
		if (its->line != asked->question->line ||
		    strcmp(channel->name, name) != 0 || strcmp(its->name, device) != 0)
			continue;
		double as_left = column_number(row, 2);
		if (!isfinite(as_left) || fpclassify(as_left) == FP_ZERO)
			return false;
		correction[i] = -as_left;
		return true;
	}
	return false;
}

static int
read_corrections(const struct asked *asked, double *correction,
    struct circumstances *circumstances, struct error *error)
{
	struct binding binding = ask(asked, asked->told->calibrations);
	int step;

	for (size_t i = 0; i < asked->question->settings->channel_count; i++)
		correction[i] = 0;
	while ((step = bind_step(&binding)) == SQLITE_ROW)
		if (take_calibration(asked, binding.statement, correction))
			circumstances->correction = correction;
	return step == SQLITE_DONE ? 0 : database_failed(asked->db, error, "ledger");
}

static int
answer(const struct asked *asked, double *correction,
    struct circumstances *circumstances, struct error *error)
{
	struct circumstances told;
	int code = prepare(asked, error);

	if (code == 0)
		code = read_labels(asked, &told, error);
	if (code == 0)
		code = read_corrections(asked, correction, &told, error);
	if (code != 0)
		return error_prefix(error, code, "read what was told of '%s'",
		    asked->question->settings->lines[asked->question->line].name);
	*circumstances = told;
	return 0;
}

int
ledger_circumstances(struct ledger *ledger, const struct ledger_question *question,
    double *correction, struct circumstances *circumstances, struct error *error)
{
	const struct asked asked = {&ledger->told, ledger->db, question};

	return answer(&asked, correction, circumstances, error);
}

int
ledger_read_circumstances(struct ledger_read *ledger,
    const struct ledger_question *question, double *correction,
    struct circumstances *circumstances, struct error *error)
{
	const struct asked asked = {&ledger->told, ledger->db, question};

	return answer(&asked, correction, circumstances, error);
}
