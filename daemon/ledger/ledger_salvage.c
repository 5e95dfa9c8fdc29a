/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/ledger/ledger_salvage.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "daemon/base/error.h"
#include "daemon/ledger/ledger_copy.h"
#include "daemon/ledger/ledger_read_inside.h"
#include "daemon/ledger/ledger_walk.h"
#include "daemon/ledger/schema.h"

struct salvage {
	const char *path;
	sqlite3 *from;
	struct ledger_copy copy;
	const struct ledger_salvage_order *order;
};

/* What others point to goes first.  Not sheets in flight: nobody takes them up again. */
static const char *const tables[] = {
    "setup",
    "line",
    "recipe",
    "channel",
    "feature",
    "shot",
    "absent",
    "shot_channel",
    "trace",
    "earlier",
    "superseded",
    "context",
    "lot",
    "calibration",
    "reference_run",
    "reference_shot",
    "event",
    "shift_total",
    "shift_summary",
    "shift_closing",
    "delivery",
    "refusal",
    "ring",
    "reading",
    "health",
    "device",
    "logger",
};
enum { TABLES = sizeof tables / sizeof tables[0] };

/* --- the damaged one ------------------------------------------------------------------- */

static int
open_damaged(struct salvage *salvage, struct error *error)
{
	int code = ledger_read_connect(salvage->path, &salvage->from, error);

	if (code != ERROR_DAMAGED)
		return code;
	return error_set(error, ERROR_DAMAGED,
	    "'%s': not even its list of tables can be read: put the last backup in its "
	    "place",
	    salvage->path);
}

/* --- the new one -------------------------------------------------------------------------- */

/* The columns that came with its features. */
static int
add_columns(struct salvage *salvage, const char *table, struct error *error)
{
	char sql[320];
	int code = 0;

	snprintf(sql, sizeof sql, "SELECT name FROM pragma_table_info('%s')", table);
	sqlite3_stmt *names = database_prepare(salvage->from, sql, error);
	if (names == NULL)
		return ERROR_IO;
	while (code == 0 && sqlite3_step(names) == SQLITE_ROW) {
		int64_t there = 0;
		const char *name = column_string(names, 0);
		if (strlen(name) > 100 || strpbrk(name, "\"'") != NULL)
			continue;
		snprintf(sql, sizeof sql,
		    "SELECT count(*) FROM pragma_table_info('%s') WHERE name = '%s'",
		    table, name);
		code = database_integer(salvage->copy.db, sql, &there, error);
		snprintf(sql, sizeof sql, "ALTER TABLE %s ADD COLUMN \"%s\" REAL",
		    table, name);
		if (code == 0 && there == 0)
			code = database_run(salvage->copy.db, sql, error);
	}
	sqlite3_finalize(names);
	return code;
}

static int
make_new(struct salvage *salvage, struct error *error)
{
	sqlite3 *db = salvage->copy.db;
	int code = database_run(db,
	    "PRAGMA page_size = 2048; PRAGMA journal_mode = OFF;"
	    "PRAGMA foreign_keys = OFF",
	    error);

	if (code == 0)
		code = schema_upgrade(db, salvage->copy.part, &schema_steps, error);
	if (code == 0)
		code = database_run(db, "BEGIN", error);
	if (code == 0)
		code = add_columns(salvage, "shot", error);
	return code == 0 ? add_columns(salvage, "reference_shot", error) : code;
}

static int
read_tables(struct salvage *salvage, struct error *error)
{
	const struct ledger_backup_watch *watch = salvage->order->watch;
	int code = 0;

	for (int i = 0; i < TABLES && code == 0; i++) {
		struct ledger_walked walked;
		if (watch != NULL)
			watch->tell(watch->arg, BACKUP_COPYING, (double)i / TABLES);
		code = ledger_walk(
		    salvage->from, salvage->copy.db, tables[i], &walked, error);
		if (code == 0)
			salvage->order->take.table(salvage->order->take.arg,
			    &(struct ledger_salvaged){
				tables[i], walked.rows, walked.places});
	}
	return code;
}

/* What is pointed to and is gone, and what pointed to shots that are. */
static const char mend_sql[] =
    "INSERT INTO line (id, name) SELECT DISTINCT line, 'unknown-' || line FROM"
    " (SELECT line FROM shot UNION SELECT line FROM channel UNION SELECT line FROM"
    " context UNION SELECT line FROM calibration UNION SELECT line FROM reference_run"
    " UNION SELECT line FROM event UNION SELECT line FROM shift_total UNION SELECT"
    " line FROM reading)"
    " WHERE line NOT NULL AND line NOT IN (SELECT id FROM line);"
    "INSERT INTO setup (id, filed_at, program, site, path, hash, text)"
    " SELECT DISTINCT setup, 0, 'unknown', '', '', '', '' FROM"
    " (SELECT setup FROM shot UNION SELECT setup FROM recipe UNION SELECT setup FROM"
    " feature UNION SELECT setup FROM trace UNION SELECT setup FROM earlier UNION"
    " SELECT setup FROM reference_run)"
    " WHERE setup NOT NULL AND setup NOT IN (SELECT id FROM setup);"
    "DELETE FROM absent WHERE shot NOT IN (SELECT id FROM shot);"
    "DELETE FROM shot_channel WHERE id / 1048576 NOT IN (SELECT id FROM shot);"
    "DELETE FROM trace WHERE shot NOT IN (SELECT id FROM shot);"
    "DELETE FROM earlier WHERE shot NOT IN (SELECT id FROM shot);"
    "DELETE FROM superseded WHERE shot NOT IN (SELECT id FROM shot);"
    "DELETE FROM shift_summary WHERE shift NOT IN (SELECT change FROM shift_total);"
    "DELETE FROM reference_shot WHERE run NOT IN (SELECT id FROM reference_run);";

/* --- what is lost ------------------------------------------------------------------------- */

/* The index over (line, shot_no) stands on pages of its own: read from both ends it tells
 * of shots whose rows are gone. */
static int
read_index(struct salvage *salvage, bool backwards, sqlite3_stmt *put)
{
	sqlite3_stmt *rows = NULL;
	int step = SQLITE_ERROR;

	if (sqlite3_prepare_v2(salvage->from,
		backwards ? "SELECT line, shot_no, rowid FROM shot INDEXED BY"
			    " sqlite_autoindex_shot_2 ORDER BY line DESC, shot_no DESC"
			  : "SELECT line, shot_no, rowid FROM shot INDEXED BY"
			    " sqlite_autoindex_shot_2 ORDER BY line, shot_no",
		-1, &rows, NULL) == SQLITE_OK)
		while ((step = sqlite3_step(rows)) == SQLITE_ROW) {
			sqlite3_reset(put);
			for (int i = 0; i < 3; i++)
				sqlite3_bind_int64(
				    put, i + 1, sqlite3_column_int64(rows, i));
			if (sqlite3_step(put) != SQLITE_DONE)
				break;
		}
	sqlite3_finalize(rows);
	return step;
}

/* Runs of lost numbers; `after` and `before` are of the shots beside each. */
static const char lost_sql[] =
    "WITH gone AS (SELECT line, shot_no, shot_no - row_number() OVER (PARTITION BY line"
    " ORDER BY shot_no) AS run FROM temp.known WHERE id NOT IN (SELECT id FROM shot)),"
    " runs AS (SELECT line, min(shot_no) AS low, max(shot_no) AS high, count(*) AS many"
    " FROM gone GROUP BY line, run)"
    " SELECT coalesce((SELECT name FROM line WHERE id = runs.line), 'unknown-' ||"
    " runs.line), low, high, many,"
    " (SELECT filed_at FROM shot WHERE shot.line = runs.line AND shot_no < low"
    " ORDER BY shot_no DESC LIMIT 1),"
    " (SELECT filed_at FROM shot WHERE shot.line = runs.line AND shot_no > high"
    " ORDER BY shot_no LIMIT 1) FROM runs ORDER BY runs.line, low";

static int
tell_lost(struct salvage *salvage, struct error *error)
{
	sqlite3 *db = salvage->copy.db;
	sqlite3_stmt *lost = database_prepare(db, lost_sql, error);
	int step;

	if (lost == NULL)
		return ERROR_IO;
	while ((step = sqlite3_step(lost)) == SQLITE_ROW)
		salvage->order->take.lost(salvage->order->take.arg,
		    &(struct ledger_lost){
			.line = column_string(lost, 0),
			.first_no = sqlite3_column_int64(lost, 1),
			.last_no = sqlite3_column_int64(lost, 2),
			.count = sqlite3_column_int64(lost, 3),
			.after = column_time(lost, 4),
			.before = column_time(lost, 5),
		    });
	int code = step == SQLITE_DONE ? 0 : database_failed(db, error, "what is lost");
	sqlite3_finalize(lost);
	return code;
}

static int
find_lost(struct salvage *salvage, struct error *error)
{
	sqlite3 *db = salvage->copy.db;
	int code = database_run(db,
	    "CREATE TEMP TABLE known (line INTEGER, shot_no INTEGER,"
	    " id INTEGER PRIMARY KEY)",
	    error);
	if (code != 0)
		return code;
	sqlite3_stmt *put = database_prepare(
	    db, "INSERT OR IGNORE INTO temp.known VALUES (?1, ?2, ?3)", error);
	if (put == NULL)
		return ERROR_IO;
	if (read_index(salvage, false, put) != SQLITE_DONE)
		read_index(salvage, true, put);
	sqlite3_finalize(put);
	return tell_lost(salvage, error);
}

/* --- what may be incomplete ----------------------------------------------------------------- */

/* Each hole gives the ids of the shots whose rows may have been in it. */
static const char incomplete_sql[] =
    "WITH part AS (SELECT rowid AS hole, name,"
    " low / iif(name = 'shot_channel', 1048576, 1) AS low,"
    " high / iif(name = 'shot_channel', 1048576, 1) AS high FROM temp.hole"
    " WHERE name IN ('shot_channel', 'absent', 'trace'))"
    " SELECT part.name, line.name, min(shot_no), max(shot_no), count(*) FROM part"
    " JOIN shot ON shot.id BETWEEN low AND high JOIN line ON line.id = shot.line"
    " GROUP BY hole, line.id ORDER BY hole, line.id";

static int
tell_incomplete(struct salvage *salvage, struct error *error)
{
	sqlite3 *db = salvage->copy.db;
	const struct ledger_salvage_take *take = &salvage->order->take;
	sqlite3_stmt *rows = database_prepare(db, incomplete_sql, error);
	int step;

	if (rows == NULL)
		return ERROR_IO;
	while ((step = sqlite3_step(rows)) == SQLITE_ROW)
		take->incomplete(
		    take->arg, &(struct ledger_incomplete){
				   .table = column_string(rows, 0),
				   .line = column_string(rows, 1),
				   .first_no = sqlite3_column_int64(rows, 2),
				   .last_no = sqlite3_column_int64(rows, 3),
				   .count = sqlite3_column_int64(rows, 4),
			       });
	int code =
	    step == SQLITE_DONE ? 0 : database_failed(db, error, "what is incomplete");
	sqlite3_finalize(rows);
	return code;
}

/* --- as a whole ------------------------------------------------------------------------------ */

static int
fill(struct salvage *salvage, struct error *error)
{
	int code = make_new(salvage, error);

	if (code == 0)
		code = read_tables(salvage, error);
	if (code == 0)
		code = database_run(salvage->copy.db, mend_sql, error);
	if (code == 0)
		code = find_lost(salvage, error);
	if (code == 0)
		code = tell_incomplete(salvage, error);
	return code == 0 ? database_run(salvage->copy.db, "COMMIT", error) : code;
}

int
ledger_salvage(const char *ledger, const struct ledger_salvage_order *order,
    struct ledger_backup *made, struct error *error)
{
	struct salvage salvage = {.path = ledger, .order = order};
	struct ledger_backup result = {0};

	if (access(ledger, R_OK) != 0)
		return error_set(error, ERROR_NOT_FOUND,
		    "no ledger that can be read at '%s'", ledger);
	int code =
	    ledger_copy_begin(&salvage.copy, ledger, order->to, order->over, error);
	if (code == 0)
		code = open_damaged(&salvage, error);
	if (code == 0)
		code = fill(&salvage, error);
	if (code == 0)
		code = ledger_copy_mark(&salvage.copy, error);
	if (code == 0)
		code = ledger_copy_check(&salvage.copy, order->watch, &result, error);
	if (code == 0 && !order->dry)
		code = ledger_copy_end(&salvage.copy, &result, error);
	sqlite3_close(salvage.from);
	ledger_copy_release(&salvage.copy);
	if (code == 0)
		*made = result;
	return code;
}
