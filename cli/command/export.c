/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/command.h"

#include <errno.h>
#include <inttypes.h>
#include <string.h>

#include "cli/command/progress.h"
#include "cli/command/session.h"
#include "cli/command/span.h"
#include "cli/command/store_named.h"
#include "cli/command/terminal.h"
#include "conf/words.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger_read.h"
#include "daemon/publish/line_protocol.h"
#include "daemon/publish/shift_lines.h"
#include "daemon/publish/shot_lines.h"

/* Progress is told of so many at a time. */
enum { SHOTS_TOLD = 100 };

/* The lines of one shot: as much as is ever in memory. */
enum { PIECE_MOST_BYTES = 4 << 20 };

struct export
{
	const struct call *call;
	const struct session *session;
	struct line_protocol_form form;
	struct shot_lines shot_lines;
	struct text piece; /* of one shot or event */
	int64_t shots, events, shifts;
	struct progress *progress;
	int code; /* what went wrong; 0 */
	struct error error;
};

/* Other than 0 when it cannot be written: then nobody wants the rest. */
static int
put_piece(struct export *export)
{
	const struct text *piece = &export->piece;

	if (piece->failed) {
		export->code = error_set(
		    &export->error, ERROR_MEMORY, "out of memory for the lines");
		return 1;
	}
	errno = 0;
	if (piece->length > 0 &&
	    fwrite(piece->bytes, 1, piece->length, export->call->out) != piece->length)
		export->code =
		    error_set(&export->error, ERROR_IO, "cannot write the lines: %s",
			errno ? strerrordesc_np(errno) : "an earlier write failed");
	return export->code;
}

static int
take_shot(void *arg, const struct ledger_shot *shot)
{
	struct export *export = arg;

	text_clear(&export->piece);
	export->code =
	    shot_lines_add(&export->shot_lines, &export->piece, shot, &export->error);
	export->shots += export->code == 0;
	if (export->shots % SHOTS_TOLD == 0)
		progress_tell(export->progress, "%" PRId64 " shots", export->shots);
	return export->code != 0 ? 1 : put_piece(export);
}

static int
take_event(void *arg, const struct ledger_event *event)
{
	struct export *export = arg;

	text_clear(&export->piece);
	line_protocol_event(&export->piece, &export->form, event);
	export->events++;
	return put_piece(export);
}

static int
take_shift(void *arg, const struct ledger_shift *shift)
{
	struct export *export = arg;

	text_clear(&export->piece);
	export->code = shift_lines_add(&export->piece, &export->form,
	    export->session->ledger, shift, &export->error);
	export->shifts += export->code == 0;
	return export->code != 0 ? 1 : put_piece(export);
}

static int
put_lines(struct export *export, const struct ledger_filter *filter)
{
	const struct ledger_shift_filter shifts = {
	    .line = filter->line, .from = filter->from, .to = filter->to};
	struct ledger_read *ledger = export->session->ledger;
	int code =
	    ledger_read_shots(ledger, filter, true, take_shot, export, &export->error);

	if (code == 0 && export->code == 0)
		code = ledger_read_events(
		    ledger, filter, take_event, export, &export->error);
	if (code == 0 && export->code == 0)
		code = ledger_read_shifts(
		    ledger, &shifts, take_shift, export, &export->error);
	if (code != 0)
		export->code = code;
	if (export->code == 0 && fflush(export->call->out) != 0)
		export->code = error_set(&export->error, ERROR_IO,
		    "cannot write the lines: %s", strerrordesc_np(errno));
	return export->code;
}

/* --- for whom ----------------------------------------------------------------------------- */

static enum command_exit
read_form(struct export *export, enum store_kind *kind)
{
	const struct settings *settings = export->session->settings;
	const char *name = export->call->option[OPTION_STORE];
	size_t store = 0;
	enum command_exit code = COMMAND_DONE;

	*kind = STORE_INFLUXDB1;
	if (name)
		code =
		    store_named_of_set_up(export->call, export->session, name, &store);
	if (name && code == COMMAND_DONE)
		*kind = settings->stores[store].kind;
	export->form = line_protocol_form(settings->site, *kind);
	return code;
}

/* Beside the lines, so that nobody takes less than there is for all of it. */
static void
tell(const struct export *export, enum store_kind kind)
{
	fprintf(export->call->err,
	    "evensoak: the lines of %" PRId64 " shot%s, %" PRId64
	    " event%s and %" PRId64 " closed shift%s of '%s', as for kind %s\n",
	    export->shots, export->shots == 1 ? "" : "s", export->events,
	    export->events == 1 ? "" : "s", export->shifts,
	    export->shifts == 1 ? "" : "s", export->session->path,
	    words_store.list[kind]);
}

static enum command_exit
put_span(struct export *export, const struct span *span, const char *line)
{
	const struct ledger_filter filter = {
	    .line = line, .from = span->from, .to = span->to, .by_time = true};
	enum store_kind kind;
	enum command_exit code = read_form(export, &kind);

	if (code != COMMAND_DONE)
		return code;
	text_init(&export->piece, PIECE_MOST_BYTES);
	shot_lines_init(&export->shot_lines, export->session->ledger, &export->form);
	/* where the lines themselves go to the terminal they tell enough */
	if (!terminal_is(export->call->out))
		export->progress = progress_start(export->call->err, PROGRESS_AFTER_S);
	int trouble = put_lines(export, &filter);
	progress_end(export->progress);
	text_release(&export->piece);
	if (trouble != 0)
		return command_cannot(export->call, &export->error);
	if (export->shots == 0 && export->events == 0 && export->shifts == 0) {
		fprintf(export->call->err,
		    "evensoak: no such shots and no such events in '%s'\n",
		    export->session->path);
		return COMMAND_NO;
	}
	tell(export, kind);
	return COMMAND_DONE;
}

static enum command_exit
export_lines(const struct call *call, const struct session *session)
{
	struct export export = {.call = call, .session = session};
	struct span span;
	int line;
	enum command_exit code = session_line(session, call, &line);

	if (code != COMMAND_DONE)
		return code;
	const char *name = line >= 0 ? session->settings->lines[line].name : NULL;
	code = span_read(&span, session, call, name);
	return code != COMMAND_DONE ? code : put_span(&export, &span, name);
}

static enum command_exit
run_export(const struct call *call)
{
	const char *format = call->option[OPTION_FORMAT];

	if (format && strcmp(format, "lines") != 0)
		return command_usage(call,
		    "'--format' is '%s', must be lines; shots as a table: 'evensoak "
		    "shots --format csv', or json",
		    format);
	return session_run_despite(call, export_lines);
}

static const struct option_help help[] = {
    {OPTION_FORMAT, "lines, which it is without it too"},
    {OPTION_STORE, "as for this store of the set-up; else as for an influxdb1"},
    {0, NULL},
};

const struct command command_export = {
    .name = "export",
    .arguments = "",
    .summary = "shots and events as the lines that the stores get",
    .details =
	"Writes InfluxDB line protocol, times in ns, as the daemon sends it: each\n"
	"shot with its channels, what is absent and why, and the marks of its\n"
	"earlier revisions; then the events, and the shifts that are closed.  For a "
	"store that the line's\n"
	"computer does not reach, or one that is filled anew from a copy:\n"
	"  evensoak export --since 30d | split -l 5000 --filter=\"curl -fsS \\\n"
	"    --data-binary @- 'http://HOST:8086/write?db=NAME&precision=ns'\"\n"
	"What a store has already stays as it is.  All lines and all times unless\n"
	"said otherwise.  Exits 1 when there is nothing.",
    .options = OPTION_BIT(OPTION_LINE) | SPAN_OPTIONS | OPTION_BIT(OPTION_STORE),
    .own_format = "lines",
    .help = help,
    .run = run_export,
};
