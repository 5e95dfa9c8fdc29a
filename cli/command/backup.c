/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/command.h"

#include <stdio.h>
#include <stdlib.h>

#include "cli/command/progress.h"
#include "cli/command/session.h"
#include "cli/page/page.h"
#include "daemon/base/calendar.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger_backup.h"
#include "daemon/ledger/ledger_read.h"
#include "daemon/ledger/ledger_salvage.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum { PATH = 4096, ZONED = CALENDAR_TEXT + 4 };

struct backup {
	const struct call *call;
	char ledger[PATH];
	const char *to;
	struct page *page;
	struct progress *progress;
	int64_t places;
	int part;   /* the table of a salvage that is open; -1: none */
	bool zoned; /* times are the site's; else UTC */
	int64_t lost;
};

/* --- where the ledger is ---------------------------------------------------------------- */

static char *ledger_to; /* of find_ledger: the only thread */

static enum command_exit
take_path(const struct call *call, const struct session *session)
{
	(void)call;
	text_copy(ledger_to, PATH, session->settings->ledger);
	return COMMAND_DONE;
}

/* Whether the set-up on file tells the site's zone, which then holds; a ledger that is
 * damaged may not tell. */
static bool
take_zone(const char *path)
{
	struct error error;
	struct problems *problems = calloc(1, sizeof *problems);
	struct ledger_read *ledger = ledger_read_open(path, &error);
	char *text = ledger ? ledger_read_setup(ledger, 0, &error) : NULL;
	struct settings *settings =
	    text && problems ? settings_parse(text, path, problems) : NULL;
	bool zoned = settings && calendar_set_zone(settings->zone, &error) == 0;

	settings_free(settings);
	free(text);
	if (ledger)
		ledger_read_close(ledger);
	free(problems);
	return zoned;
}

/* Not opened: one that is damaged may not open. */
static enum command_exit
find_ledger(const struct call *call, struct backup *backup)
{
	if (call->option[OPTION_LEDGER]) {
		text_copy(backup->ledger, PATH, call->option[OPTION_LEDGER]);
		backup->zoned = take_zone(backup->ledger);
		return COMMAND_DONE;
	}
	ledger_to = backup->ledger;
	backup->zoned = true; /* by that set-up */
	return session_run_set_up(call, take_path);
}

/* --- what is told ------------------------------------------------------------------------- */

static void
tell(void *arg, enum ledger_backup_stage stage, double ratio)
{
	struct backup *backup = arg;

	switch (stage) {
	case BACKUP_COPYING:
		progress_tell(backup->progress, "copying: %.0f %%", 100 * ratio);
		break;
	case BACKUP_CHECKING:
		progress_tell(backup->progress, "checking the copy");
		break;
	}
}

/* The site's, or marked as UTC. */
static struct cell
show_time(const struct backup *backup, struct wall at, char words[static ZONED])
{
	struct cell cell = cell_time(at);
	char utc[CALENDAR_TEXT];

	calendar_utc_text(at, 0, utc);
	snprintf(words, ZONED, "%.10s %.8s UTC", utc, utc + 11);
	if (!backup->zoned && at.ns != 0)
		cell.instead = words;
	return cell;
}

static void
put_made(const struct backup *backup, const struct ledger_backup *made)
{
	struct page *page = backup->page;
	char first[ZONED], last[ZONED];

	page_field(page, "ledger", "ledger", cell_words(backup->ledger));
	page_field(page, "file", "copy", cell_words(backup->to));
	page_field(page, "bytes", "size MB",
	    cell_shown((double)made->bytes, (double)made->bytes / 1e6, 1));
	page_field(page, "shots", "shots", cell_count(made->shots));
	page_field(page, "events", "events", cell_count(made->events));
	page_field(page, "first_filed_at", "first shot",
	    show_time(backup, made->first, first));
	page_field(
	    page, "last_filed_at", "last shot", show_time(backup, made->last, last));
}

static void
take_table(void *arg, const struct ledger_salvaged *salvaged)
{
	struct backup *backup = arg;
	struct cell places = cell_count(salvaged->places);

	places.tone = salvaged->places > 0 ? TONE_BAD : TONE_PLAIN;
	const struct cell cells[] = {
	    cell_words(salvaged->table), cell_count(salvaged->rows), places};
	page_row(backup->page, cells);
	backup->places += salvaged->places;
}

/* The tables of a salvage, in this order. */
enum part { PART_READ, PART_LOST, PART_INCOMPLETE, PART_COUNT };

static void
begin_part(struct backup *backup, enum part part)
{
	static const struct column read[] = {
	    {"table", "kind of rows", 0},
	    {"rows", "read", 0},
	    {"places", "places not readable", 0},
	};
	static const struct column lost[] = {
	    {"line", "line", 0},
	    {"first_shot_no", "from", 0},
	    {"last_shot_no", "to", 0},
	    {"shots", "shots", 0},
	    {"after", "filed after", 0},
	    {"before", "and before", 0},
	};
	static const struct column incomplete[] = {
	    {"table", "kind of rows", 0},
	    {"line", "line", 0},
	    {"first_shot_no", "from", 0},
	    {"last_shot_no", "to", 0},
	    {"shots", "shots", 0},
	};
	static const struct {
		const char *key, *heading;
		const struct column *columns;
		size_t count;
	} parts[PART_COUNT] = {
	    {"read", "What can be read", read, COUNT(read)},
	    {"lost", "Shots that are lost", lost, COUNT(lost)},
	    {"incomplete", "Shots that may lack rows of a kind", incomplete,
		COUNT(incomplete)},
	};

	if (backup->part == (int)part)
		return;
	if (backup->part >= 0)
		page_table_end(backup->page);
	page_table(backup->page, parts[part].key, parts[part].heading,
	    parts[part].columns, parts[part].count);
	backup->part = (int)part;
}

static void
take_lost(void *arg, const struct ledger_lost *lost)
{
	struct backup *backup = arg;

	char after[ZONED], before[ZONED];

	begin_part(backup, PART_LOST);
	const struct cell cells[] = {
	    cell_words(lost->line),
	    cell_count(lost->first_no),
	    cell_count(lost->last_no),
	    cell_count(lost->count),
	    show_time(backup, lost->after, after),
	    show_time(backup, lost->before, before),
	};
	page_row(backup->page, cells);
	backup->lost += lost->count;
}

static void
take_incomplete(void *arg, const struct ledger_incomplete *incomplete)
{
	struct backup *backup = arg;
	const struct cell cells[] = {
	    cell_words(incomplete->table),
	    cell_words(incomplete->line),
	    cell_count(incomplete->first_no),
	    cell_count(incomplete->last_no),
	    cell_count(incomplete->count),
	};

	begin_part(backup, PART_INCOMPLETE);
	page_row(backup->page, cells);
}

/* --- the two ways ---------------------------------------------------------------------------- */

static int
salvage(
    struct backup *backup, const struct ledger_backup_watch *watch, struct error *error)
{
	const struct call *call = backup->call;
	bool dry = call->option[OPTION_DRY_RUN] != NULL;
	const struct ledger_salvage_order order = {.to = backup->to,
	    .over = call->option[OPTION_FORCE] != NULL,
	    .dry = dry,
	    .watch = watch,
	    .take = {take_table, take_lost, take_incomplete, backup}};
	struct ledger_backup made;

	begin_part(backup, PART_READ);
	int code = ledger_salvage(backup->ledger, &order, &made, error);
	page_table_end(backup->page);
	if (code != 0)
		return code;
	put_made(backup, &made);
	page_field(backup->page, "lost_shots", "shots lost", cell_count(backup->lost));
	if (backup->places == 0)
		page_note(backup->page, NULL, TONE_GOOD,
		    "everything could be read; what is damaged is an index at most");
	else
		page_note(backup->page, NULL, TONE_BAD,
		    "%lld place%s could not be read", (long long)backup->places,
		    backup->places == 1 ? "" : "s");
	page_note(backup->page, NULL, TONE_PLAIN,
	    dry ? "nothing was written: leave --dry-run out to get the new ledger"
		: "how to put it in the ledger's place: 'evensoak backup --help'");
	return 0;
}

static int
copy(
    struct backup *backup, const struct ledger_backup_watch *watch, struct error *error)
{
	struct ledger_backup made;
	int code = ledger_backup(backup->ledger, backup->to,
	    backup->call->option[OPTION_FORCE] != NULL, watch, &made, error);

	if (code == 0)
		put_made(backup, &made);
	return code;
}

static enum command_exit
run_backup(const struct call *call)
{
	struct backup backup = {.call = call, .to = call->argument[0], .part = -1};
	const struct ledger_backup_watch watch = {tell, &backup};
	bool salvages = call->option[OPTION_SALVAGE] != NULL;
	struct error error;
	enum command_exit code = find_ledger(call, &backup);

	if (code != COMMAND_DONE)
		return code;
	if (call->option[OPTION_DRY_RUN] && !salvages)
		return command_usage(call, "'--dry-run' goes with '--salvage'");
	backup.page = command_page(call);
	if (!backup.page)
		return COMMAND_CANNOT;
	backup.progress = progress_start(call->err, PROGRESS_AFTER_S);
	int failed =
	    salvages ? salvage(&backup, &watch, &error) : copy(&backup, &watch, &error);
	progress_end(backup.progress);
	if (failed != 0)
		code = command_cannot(call, &error);
	else if (backup.places > 0)
		code = COMMAND_NO;
	return command_end_page(call, backup.page, code);
}

static const struct option_help help[] = {
    {OPTION_DRY_RUN, "with --salvage: only say what can be read"},
    {0, NULL},
};

const struct command command_backup = {
    .name = "backup",
    .arguments = "FILE",
    .summary = "a copy of the ledger, also while the daemon writes it",
    .details =
	"The copy is the ledger as it was at one instant: one file, checked and on the "
	"disk\nwhen it gets its name, that every command reads with --ledger, also "
	"from "
	"a disc.\nThe daemon goes on meanwhile.  It takes the right to read the "
	"ledger, "
	"no more.\n\n"
	"To put a copy in the ledger's place:\n"
	"  systemctl stop evensoakd\n"
	"  mkdir /var/lib/evensoak/old && mv /var/lib/evensoak/ledger.db* "
	"/var/lib/evensoak/old\n"
	"  install -o evensoak -g evensoak -m 660 FILE /var/lib/evensoak/ledger.db\n"
	"  systemctl start evensoakd\n"
	"All files that begin with ledger.db have to go: what lies in ledger.db-wal "
	"belongs to\nthe old one.  Numbers of shots then go on higher, from a round "
	"one, "
	"so that none is\ngiven twice; what the stores got after the copy was made "
	"stays "
	"there.\n\n"
	"--salvage makes FILE of what can still be read of a damaged ledger, and tells "
	"what is\nlost; exits 1 when something is.  The damaged one stays as it is.  "
	"Where too much is\nlost, take the newest copy.\n\n"
	"Where the daemon found the ledger damaged as it started, it runs and keeps "
	"the shots in\nmemory: 'evensoak status' says so.  Then do not stop it, but "
	"put the new file under the\nledger's name; within seconds it goes on with "
	"that, and with the shots it kept:\n"
	"  install -o evensoak -g evensoak -m 660 FILE /var/lib/evensoak/new.db\n"
	"  cd /var/lib/evensoak && mkdir old\n"
	"  mv ledger.db old; mv ledger.db-wal ledger.db-shm old\n"
	"  mv new.db ledger.db",
    .options = OPTION_BIT(OPTION_FORCE) | OPTION_BIT(OPTION_SALVAGE) |
               OPTION_BIT(OPTION_DRY_RUN),
    .argument_least = 1,
    .argument_most = 1,
    .csv_table = "read",
    .help = help,
    .run = run_backup,
};
