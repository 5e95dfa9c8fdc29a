/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/close_shifts.h"

#include <inttypes.h>
#include <stdio.h>

#include "cli/command/clock_options.h"
#include "cli/command/progress.h"
#include "cli/command/span.h"
#include "cli/command/terminal.h"
#include "cli/wording/shown.h"
#include "daemon/base/calendar.h"
#include "daemon/base/error.h"
#include "daemon/ledger/ledger.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

/* How many there were, from the begin of the first to the end of the last. */
struct counted {
	int64_t count;
	struct wall from, to;
};

struct showing {
	const struct call *call;
	struct page *page;
	struct progress *progress;
	struct counted done[CLOSE_DONE_COUNT];
	size_t found; /* findings told so far */
	bool again;
};

/* --- the page ------------------------------------------------------------------------------ */

/* What is told of a shift beside its sums. */
static const struct column columns[] = {
    {"line", "line", COLUMN_EACH},
    {"shift", "shift", COLUMN_EACH},
    {"from", "from", COLUMN_EACH},
    {"to", NULL, 0},
    {"done", "done", 0},
    {"shots", "shots", 0},
    {"complete", "complete", 0},
    {"outside", "outside", 0},
    {"capable", "capable", 0},
    {"not_capable", "not capable", 0},
    {"not_established", "not established", 0},
    {"findings", "findings", 0},
    {"cycle_s", NULL, 0},
    {"oven_kwh", NULL, 0},
    {"heat_removed_kwh", NULL, 0},
    {"gap_s", NULL, 0},
    {"length_s", NULL, 0},
};

/* The others are counted: of years that nobody logged there are thousands. */
static bool
is_told(enum close_done done)
{
	return done == CLOSE_NEW || done == CLOSE_REVISED;
}

static void
count(struct counted *counted, const struct close_span *span)
{
	if (counted->count == 0 || span->from.ns < counted->from.ns)
		counted->from = span->from;
	if (span->to.ns > counted->to.ns)
		counted->to = span->to;
	counted->count++;
}

static struct cell
count_cell(double count)
{
	return count >= 0 ? cell_count((int64_t)count) : cell_absent(NULL);
}

static void
show(void *arg, const struct close_told *told)
{
	struct showing *showing = arg;
	const double *sum = told->shift.sum;
	char words[24];

	count(&showing->done[told->done], told->span);
	progress_tell(showing->progress, "%s, %s ...", told->line, told->span->shift);
	if (!is_told(told->done))
		return;
	shown_words(close_done_text(told->done), words, sizeof words);
	struct cell done = cell_words(close_done_text(told->done));
	done.instead = words;
	const struct cell cells[] = {
	    cell_words(told->line),
	    cell_words(told->span->shift),
	    cell_time(told->span->from),
	    cell_time(told->span->to),
	    done,
	    count_cell(sum[LEDGER_SHIFT_SHOTS]),
	    count_cell(sum[LEDGER_SHIFT_OUTCOME + SHOT_COMPLETE]),
	    count_cell(sum[LEDGER_SHIFT_OUTSIDE]),
	    count_cell(sum[LEDGER_SHIFT_CAPABLE]),
	    count_cell(sum[LEDGER_SHIFT_NOT_CAPABLE]),
	    count_cell(sum[LEDGER_SHIFT_NOT_ESTABLISHED]),
	    count_cell(sum[LEDGER_SHIFT_FINDINGS]),
	    cell_number(sum[LEDGER_SHIFT_CYCLE_S], 1),
	    cell_number(sum[LEDGER_SHIFT_OVEN_KWH], 1),
	    cell_number(sum[LEDGER_SHIFT_HEAT_REMOVED_KWH], 1),
	    cell_number(sum[LEDGER_SHIFT_GAP_S], 0),
	    cell_number(sum[LEDGER_SHIFT_LENGTH_S], 0),
	};
	_Static_assert(COUNT(cells) == COUNT(columns), "a cell for each column");
	page_row(showing->page, cells);
}

/* Beside the table of shifts, which is open meanwhile. */
static void
show_finding(
    void *arg, const char *line, const struct close_span *span, const char *text)
{
	struct showing *showing = arg;

	showing->found++;
	fprintf(showing->call->err, "evensoak: found on %s in shift %s: %s\n", line,
	    span->shift, text);
}

/* What was not done, and why. */
static const struct {
	const char *what, *why;
} left[CLOSE_DONE_COUNT] = {
    [CLOSE_SAME] = {"on file already", "nothing of it has changed"},
    [CLOSE_NOT_LOGGED] = {"not logged",
	"no shots, and no daemon that would have seen one, so nothing is filed"},
    [CLOSE_FORGOTTEN] = {"not judged",
	"some of their shots are no longer on file, so what was filed of them stays"},
    [CLOSE_OTHER_HOURS] = {"of other hours",
	"the shifts that are on file for that time stay"},
    [CLOSE_NOT_YET] = {"not yet",
	"a shift is closed 15 minutes after its end, when its last sheets are on file"},
};
_Static_assert(CLOSE_GRACE_MINUTES == 15, "as is said");

static void
put_left(const struct showing *showing, enum close_done done)
{
	const struct counted *counted = &showing->done[done];
	char from[CALENDAR_TEXT], to[CALENDAR_TEXT];

	if (!left[done].what || counted->count == 0)
		return;
	/* Each run comes past the others. */
	if (!showing->again && done != CLOSE_FORGOTTEN)
		return;
	calendar_local_text(counted->from, from);
	calendar_local_text(counted->to, to);
	page_note(showing->page, NULL,
	    done == CLOSE_FORGOTTEN ? TONE_STRONG : TONE_PLAIN,
	    "%s: %" PRId64 " shift%s between %s and %s; %s", left[done].what,
	    counted->count, counted->count == 1 ? "" : "s", from, to, left[done].why);
}

static void
put_end(const struct showing *showing, const struct closing *closing)
{
	struct page *page = showing->page;
	const struct counted *done = showing->done;

	if (done[CLOSE_NEW].count + done[CLOSE_REVISED].count == 0)
		page_note(page, NULL, TONE_PLAIN, "%s",
		    showing->again
			? "nothing was closed, and nothing revised"
			: "nothing to close: what has ended and was logged is on file");
	for (int i = 0; i < CLOSE_DONE_COUNT; i++)
		put_left(showing, (enum close_done)i);
	if (closing->unfinished)
		page_note(page, NULL, TONE_STRONG,
		    "not all corrections are looked at: the next run goes on");
	page_field(page, "unfinished", NULL, cell_truth(closing->unfinished));
	page_field(page, "dry_run", NULL, cell_truth(closing->dry));
	for (int i = 0; i < CLOSE_DONE_COUNT; i++)
		page_field(page, close_done_text((enum close_done)i), NULL,
		    cell_count(done[i].count));
	page_field(page, "findings_filed", NULL, cell_count((int64_t)showing->found));
	if (closing->dry)
		page_note(page, NULL, TONE_STRONG, "nothing is changed");
}

/* --- the run -------------------------------------------------------------------------------- */

/* Those of which shots have changed since `cursor`, piece by piece; it goes along where all
 * lines are looked at. */
static int
correct_lines(struct closing *closing, const int lines[static 2], int64_t cursor,
    int64_t last, struct error *error)
{
	bool all =
	    lines[0] == 0 && lines[1] == (int)closing->session->settings->line_count;
	int code = 0;
	const int64_t end_ns =
	    closing->begun.ns + CLOSE_CORRECT_MINUTES * 60 * CLOCK_SECOND_NS;

	while (cursor < last && code == 0) {
		int64_t to = last - cursor > CLOSE_PIECE_CHANGES
		                 ? cursor + CLOSE_PIECE_CHANGES
		                 : last;
		for (int i = lines[0]; i < lines[1] && code == 0; i++)
			code = close_shifts_corrected(closing, i, cursor, to, error);
		if (code == 0 && !closing->dry && all)
			code = ledger_put_shift_closing(closing->ledger, to, error);
		cursor = to;
		closing->unfinished =
		    all && !closing->dry && cursor < last && clock_mono().ns > end_ns;
		if (closing->unfinished)
			break;
	}
	return code;
}

static int
close_lines(struct closing *closing, int line, struct error *error)
{
	const struct session *session = closing->session;
	const int count = (int)session->settings->line_count;
	const int lines[] = {line < 0 ? 0 : line, line < 0 ? count : line + 1};
	int64_t cursor = 0, last = 0;
	int code = ledger_read_shift_closing(session->ledger, &cursor, &last, error);

	/* Nobody has looked yet: what is closed from here on is of the shots as they are. */
	if (code == 0 && cursor == 0) {
		cursor = last;
		if (!closing->dry && last != 0)
			code = ledger_put_shift_closing(closing->ledger, last, error);
	}
	for (int i = lines[0]; i < lines[1] && code == 0; i++)
		code = close_shifts_of_line(closing, i, error);
	return code != 0 || closing->again
	           ? code
	           : correct_lines(closing, lines, cursor, last, error);
}

static enum command_exit
close_and_show(const struct closing *asked, const struct call *call, int line)
{
	struct showing showing = {.call = call, .again = asked->again};
	struct closing closing = *asked;
	struct error error;

	closing.tell = show;
	closing.tell_finding = show_finding;
	closing.arg = &showing;
	closing.ledger = ledger_open(asked->session->path, NULL, &error);
	if (!closing.ledger)
		return command_cannot(call, &error);
	showing.page = command_page(call);
	if (!showing.page) {
		ledger_close(closing.ledger);
		return COMMAND_CANNOT;
	}
	page_set_width(showing.page, terminal_width(call->out));
	showing.progress = progress_start(call->err, PROGRESS_AFTER_S);
	page_table(showing.page, "shifts", NULL, columns, COUNT(columns));
	int code = close_lines(&closing, line, &error);
	page_table_end(showing.page);
	progress_end(showing.progress);
	ledger_close(closing.ledger);
	if (code == 0)
		put_end(&showing, &closing);
	return command_end_page(call, showing.page,
	    code == 0 ? COMMAND_DONE : command_cannot(call, &error));
}

static enum command_exit
close_shifts(const struct call *call, const struct session *session)
{
	struct closing closing = {
	    .session = session,
	    .now = clock_wall(),
	    .begun = clock_mono(),
	    .dry = call->option[OPTION_DRY_RUN] != NULL,
	};
	struct span span;
	int line;
	enum command_exit code = session_line(session, call, &line);

	if (code == COMMAND_DONE)
		code = span_read(&span, session, call, NULL);
	if (code != COMMAND_DONE)
		return code;
	closing.again = span.given;
	closing.from = span.from;
	closing.to = span.to.ns != 0 ? span.to : closing.now;
	if (span.given && span.from.ns == 0)
		return command_usage(call, "say from when on: --from TIME");
	if (span.given && span.from.ns > closing.now.ns)
		return command_usage(
		    call, "'--from' lies in the future: no shift has ended after it");
	if (session->settings->shift_count == 0) {
		fprintf(call->err,
		    "evensoak: the set-up has no shifts: add [shift ...] to it\n");
		return COMMAND_DONE;
	}
	return close_and_show(&closing, call, line);
}

static enum command_exit
run_close_shifts(const struct call *call)
{
	enum command_exit code = clock_options_read(call);

	return code == COMMAND_DONE ? session_run_made(call, close_shifts) : code;
}

static const struct option_help help[] = {
    {OPTION_FROM, "again all that end later than this, by the limits of now"},
    {OPTION_TO, "and begin before this"},
    {OPTION_SINCE, "the same from so long ago on: 7d, 90d"},
    {OPTION_DRY_RUN, "only say what would be filed"},
    {0, NULL},
};

const struct command command_close_shifts = {
    .name = "close-shifts",
    .arguments = "",
    .summary = "files what a shift came to, for the dashboards of the stores",
    .details =
	"Files the figures of each shift that has ended, judged as 'evensoak report'\n"
	"judges them, by the set-up in force: the newest in the ledger.  The daemon\n"
	"sends them to the stores.  A systemd timer calls it every 15 minutes, beside\n"
	"the running daemon.  A shift is closed 15 minutes after its end, so that its\n"
	"last sheets are on file; one without any shot too, if the daemon ran.  Shots\n"
	"that are corrected later (a lot entered late, a recompute) make a new\n"
	"revision of their shift.  Looks 35 days back on its own, but not beyond a\n"
	"change of the hours of shifts; further with --since or --from, which also\n"
	"judge again what is on file.  A shift that began before the shots that are\n"
	"kept (keep_shots_days) is not filed any more.  Running it twice changes\n"
	"nothing.  What is found in the shift that runs, or has just ended, becomes "
	"an\n"
	"event: named causes that are likely or sure, each once a shift.  Needs the\n"
	"right to write the ledger.",
    .options = OPTION_BIT(OPTION_LINE) | OPTION_BIT(OPTION_FROM) |
               OPTION_BIT(OPTION_TO) | OPTION_BIT(OPTION_SINCE) |
               OPTION_BIT(OPTION_DRY_RUN) | CLOCK_OPTIONS,
    .csv_table = "shifts",
    .help = help,
    .run = run_close_shifts,
};
