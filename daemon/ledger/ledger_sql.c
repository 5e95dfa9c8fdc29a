/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The statements that write the ledger. */
#include "daemon/ledger/held.h"
#include "daemon/ledger/ledger_inside.h"

/* clang-format off */
/* Gives shots what `set` says, numbered on from ?5: those with `where`, and `m` is the
 * material of lot `lot` where it has its own, else that of the shot's recipe `number`. */
#define RELABEL(set, lot, number, where) \
	"UPDATE shot SET " set ", change = ?5 + n FROM (SELECT shot.id AS i," \
	" coalesce(" LOT_MATERIAL(lot) ", recipe.material) AS m," \
	" row_number() OVER (ORDER BY filed_at, shot.id) - 1 AS n FROM shot" \
	" LEFT JOIN recipe ON recipe.setup = shot.setup AND recipe.number = " number \
	" WHERE " where ") WHERE id = i"

/* A line of it stands in `refusal`, of one of the destinations in ?4, a list in JSON:
 * nobody else has what it tells. */
#define REFUSED(table) \
	"EXISTS (SELECT 1 FROM refusal WHERE refusal.change = " table ".change" \
	" AND destination IN (SELECT value FROM json_each(?4)))"

/* An event that tells whether its line was logged at ?2: the last turn before then. */
#define LAST_TURN \
	"(kind IN ('start', 'end') AND NOT EXISTS (SELECT 1 FROM event AS later" \
	" WHERE later.at >= event.at AND later.at < ?2 AND later.line IS event.line" \
	" AND later.kind IN ('start', 'end')" \
	" AND (later.at, later.change) > (event.at, event.change)))"

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

const char *const ledger_sql[STATEMENT_COUNT] = {
    [STATEMENT_NEXT_CHANGE] =
	/* Behind what was delivered too: a ledger that has lost its newest rows must not
	 * give their numbers again, which nobody would send. */
    "SELECT 1 + max(coalesce((SELECT max(change) FROM shot), 0),"
    " coalesce((SELECT max(change) FROM event), 0),"
    " coalesce((SELECT max(change) FROM shift_total), 0),"
    " coalesce((SELECT max(change) FROM delivery"
    " WHERE stream IN ('shot', 'event', 'shift', 'notice')), 0))",
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
	"SELECT max(coalesce(shot_no, 0), numbered_from), closed_at FROM line"
	" LEFT JOIN shot ON shot.line = line.id AND shot_no = (SELECT max(shot_no)"
	" FROM shot AS other WHERE other.line = line.id) WHERE line.name = ?1",
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
    [STATEMENT_PUT_IN_FLIGHT] =
	"INSERT OR REPLACE INTO in_flight (line, at, bytes) VALUES (?1, ?2, ?3)",
    [STATEMENT_ABSENCES] = "SELECT feature, reason FROM absent WHERE shot = ?1",
    [STATEMENT_COUNT_SHOT_CHANNELS] =
	"SELECT count(*) FROM shot_channel WHERE id >= ?1 AND id < ?2",
    [STATEMENT_SHOT_CHANNEL] =
	"SELECT min, mean, max, sd, last, coverage, absent FROM shot_channel"
	" WHERE id = ?1",
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
    /* Both along the index by time; of the row nothing is read in vain. */
    [STATEMENT_OLD_TRACES] =
	"SELECT id, filed_at, EXISTS (SELECT 1 FROM trace WHERE shot = shot.id)"
	" FROM shot WHERE filed_at >= ?1 AND filed_at < ?2"
	" ORDER BY filed_at, line, id LIMIT ?3",
    [STATEMENT_OLD_CHANNELS] =
	"SELECT id, filed_at, CASE WHEN EXISTS (SELECT 1 FROM shot_channel AS c"
	" WHERE c.id >= shot.id * 1048576 AND c.id < (shot.id + 1) * 1048576)"
	" THEN change END FROM shot WHERE filed_at >= ?1 AND filed_at < ?2"
	" AND NOT " REFUSED("shot") " ORDER BY filed_at, line, id LIMIT ?3",
    /* The newest of a line tells its next number, the last change the next change. */
    [STATEMENT_OLD_SHOTS] =
	"SELECT id, filed_at, change FROM shot WHERE filed_at < ?2"
	" AND shot_no < (SELECT max(shot_no) FROM shot AS other"
	" WHERE other.line = shot.line) AND change < (SELECT max(change) FROM shot)"
	" AND NOT " REFUSED("shot") " ORDER BY filed_at, line, id LIMIT ?3",
    [STATEMENT_OLD_EVENTS] =
	"SELECT change, at, change FROM event WHERE at < ?2"
	" AND change < (SELECT max(change) FROM event) AND NOT " LAST_TURN
	" AND NOT " REFUSED("event") " ORDER BY at, change LIMIT ?3",
    [STATEMENT_FORGET_TRACE] = "DELETE FROM trace WHERE shot = ?1",
    [STATEMENT_FORGET_EARLIER] = "DELETE FROM earlier WHERE shot = ?1",
    [STATEMENT_FORGET_SUPERSEDED] = "DELETE FROM superseded WHERE shot = ?1",
    [STATEMENT_FORGET_SHOT] = "DELETE FROM shot WHERE id = ?1",
    [STATEMENT_FORGET_EVENT] = "DELETE FROM event WHERE change = ?1",
    [STATEMENT_RINGS] = "SELECT id, destination FROM ring ORDER BY id",
    [STATEMENT_FORGET_READINGS] =
	"DELETE FROM reading WHERE id IN (SELECT id FROM reading WHERE id > ?1"
	" AND id < ?2 LIMIT ?3)",
    [STATEMENT_FORGET_RING] = "DELETE FROM ring WHERE id = ?1 AND NOT EXISTS"
			      " (SELECT 1 FROM reading WHERE id > ?2 AND id < ?3)",
    [STATEMENT_RING] = "SELECT id FROM ring WHERE destination = ?1",
    [STATEMENT_PUT_RING] = "INSERT INTO ring (destination) VALUES (?1)",
    /* Behind what was delivered too: after a power loss the ring may have lost its end. */
    [STATEMENT_NEXT_READING] =
	"SELECT 1 + max(coalesce((SELECT max(id) FROM reading WHERE id > ?2"
	" AND id < ?3) - ?2, 0), coalesce((SELECT change FROM delivery"
	" WHERE destination = ?1 AND stream = 'reading'), 0))",
    [STATEMENT_PUT_READING] =
	"INSERT INTO reading (id, line, at, bytes) VALUES (?1, ?2, ?3, ?4)",
    [STATEMENT_DROP_READINGS] =
	"DELETE FROM reading WHERE id > ?1 AND id < (SELECT id FROM reading"
	" WHERE id > ?1 AND id <= ?2 AND (at BETWEEN ?3 AND ?4 OR id = ?2)"
	" ORDER BY id LIMIT 1)",
    [STATEMENT_DELIVERED] = "SELECT change, turn, lost, at FROM delivery"
			    " WHERE destination = ?1 AND stream = ?2",
    [STATEMENT_SET_DELIVERED] =
	"INSERT INTO delivery (destination, stream, change, turn, lost, at)"
	" SELECT ?1, ?2, ?3, ?4, ?5, ?6 WHERE ?4 = coalesce((SELECT turn FROM delivery"
	" WHERE destination = ?1 AND stream = ?2), 0)"
	" ON CONFLICT DO UPDATE SET change = excluded.change, lost = excluded.lost,"
	" at = excluded.at",
    [STATEMENT_FIRST_CHANGE] = "SELECT min(change) FROM shot WHERE filed_at >= ?1",
    [STATEMENT_FIRST_EVENT] = "SELECT min(change) FROM event WHERE at >= ?1",
    [STATEMENT_FIRST_SHIFT] = "SELECT min(change) FROM shift_total WHERE to_at > ?1",
    [STATEMENT_SET_BACK] =
	"INSERT INTO delivery (destination, stream, change, turn, at)"
	/* `at` stays: nothing was sent */
	" VALUES (?1, ?2, 0, 1, 0) ON CONFLICT DO UPDATE SET"
	" change = min(change, ?3), turn = turn + 1",
    [STATEMENT_CLEAR_REFUSALS] =
	"DELETE FROM refusal WHERE destination = ?1 AND (EXISTS (SELECT 1 FROM shot"
	" WHERE shot.change = refusal.change AND shot.change > (SELECT change FROM"
	" delivery WHERE destination = ?1 AND stream = 'shot')) OR EXISTS (SELECT 1"
	" FROM event WHERE event.change = refusal.change AND event.change > (SELECT"
	" change FROM delivery WHERE destination = ?1 AND stream = 'event')) OR EXISTS"
	" (SELECT 1 FROM shift_total AS t WHERE t.change = refusal.change AND t.change"
	" > (SELECT change FROM delivery WHERE destination = ?1 AND stream ="
	" 'shift')))",
    [STATEMENT_COUNT_SHOTS_LEFT] =
	"SELECT count(*) FROM shot WHERE change > coalesce((SELECT change FROM delivery"
	" WHERE destination = ?1 AND stream = 'shot'), 0)",
    [STATEMENT_COUNT_EVENTS_LEFT] = "SELECT count(*) FROM event WHERE change > "
				    "coalesce((SELECT change FROM delivery"
				    " WHERE destination = ?1 AND stream = 'event'), 0)",
    [STATEMENT_PUT_REFUSAL] =
	"INSERT INTO refusal (destination, change, line, answer, at)"
	" VALUES (?1, ?2, ?3, ?4, ?5)",
    [STATEMENT_DROP_REFUSAL] =
	"DELETE FROM refusal WHERE destination = ?1 AND change = ?2 AND line = ?3",
    [STATEMENT_BOUND_REFUSALS] =
	"DELETE FROM refusal WHERE id <= (SELECT max(id) FROM refusal) - ?1",
    [STATEMENT_PUT_LOGGER] =
	"INSERT OR REPLACE INTO logger (id, host, version, started, at, polls, "
	"failures,"
	" late, queue, queue_most, dropped, waiting, lost, filed, clock_steps,"
	" memory_bytes, ledger_bytes, free_bytes) VALUES (1, ?1, ?2, ?3, ?4, ?5, ?6, "
	"?7,"
	" ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17)",
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
