/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The tables of the ledger, version by version. */
#include "daemon/ledger/schema.h"

/*
 * The comments are for whoever opens the file with an SQL tool: SQLite keeps them.
 * The indexes of `shot` and the form of `shot_channel` are what keeps a written shot
 * within its bytes of WAL (tests/bench/bench_ledger.c): each index costs a page a shot.
 */
static const struct schema_step list[] = {
    {1, "CREATE TABLE setup ( -- every configuration that was ever in force\n"
	"  id INTEGER PRIMARY KEY,\n"
	"  filed_at INTEGER NOT NULL, -- all times: ns since 1970, UTC\n"
	"  program TEXT NOT NULL, -- version that filed it\n"
	"  site TEXT NOT NULL,\n"
	"  path TEXT NOT NULL,\n"
	"  hash TEXT NOT NULL,\n"
	"  text TEXT NOT NULL -- whole\n"
	") STRICT"},
    {1, "CREATE TABLE line (\n"
	"  id INTEGER PRIMARY KEY,\n"
	"  name TEXT NOT NULL UNIQUE\n"
	") STRICT"},
    {1, "CREATE TABLE recipe ( -- what a setup says of a recipe number\n"
	"  setup INTEGER NOT NULL REFERENCES setup(id),\n"
	"  number INTEGER NOT NULL,\n"
	"  name TEXT,\n"
	"  material TEXT,\n"
	"  PRIMARY KEY (setup, number)\n"
	") STRICT, WITHOUT ROWID"},
    {1, "CREATE TABLE channel ( -- one row for each meaning that a channel ever had\n"
	"  id INTEGER PRIMARY KEY,\n"
	"  line INTEGER NOT NULL REFERENCES line(id),\n"
	"  device TEXT NOT NULL,\n"
	"  name TEXT NOT NULL,\n"
	"  role TEXT NOT NULL,\n"
	"  position INTEGER NOT NULL, -- from 1 within the role; 0: none\n"
	"  unit TEXT NOT NULL, -- of the values in shot_channel\n"
	"  UNIQUE (line, device, name, role, position, unit)\n"
	") STRICT"},
    {1, "CREATE TABLE feature ( -- every definition ever used; a column of shot each\n"
	"  name TEXT NOT NULL,\n"
	"  version INTEGER NOT NULL,\n"
	"  unit TEXT NOT NULL, -- of the values in shot\n"
	"  meaning TEXT NOT NULL,\n"
	"  setup INTEGER NOT NULL REFERENCES setup(id), -- from which it holds\n"
	"  PRIMARY KEY (name, version)\n"
	") STRICT, WITHOUT ROWID"},
    {1, "CREATE TABLE shot ( -- one sheet each; the features stand at the end\n"
	"  id INTEGER PRIMARY KEY,\n"
	"  change INTEGER NOT NULL UNIQUE, -- goes up with every writing of any row\n"
	"  setup INTEGER NOT NULL REFERENCES setup(id), -- it was made under\n"
	"  line INTEGER NOT NULL REFERENCES line(id),\n"
	"  shot_no INTEGER NOT NULL,\n"
	"  filed_at INTEGER NOT NULL, -- form start, else heat end, else closing\n"
	"  loaded_at INTEGER, heat_start_at INTEGER, heat_end_at INTEGER,\n"
	"  form_start_at INTEGER, form_end_at INTEGER, closed_at INTEGER NOT NULL,\n"
	"  outcome TEXT NOT NULL,\n"
	"  flags INTEGER NOT NULL, -- 1 gap, 2 sag_stuck, 4 timer, 8 short_heat,\n"
	"    -- 16 double_index, 32 fault, 64 manual, 128 startup, 256 count_jump,\n"
	"    -- 512 clock_step, 1024 late_form, 2048 logger_start\n"
	"  reason TEXT, -- of an outcome that is not complete\n"
	"  recipe_read INTEGER, -- as the machine told it\n"
	"  recipe INTEGER, -- that, else what a person entered\n"
	"  tool TEXT, lot TEXT, material TEXT,\n"
	"  cycle_count INTEGER,\n"
	"  uncertainty_s REAL, -- of each duration\n"
	"  UNIQUE (line, shot_no)\n"
	") STRICT"},
    {1, "CREATE INDEX shot_by_time ON shot (filed_at, line)"},
    {1, "CREATE TABLE absent ( -- why a feature is NULL; no row: not configured\n"
	"  shot INTEGER NOT NULL REFERENCES shot(id),\n"
	"  feature TEXT NOT NULL,\n"
	"  reason TEXT NOT NULL,\n"
	"  PRIMARY KEY (shot, feature)\n"
	") STRICT, WITHOUT ROWID"},
    {1, "CREATE TABLE shot_channel ( -- a channel over the shot's heat or form\n"
	"  id INTEGER PRIMARY KEY, -- shot * 1048576 + channel; search by range\n"
	"  shot INTEGER AS (id / 1048576) VIRTUAL,\n"
	"  channel INTEGER AS (id % 1048576) VIRTUAL,\n"
	"  min REAL, mean REAL, max REAL, sd REAL, last REAL,\n"
	"  coverage REAL, -- ratio of the time with good readings\n"
	"  absent TEXT -- why there are no numbers\n"
	") STRICT"},
    {1, "CREATE TABLE context ( -- never changed; of two entries the later wins\n"
	"  id INTEGER PRIMARY KEY,\n"
	"  line INTEGER NOT NULL REFERENCES line(id),\n"
	"  key TEXT NOT NULL, -- recipe, tool, lot, note\n"
	"  value TEXT NOT NULL, -- '': unknown from here on\n"
	"  holds_from INTEGER NOT NULL, -- until the next entry of its key\n"
	"  entered_at INTEGER NOT NULL\n"
	") STRICT"},
    {1, "CREATE INDEX context_by_time ON context (line, key, holds_from)"},
    {1, "CREATE TABLE event (\n"
	"  change INTEGER PRIMARY KEY, -- from the same sequence as shot.change\n"
	"  line INTEGER REFERENCES line(id), -- NULL: of the logger itself\n"
	"  at INTEGER NOT NULL,\n"
	"  kind TEXT NOT NULL,\n"
	"  text TEXT NOT NULL\n"
	") STRICT"},
    {1, "CREATE INDEX event_by_time ON event (at)"},
    {1, "CREATE TABLE delivery ( -- the change up to which a destination has "
	"everything\n"
	"  destination TEXT NOT NULL,\n"
	"  stream TEXT NOT NULL,\n"
	"  change INTEGER NOT NULL,\n"
	"  at INTEGER NOT NULL,\n"
	"  PRIMARY KEY (destination, stream)\n"
	") STRICT, WITHOUT ROWID"},
    {1, "CREATE TABLE refusal ( -- what a destination would not take\n"
	"  destination TEXT NOT NULL,\n"
	"  change INTEGER NOT NULL,\n"
	"  line TEXT NOT NULL, -- as sent\n"
	"  answer TEXT NOT NULL,\n"
	"  at INTEGER NOT NULL,\n"
	"  PRIMARY KEY (destination, change, line)\n"
	") STRICT, WITHOUT ROWID"},
    {1, "CREATE TABLE health ( -- how things are now; replaced whole\n"
	"  position INTEGER PRIMARY KEY,\n"
	"  subject TEXT NOT NULL,\n"
	"  state TEXT NOT NULL,\n"
	"  text TEXT NOT NULL,\n"
	"  since INTEGER NOT NULL,\n"
	"  at INTEGER NOT NULL,\n"
	"  good INTEGER NOT NULL,\n"
	"  bad INTEGER NOT NULL\n"
	") STRICT"},
    /* A comment that ends a column's definition must be of this form: SQLite goes on
     * behind it with the next column or the bracket. */
    {2, "ALTER TABLE shot ADD COLUMN side TEXT /* of the machine; NULL: it has one */"},
    {2, "ALTER TABLE shot ADD COLUMN set_points TEXT /* hash of those read as\n"
	"    the heat began; NULL: none were.  All flags there are: 1 gap,\n"
	"    2 sag_stuck, 4 timer, 8 short_heat, 16 double_index, 32 fault,\n"
	"    64 manual, 128 startup, 256 count_jump, 512 clock_step, 1024 late_form,\n"
	"    2048 logger_start, 4096 reheat, 8192 sequence, 16384 short_form */"},
    {2, "CREATE TABLE channel_2 ( -- one row for each meaning that a channel ever had\n"
	"  id INTEGER PRIMARY KEY,\n"
	"  line INTEGER NOT NULL REFERENCES line(id),\n"
	"  device TEXT NOT NULL,\n"
	"  name TEXT NOT NULL,\n"
	"  role TEXT NOT NULL,\n"
	"  position INTEGER NOT NULL, -- from 1 within role, oven and side; 0: none\n"
	"  oven TEXT NOT NULL, -- its station; '': of no oven, or of the only one\n"
	"  side TEXT NOT NULL, -- of the machine; '': common, or the only one\n"
	"  unit TEXT NOT NULL, -- of the values in shot_channel\n"
	"  UNIQUE (line, device, name, role, position, oven, side, unit)\n"
	") STRICT"},
    {2, "INSERT INTO channel_2 SELECT id, line, device, name, role, position, '', '',"
	" unit FROM channel"},
    {2, "DROP TABLE channel"},
    {2, "ALTER TABLE channel_2 RENAME TO channel"},
    {2, "CREATE TABLE trace ( -- a shot's way and readings, kept for some days\n"
	"  shot INTEGER PRIMARY KEY REFERENCES shot(id),\n"
	"  setup INTEGER NOT NULL REFERENCES setup(id), -- of its readings\n"
	"  bytes BLOB NOT NULL -- packed\n"
	") STRICT"},
    {2, "CREATE TABLE in_flight ( -- the sheets that stand in a line, packed\n"
	"  line INTEGER PRIMARY KEY REFERENCES line(id),\n"
	"  at INTEGER NOT NULL,\n"
	"  bytes BLOB NOT NULL\n"
	") STRICT"},
    {2, "CREATE TABLE lot ( -- measured of a delivery; the newest row holds\n"
	"  id INTEGER PRIMARY KEY,\n"
	"  name TEXT NOT NULL,\n"
	"  thickness_m REAL,\n"
	"  stack_c REAL, -- the temperature of the stack\n"
	"  entered_at INTEGER NOT NULL\n"
	") STRICT"},
    {2, "CREATE INDEX lot_by_name ON lot (name)"},
    {2, "CREATE TABLE earlier ( -- what a shot had before it was made again\n"
	"  shot INTEGER NOT NULL REFERENCES shot(id),\n"
	"  change INTEGER NOT NULL, -- of the shot then\n"
	"  feature TEXT NOT NULL, -- or 'outcome'\n"
	"  setup INTEGER NOT NULL REFERENCES setup(id), -- it was made under\n"
	"  until INTEGER NOT NULL, -- when it was replaced\n"
	"  value REAL,\n"
	"  text TEXT, -- the outcome, or why there is no value\n"
	"  PRIMARY KEY (shot, change, feature)\n"
	") STRICT, WITHOUT ROWID"},
    {3, "ALTER TABLE shot ADD COLUMN properties TEXT /* name, version and hash of the\n"
	"    material's figures that the inside was computed with (of the lot's\n"
	"    material where one was entered); NULL: it was not.  What it was before\n"
	"    stands in earlier under this name */"},
    {3, "ALTER TABLE lot ADD COLUMN material TEXT /* of its shots; NULL: their "
	"recipe's */"},
    {3, "CREATE TABLE calibration ( -- of a channel; rows are never changed\n"
	"  id INTEGER PRIMARY KEY,\n"
	"  line INTEGER NOT NULL REFERENCES line(id),\n"
	"  device TEXT NOT NULL,\n"
	"  channel TEXT NOT NULL,\n"
	"  holds_from INTEGER NOT NULL, -- until the channel's next; of two the later\n"
	"    -- entered\n"
	"  as_found REAL, -- shown minus true, in the unit of shot_channel's values;\n"
	"    -- NULL: not known\n"
	"  as_left REAL NOT NULL, -- the same afterwards: taken off the readings as\n"
	"    -- shots are made, never off what is kept of them\n"
	"  due INTEGER, -- the next one; NULL: none was set\n"
	"  checked_with TEXT, -- instrument or way\n"
	"  done_by TEXT,\n"
	"  entered_at INTEGER NOT NULL\n"
	") STRICT"},
    {3, "CREATE INDEX calibration_by_channel"
	" ON calibration (line, device, channel, holds_from)"},
    {3, "CREATE TABLE reference_run ( -- shots frozen to hold later ones against\n"
	"  id INTEGER PRIMARY KEY,\n"
	"  name TEXT NOT NULL UNIQUE,\n"
	"  line INTEGER NOT NULL REFERENCES line(id),\n"
	"  side TEXT, recipe TEXT, tool TEXT, -- its shots are of these\n"
	"  first_at INTEGER NOT NULL, -- filed_at of its shots\n"
	"  last_at INTEGER NOT NULL,\n"
	"  frozen_at INTEGER NOT NULL,\n"
	"  setup INTEGER REFERENCES setup(id), -- of its last shot\n"
	"  note TEXT,\n"
	"  withdrawn_at INTEGER -- nothing is held against it since; NULL: it holds\n"
	") STRICT"},
    {3, "CREATE TABLE reference_shot ( -- copies, never changed; the features stand\n"
	"    -- at the end, each in its unit of then: see feature and setup\n"
	"  id INTEGER PRIMARY KEY,\n"
	"  run INTEGER NOT NULL REFERENCES reference_run(id),\n"
	"  shot_no INTEGER NOT NULL,\n"
	"  filed_at INTEGER NOT NULL,\n"
	"  lot TEXT,\n"
	"  UNIQUE (run, shot_no)\n"
	") STRICT"},
    /* of the daemon that wrote it, as in its lock; NULL: by another program */
    {4, "ALTER TABLE health ADD COLUMN run INTEGER"},
    {4, "CREATE TABLE device ( -- what its bus counts of each; replaced with health\n"
	"  position INTEGER PRIMARY KEY,\n"
	"  device TEXT NOT NULL,\n"
	"  line TEXT NOT NULL,\n"
	"  bus TEXT NOT NULL,\n"
	"  state TEXT NOT NULL, -- as in health\n"
	"  why TEXT, -- the column below that its last failure was counted in\n"
	"  since INTEGER NOT NULL, -- it is polled and counted from here on\n"
	"  at INTEGER NOT NULL,\n"
	"  scans INTEGER NOT NULL,\n"
	"  failures INTEGER NOT NULL, -- scans that were not answered in full\n"
	"  late INTEGER NOT NULL, -- scans that began a period or more too late\n"
	"  opened INTEGER NOT NULL, -- connections made, of the bus\n"
	"  good INTEGER NOT NULL, -- from here on: what became of its requests\n"
	"  illegal INTEGER NOT NULL, -- exceptions 1, 2, 3\n"
	"  busy INTEGER NOT NULL, -- 5, 6\n"
	"  fault INTEGER NOT NULL, -- any other\n"
	"  gateway INTEGER NOT NULL, -- 10, 11\n"
	"  none INTEGER NOT NULL, -- timed out\n"
	"  wrong INTEGER NOT NULL, -- answers to something else, or damaged\n"
	"  lost INTEGER NOT NULL, -- the connection or the port was gone\n"
	"  late_p99_s REAL, late_worst_s REAL, -- how late its scans begin\n"
	"  port TEXT, -- of a serial bus\n"
	"  period_s REAL NOT NULL, -- the shortest\n"
	"  state_since INTEGER NOT NULL,\n"
	"  bad_channels INTEGER NOT NULL, -- that it answers without a good value\n"
	"  bad_since INTEGER NOT NULL, -- one was at fault; 0: none is\n"
	"  bad_text TEXT, -- they, for people\n"
	"  recent_since INTEGER NOT NULL, -- what became of requests from here on\n"
	"  recent_good INTEGER NOT NULL, recent_illegal INTEGER NOT NULL,\n"
	"  recent_busy INTEGER NOT NULL, recent_fault INTEGER NOT NULL,\n"
	"  recent_gateway INTEGER NOT NULL, recent_none INTEGER NOT NULL,\n"
	"  recent_wrong INTEGER NOT NULL, recent_lost INTEGER NOT NULL\n"
	") STRICT"},
    {5, "ALTER TABLE shot ADD COLUMN revision INTEGER NOT NULL DEFAULT 0 /* one more\n"
	"    with every change of its labels or values: see superseded */"},
    {5, "CREATE TABLE superseded ( -- what a shot went by before each revision\n"
	"  shot INTEGER NOT NULL REFERENCES shot(id),\n"
	"  revision INTEGER NOT NULL,\n"
	"  recipe INTEGER, tool TEXT, material TEXT,\n"
	"  outcome TEXT NOT NULL,\n"
	"  channels TEXT, -- ids of those it had points of; NULL: forgotten by then\n"
	"  PRIMARY KEY (shot, revision)\n"
	") STRICT, WITHOUT ROWID"},
    /* Whoever gives a shot a new change number, and for whatever reason: before its
     * channels are replaced.  Lines that were refused are sent anew with that number. */
    {5, "CREATE TRIGGER shot_superseded AFTER UPDATE OF change ON shot"
	" WHEN new.change <> old.change BEGIN\n"
	"  INSERT INTO superseded (shot, revision, recipe, tool, material, outcome,\n"
	"    channels)\n"
	"  VALUES (old.id, old.revision, old.recipe, old.tool, old.material,\n"
	"    old.outcome, (SELECT group_concat(channel, ' ') FROM shot_channel\n"
	"    WHERE id >= old.id * 1048576 AND id < (old.id + 1) * 1048576));\n"
	"  DELETE FROM refusal WHERE change = old.change;\n"
	"  UPDATE shot SET revision = max(old.revision + 1,\n"
	"    1000 * (SELECT restored FROM line WHERE id = old.line)) WHERE id = "
	"old.id;\n"
	"END"},
    /* What a copy does not know of may be in the stores: see ledger_restored.c. */
    {5, "CREATE TABLE copied ( -- a row: a copy that no evensoakd has run with yet\n"
	"  at INTEGER NOT NULL -- when it was made\n"
	") STRICT"},
    {5, "ALTER TABLE line ADD COLUMN numbered_from INTEGER NOT NULL DEFAULT 0 /* no\n"
	"    shot gets this number or a lower one any more */"},
    {5, "ALTER TABLE line ADD COLUMN restored INTEGER NOT NULL DEFAULT 0 /* so often\n"
	"    a copy was put in the ledger's place */"},
    {5, "ALTER TABLE delivery ADD COLUMN turn INTEGER NOT NULL DEFAULT 0 /* one more\n"
	"    each time that somebody set it back */"},
    {5, "ALTER TABLE delivery ADD COLUMN lost INTEGER NOT NULL DEFAULT 0 /* readings\n"
	"    that were dropped before they went out */"},
    /* What programs before this version sent has no revision, nor does it say whether it
     * is current: everything goes out again, to all destinations, and so it turns out
     * anew what they refuse.  (They forgot neither shots nor events.) */
    {5, "UPDATE delivery SET change = 0, turn = turn + 1"
	" WHERE stream IN ('shot', 'event')"},
    {5, "DROP TABLE refusal"},
    {5, "CREATE TABLE refusal ( -- lines that a destination would not take\n"
	"  id INTEGER PRIMARY KEY, -- those of the highest are kept\n"
	"  destination TEXT NOT NULL,\n"
	"  change INTEGER NOT NULL, -- of the shot or event; of readings none\n"
	"  line TEXT NOT NULL, -- as sent\n"
	"  answer TEXT NOT NULL,\n"
	"  at INTEGER NOT NULL\n"
	") STRICT"},
    {5, "CREATE INDEX refusal_by_change ON refusal (change, destination)"},
    {5, "CREATE TABLE ring ( -- of readings, for each destination that wants them\n"
	"  id INTEGER PRIMARY KEY,\n"
	"  destination TEXT NOT NULL UNIQUE\n"
	") STRICT"},
    {5, "CREATE TABLE reading ( -- what all channels of a line read over an interval\n"
	"  id INTEGER PRIMARY KEY, -- ring * 1099511627776 + number; search by range\n"
	"  ring INTEGER AS (id / 1099511627776) VIRTUAL,\n"
	"  number INTEGER AS (id % 1099511627776) VIRTUAL,\n"
	"  line INTEGER NOT NULL REFERENCES line(id),\n"
	"  at INTEGER NOT NULL,\n"
	"  bytes BLOB NOT NULL -- packed\n"
	") STRICT"},
    {5, "CREATE TABLE logger ( -- the daemon itself; one row, replaced\n"
	"  id INTEGER PRIMARY KEY CHECK (id = 1),\n"
	"  host TEXT NOT NULL,\n"
	"  version TEXT NOT NULL,\n"
	"  started INTEGER NOT NULL,\n"
	"  at INTEGER NOT NULL,\n"
	"  polls INTEGER NOT NULL, -- scans of all devices; these three since the "
	"start\n"
	"  failures INTEGER NOT NULL,\n"
	"  late INTEGER NOT NULL,\n"
	"  queue INTEGER NOT NULL, -- scans not looked at yet\n"
	"  queue_most INTEGER NOT NULL,\n"
	"  dropped INTEGER NOT NULL,\n"
	"  waiting INTEGER NOT NULL, -- shots not on file yet\n"
	"  lost INTEGER NOT NULL,\n"
	"  filed INTEGER NOT NULL, -- shots; with the next since the start\n"
	"  clock_steps INTEGER NOT NULL,\n"
	"  memory_bytes INTEGER NOT NULL,\n"
	"  ledger_bytes INTEGER NOT NULL, -- with its WAL\n"
	"  free_bytes INTEGER NOT NULL -- of its disk\n"
	") STRICT"},
};

const struct schema_steps schema_steps = {list, sizeof list / sizeof list[0]};
