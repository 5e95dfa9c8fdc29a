/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/ledger/ledger.h"

#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "daemon/base/error.h"
#include "daemon/ledger/access.h"
#include "daemon/ledger/held.h"
#include "daemon/ledger/ledger_inside.h"
#include "daemon/ledger/schema.h"

/*
 * Small pages: a shot touches a dozen of them, and each touched page goes whole into
 * the WAL.  With pages of 4096 bytes a shot costs 1.6 times as much,
 * and no less of the disk; with 1024 it costs a quarter less of both, but one of 144
 * features fills more than a page and is read 2.5 times as slowly.  Where SQLite is
 * built to wipe what is deleted, a forgotten trace would go through the WAL once more.
 */
static const char pragmas[] = "PRAGMA page_size = 2048;"
			      "PRAGMA synchronous = FULL;"
			      "PRAGMA secure_delete = OFF;"
			      "PRAGMA wal_autocheckpoint = 1000;"
			      "PRAGMA journal_size_limit = 4194304;";

/* clang-format off */
/* Gives shots what `set` says, numbered on from ?5: those with `where`, and `m` is the
 * material of lot `lot` where it has its own, else that of the shot's recipe `number`. */
#define RELABEL(set, lot, number, where) \
	"UPDATE shot SET " set ", change = ?5 + n FROM (SELECT shot.id AS i," \
	" coalesce(" LOT_MATERIAL(lot) ", recipe.material) AS m," \
	" row_number() OVER (ORDER BY filed_at, shot.id) - 1 AS n FROM shot" \
	" LEFT JOIN recipe ON recipe.setup = shot.setup AND recipe.number = " number \
	" WHERE " where ") WHERE id = i"

/* Of line ?1 from ?2 to before ?3. */
#define IN_SPAN "line = ?1 AND filed_at >= ?2 AND filed_at < ?3 AND "

/* Shots of lot ?1 on any line since it was first entered that have another material than
 * `m` now says; by time, for there is no index by lot. */
#define OF_LOT \
	"filed_at >= (SELECT min(holds_from) FROM context WHERE key = 'lot'" \
	" AND value = ?1) AND shot.lot = ?1 AND shot.material IS NOT" \
	" coalesce(" LOT_MATERIAL("?1") ", recipe.material)"

static const char labels_sql[] =
    "WITH held (recipe, tool, lot) AS (SELECT"
    " coalesce(?3, CAST(" HELD("?1", "recipe") " AS INTEGER)),"
    " " HELD("?1", "tool") ", " HELD("?1", "lot") ")"
    " SELECT held.recipe, tool, held.lot,"
    " coalesce(" LOT_MATERIAL("held.lot") ", recipe.material) FROM held"
    " LEFT JOIN recipe ON setup = ?4 AND number = held.recipe";
/* clang-format on */

static const char *const statement_sql[STATEMENT_COUNT] = {
    [STATEMENT_NEXT_CHANGE] =
	"SELECT 1 + max(coalesce((SELECT max(change) FROM shot), 0),"
	" coalesce((SELECT max(change) FROM event), 0))",
    [STATEMENT_LINE_ID] = "SELECT id FROM line WHERE name = ?1",
    [STATEMENT_NEWEST_SETUP] =
	"SELECT id FROM setup WHERE id = (SELECT max(id) FROM setup)"
	" AND hash = ?1 AND text = ?2 AND program = ?3",
    [STATEMENT_PUT_SETUP] =
	"INSERT INTO setup (filed_at, program, site, path, hash, text)"
	" VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
    [STATEMENT_PUT_LINE] = "INSERT INTO line (name) VALUES (?1) ON CONFLICT DO NOTHING",
    [STATEMENT_PUT_RECIPE] =
	"INSERT INTO recipe (setup, number, name, material) VALUES (?1, ?2, ?3, ?4)",
    [STATEMENT_PUT_CHANNEL] =
	"INSERT INTO channel (line, device, name, role, position, oven, side, unit)"
	" VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8) ON CONFLICT DO NOTHING",
    [STATEMENT_CHANNEL_ID] =
	"SELECT id FROM channel WHERE line = ?1 AND device = ?2 AND name = ?3"
	" AND role = ?4 AND position = ?5 AND oven = ?6 AND side = ?7 AND unit = ?8",
    [STATEMENT_PUT_FEATURE] =
	"INSERT INTO feature (name, version, unit, meaning, setup)"
	" VALUES (?1, ?2, ?3, ?4, ?5) ON CONFLICT DO NOTHING",
    [STATEMENT_LAST_SHOT] =
	"SELECT shot_no, closed_at FROM shot WHERE line = (SELECT id FROM line"
	" WHERE name = ?1) ORDER BY shot_no DESC LIMIT 1",
    [STATEMENT_LABELS] = labels_sql,
    [STATEMENT_PUT_ABSENT] =
	"INSERT INTO absent (shot, feature, reason) VALUES (?1, ?2, ?3)",
    [STATEMENT_PUT_SHOT_CHANNEL] =
	"INSERT INTO shot_channel (id, min, mean, max, sd, last, coverage, absent)"
	" VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
    [STATEMENT_PUT_EVENT] =
	"INSERT INTO event (change, line, at, kind, text) VALUES (?1, ?2, ?3, ?4, ?5)",
    [STATEMENT_PUT_TRACE] =
	"INSERT INTO trace (shot, setup, bytes) VALUES (?1, ?2, ?3)",
    /* The index by time alone is walked, and of it only what can have a trace. */
    [STATEMENT_FORGET_TRACES] =
	"DELETE FROM trace WHERE shot IN (SELECT id FROM shot WHERE filed_at < ?1"
	" AND filed_at >= (SELECT filed_at FROM shot WHERE id ="
	" (SELECT min(shot) FROM trace))"
	" AND EXISTS (SELECT 1 FROM trace AS kept WHERE kept.shot = shot.id) LIMIT ?2)",
    [STATEMENT_PUT_IN_FLIGHT] =
	"INSERT OR REPLACE INTO in_flight (line, at, bytes) VALUES (?1, ?2, ?3)",
    [STATEMENT_ABSENCES] = "SELECT feature, reason FROM absent WHERE shot = ?1",
    [STATEMENT_COUNT_SHOT_CHANNELS] =
	"SELECT count(*) FROM shot_channel WHERE id >= ?1 AND id < ?2",
    [STATEMENT_SAME_SHOT_CHANNEL] =
	"SELECT count(*) FROM shot_channel WHERE id = ?1 AND min IS ?2 AND mean IS ?3"
	" AND max IS ?4 AND sd IS ?5 AND last IS ?6 AND coverage IS ?7"
	" AND absent IS ?8",
    [STATEMENT_CLEAR_ABSENT] = "DELETE FROM absent WHERE shot = ?1",
    [STATEMENT_CLEAR_SHOT_CHANNELS] =
	"DELETE FROM shot_channel WHERE id >= ?1 AND id < ?2",
    [STATEMENT_FEATURE_SINCE] = "SELECT min(setup) FROM feature WHERE name = ?1",
    [STATEMENT_PUT_EARLIER] =
	"INSERT INTO earlier (shot, change, setup, until, feature, value, text)"
	" VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
    [STATEMENT_PUT_CONTEXT] =
	"INSERT INTO context (line, key, value, holds_from, entered_at)"
	" VALUES (?1, ?2, ?3, ?4, ?5)",
    [STATEMENT_SPAN_END] = "SELECT min(holds_from) FROM context"
			   " WHERE line = ?1 AND key = ?2 AND holds_from > ?3",
    [STATEMENT_RELABEL_RECIPE] = RELABEL("recipe = ?4, material = m", "shot.lot", "?4",
	IN_SPAN "recipe_read IS NULL AND shot.recipe IS NOT ?4"),
    [STATEMENT_RELABEL_TOOL] =
	RELABEL("tool = ?4", "shot.lot", "shot.recipe", IN_SPAN "tool IS NOT ?4"),
    [STATEMENT_RELABEL_LOT] = RELABEL(
	"lot = ?4, material = m", "?4", "shot.recipe", IN_SPAN "shot.lot IS NOT ?4"),
    [STATEMENT_RELABEL_MATERIAL] =
	RELABEL("material = m", "shot.lot", "shot.recipe", OF_LOT),
    [STATEMENT_PUT_LOT] =
	"INSERT INTO lot (name, thickness_m, stack_c, entered_at, material)"
	" VALUES (?1, ?2, ?3, ?4, ?5)",
    [STATEMENT_PUT_CALIBRATION] =
	"INSERT INTO calibration (line, device, channel, holds_from, as_found, as_left,"
	" due, checked_with, done_by, entered_at)"
	" VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)",
    [STATEMENT_COUNT_REFERENCES] = "SELECT count(*) FROM reference_run WHERE name = ?1",
    [STATEMENT_PUT_REFERENCE] =
	"INSERT INTO reference_run (name, line, side, recipe, tool, first_at, last_at,"
	" frozen_at, setup, note) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)",
    [STATEMENT_WITHDRAW_REFERENCE] = "UPDATE reference_run SET withdrawn_at = ?2"
				     " WHERE name = ?1 AND withdrawn_at IS NULL",
    [STATEMENT_CURSOR] =
	"SELECT change FROM delivery WHERE destination = ?1 AND stream = ?2",
    [STATEMENT_SET_CURSOR] =
	"INSERT OR REPLACE INTO delivery (destination, stream, change, at)"
	" VALUES (?1, ?2, ?3, ?4)",
    [STATEMENT_PUT_REFUSAL] =
	"INSERT OR REPLACE INTO refusal (destination, change, line, answer, at)"
	" VALUES (?1, ?2, ?3, ?4, ?5)",
    [STATEMENT_CLEAR_HEALTH] = "DELETE FROM health",
    [STATEMENT_PUT_HEALTH] =
	"INSERT INTO health (position, subject, state, text, since, at, good, bad, run)"
	" VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
    [STATEMENT_CLEAR_DEVICES] = "DELETE FROM device",
    [STATEMENT_PUT_DEVICE] =
	"INSERT INTO device (position, device, line, bus, state, why, since, at, scans,"
	" failures, late, opened, good, illegal, busy, fault, gateway, none, wrong,"
	" lost, late_p99_s, late_worst_s, port, period_s, state_since, bad_channels,"
	" bad_since, bad_text, recent_since, recent_good, recent_illegal, recent_busy,"
	" recent_fault, recent_gateway, recent_none, recent_wrong, recent_lost)"
	" VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15,"
	" ?16, ?17, ?18, ?19, ?20, ?21, ?22, ?23, ?24, ?25, ?26, ?27, ?28, ?29, ?30,"
	" ?31, ?32, ?33, ?34, ?35, ?36, ?37)",
};

/* Refuses what is not ours, or newer than we are, before anything can be written. */
static int
look_first(const char *path, struct error *error)
{
	sqlite3 *db = NULL;
	int version;

	if (access(path, F_OK) != 0)
		return 0;
	int code = database_open(path,
	    database_has_wal(path) ? DATABASE_READ : DATABASE_READ_IMMUTABLE, &db,
	    error);
	if (code != 0)
		return code;
	code = schema_look(db, path, SCHEMA_VERSION, &version, error);
	sqlite3_close(db);
	return code;
}

static int
use_wal(sqlite3 *db, const char *path, struct error *error)
{
	sqlite3_stmt *statement =
	    database_prepare(db, "PRAGMA journal_mode = WAL", error);

	if (statement == NULL)
		return ERROR_IO;
	int code = 0;
	if (sqlite3_step(statement) != SQLITE_ROW)
		code = database_failed(db, error, "open ledger '%s'", path);
	else if (strcmp(column_string(statement, 0), "wal") != 0)
		code = error_set(error, ERROR_IO,
		    "open ledger '%s': this file system cannot share memory between "
		    "programs; put the ledger on a local disk",
		    path);
	sqlite3_finalize(statement);
	return code;
}

static int
prepare_all(struct ledger *ledger, struct error *error)
{
	for (int i = 0; i < STATEMENT_COUNT; i++) {
		ledger->statements[i] =
		    database_prepare(ledger->db, statement_sql[i], error);
		if (ledger->statements[i] == NULL)
			return ERROR_IO;
	}
	return 0;
}

/*
 * SQLite makes its files for the owner to write; whether the group may (people who enter
 * tools and lots) is for the process's umask to say.  Never through a descriptor: closing
 * one drops all locks that SQLite holds on the file in this process, and the next program
 * to come takes the WAL for left behind and removes it.  What fails here, opening tells.
 */
static void
make_file(const char *path)
{
	(void)mknod(path, S_IFREG | 0664, 0); /* what is there stays as it is */
}

static int
open_steps(struct ledger *ledger, const char *path, struct error *error)
{
	int code = look_first(path, error);

	if (code == 0) {
		make_file(path);
		code = database_open(path, DATABASE_WRITE, &ledger->db, error);
	}
	if (code == 0)
		code = database_run(ledger->db, pragmas, error);
	if (code == 0)
		code = use_wal(ledger->db, path, error);
	if (code == 0)
		code = schema_upgrade(ledger->db, path, &schema_steps, error);
	if (code == 0)
		code = database_run(ledger->db, "PRAGMA foreign_keys = ON", error);
	if (code == 0)
		code = prepare_all(ledger, error);
	return code;
}

struct ledger *
ledger_open(const char *path, int *code, struct error *error)
{
	struct ledger *ledger = calloc(1, sizeof *ledger);
	int failed;

	if (ledger == NULL)
		failed = error_set(error, ERROR_MEMORY, "out of memory");
	else
		failed = open_steps(ledger, path, error);
	if (failed == 0)
		return ledger;
	if (failed == ERROR_IO)
		access_check(path, error); /* tells more when that is why */
	ledger_close(ledger);
	if (code != NULL)
		*code = failed;
	return NULL;
}

void
ledger_close(struct ledger *ledger)
{
	if (ledger == NULL)
		return;
	ledger_set_hasty(ledger, false, NULL);
	filed_setup_release(&ledger->setup);
	told_release(&ledger->told);
	for (int i = 0; i < STATEMENT_COUNT; i++)
		sqlite3_finalize(ledger->statements[i]);
	sqlite3_close(ledger->db);
	free(ledger);
}

struct binding
ledger_bind(struct ledger *ledger, enum ledger_statement statement)
{
	return bind_start(ledger->statements[statement]);
}

int
ledger_run(struct ledger *ledger, struct binding *binding, struct error *error)
{
	if (bind_run(binding) == SQLITE_DONE)
		return 0;
	return database_failed(ledger->db, error, "ledger");
}

int
ledger_integer(
    struct ledger *ledger, struct binding *binding, int64_t *value, struct error *error)
{
	switch (bind_step(binding)) {
	case SQLITE_ROW:
		*value = sqlite3_column_int64(binding->statement, 0);
		sqlite3_reset(binding->statement);
		return 0;
	case SQLITE_DONE:
		*value = 0;
		return 0;
	default:
		return database_failed(ledger->db, error, "ledger");
	}
}

int
ledger_next_change(struct ledger *ledger, int64_t *change, struct error *error)
{
	struct binding binding = ledger_bind(ledger, STATEMENT_NEXT_CHANGE);
	return ledger_integer(ledger, &binding, change, error);
}

int
ledger_line_id(
    struct ledger *ledger, const char *line, int64_t *id, struct error *error)
{
	struct binding binding = ledger_bind(ledger, STATEMENT_LINE_ID);

	bind_text(&binding, line);
	int code = ledger_integer(ledger, &binding, id, error);
	if (code == 0 && *id == 0)
		return error_set(error, ERROR_NOT_FOUND,
		    "the ledger knows no line '%s'; a line is known once evensoakd "
		    "has run with it",
		    line);
	return code;
}

int
ledger_check_text(
    const char *what, const char *text, size_t maximum, struct error *error)
{
	if (text == NULL || strlen(text) <= maximum)
		return 0;
	return error_set(
	    error, ERROR_INVALID, "%s is longer than %zu bytes", what, maximum);
}

int
ledger_explain(struct ledger *ledger, int code, struct error *error)
{
	if (code == ERROR_IO) /* SQLite opens what it may not write, and fails later */
		access_check(sqlite3_db_filename(ledger->db, "main"), error);
	return code;
}
