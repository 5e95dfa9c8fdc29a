/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/command.h"

#include <signal.h>
#include <stdlib.h>
#include <string.h>

#include "cli/command/clock_options.h"
#include "cli/command/session.h"
#include "cli/command/span.h"
#include "cli/command/terminal.h"
#include "cli/command/watcher.h"
#include "daemon/base/clock.h"
#include "daemon/base/error.h"
#include "daemon/base/log.h"
#include "daemon/base/text.h"

enum {
	FOR_DEFAULT_S = 10,
	TURN_S = 5,             /* each piece of what a terminal does not hold */
	REDRAW_NS = 1000000000, /* of the system's time */
	ONCE_NS = 50000000,
};

struct watch {
	const struct call *call;
	struct watcher *watcher;
	struct watch_view view;
	int64_t device; /* it alone is drawn; -1: all */
	bool live, once;
	int64_t drawn;     /* so many times, once a second */
	struct mono until; /* ns 0: until a signal comes */
	sigset_t signals;
};

/* --- the command line ------------------------------------------------------------------------ */

static enum command_exit
read_for(const struct call *call, double *seconds)
{
	const char *text = call->option[OPTION_FOR];

	*seconds = 0;
	if (!text || span_parse_seconds(text, seconds))
		return COMMAND_DONE;
	return command_usage(call, "'--for' is '%s', must be like 60s, 5m or 2h", text);
}

/* The device that --device names, and the line that it belongs to. */
static enum command_exit
read_device(const struct call *call, const struct settings *settings, int64_t *device,
    int *line)
{
	const char *name = call->option[OPTION_DEVICE];
	const char *names[SETTINGS_DEVICES];
	size_t count = 0;

	*device = -1;
	for (size_t i = 0; name && i < settings->device_count; i++) {
		const struct device_settings *one = &settings->devices[i];
		if (*line >= 0 && one->line != (uint32_t)*line)
			continue;
		names[count++] = one->name;
		if (strcmp(one->name, name) == 0)
			*device = (int64_t)i;
	}
	if (*device >= 0)
		*line = (int)settings->devices[*device].line;
	if (!name || *device >= 0)
		return COMMAND_DONE;
	const char *near = text_nearest(name, names, count);
	return command_usage(call, "there is no device '%s'%s%s%s", name,
	    near ? "; did you mean '" : "", near ? near : "", near ? "'?" : "");
}

/* --- drawing in place --------------------------------------------------------------------------- */

#define SCREEN_OWN "\033[?1049h\033[?25l" /* a screen of our own, no cursor */
#define SCREEN_BACK "\033[?25h\033[?1049l"

/* The page, or a piece of it (-1: all), as text in lines of `columns`; the caller frees.
 * NULL: memory is short. */
static char *
draw(const struct watch *watch, int columns, int64_t piece)
{
	char *bytes = NULL;
	size_t length = 0;
	FILE *out = open_memstream(&bytes, &length);
	struct page *page =
	    out ? page_new(out, PAGE_TEXT, watch->call->colour, NULL) : NULL;

	if (page) {
		page_set_width(page, columns);
		if (piece < 0)
			watch_view_put(page, &watch->view);
		else
			watch_view_put_piece(page, &watch->view, (size_t)piece);
		page_end(page);
	}
	if (out)
		fclose(out);
	return bytes;
}

static int
line_count(const char *bytes)
{
	int lines = 0;

	for (; bytes && *bytes; bytes++)
		lines += *bytes == '\n';
	return lines;
}

/* From the first line on as much as `rows` hold, then `last`, unless that is "". */
static void
put_screen(FILE *out, char *bytes, int rows, const char *last)
{
	char *rest = bytes, *line;
	int room = *last ? rows - 1 : rows;

	fputs("\033[H", out);
	for (int row = 1; row <= room && rest; row++) {
		line = strsep(&rest, "\n");
		fprintf(out, "%s\033[K%s", line, row < rows ? "\n" : "");
	}
	fprintf(out, "%s%s\033[J", last, *last ? "\033[K" : "");
	fflush(out);
}

/* A page that the window does not hold turns: its pieces come one after another. */
static void
redraw(struct watch *watch)
{
	FILE *out = watch->call->out;
	int columns = PAGE_WIDTH, rows = 24;
	size_t pieces = watch_view_pieces(&watch->view);
	char last[128] = "";

	terminal_size(out, &columns, &rows);
	char *bytes = draw(watch, columns, -1);
	int lines = line_count(bytes);
	if (lines > rows && pieces > 1) {
		size_t piece = (size_t)(watch->drawn / TURN_S) % pieces;
		free(bytes);
		bytes = draw(watch, columns, (int64_t)piece);
		lines = line_count(bytes);
		snprintf(last, sizeof last, "%zu of %zu%s", piece + 1, pieces,
		    lines >= rows ? "; more than this window shows" : "");
	} else if (lines > rows) {
		snprintf(last, sizeof last, "... more than this window shows");
	}
	put_screen(out, bytes, rows, last);
	watch->drawn++;
	free(bytes);
}

/* --- watching ------------------------------------------------------------------------------------- */

/* Waits for at most `ns` of the system's time; whether a signal says to end. */
static bool
wait_ns(const struct watch *watch, int64_t ns)
{
	const struct timespec timeout = {
	    .tv_sec = ns / CLOCK_SECOND_NS, .tv_nsec = ns % CLOCK_SECOND_NS};

	return sigtimedwait(&watch->signals, NULL, &timeout) > 0;
}

static void
look_until_the_end(struct watch *watch)
{
	for (;;) {
		int64_t left = watch->once ? ONCE_NS : REDRAW_NS;
		if (watch->once && watcher_asked_all(watch->watcher))
			break;
		if (watch->until.ns != 0) {
			int64_t ns = clock_system_ns(watch->until.ns - clock_mono().ns);
			if (ns <= 0)
				break;
			left = ns < left ? ns : left;
		}
		if (wait_ns(watch, left))
			break;
		if (watch->live) {
			watcher_look(watch->watcher, &watch->view);
			redraw(watch);
		}
	}
	watcher_look(watch->watcher, &watch->view);
}

static enum command_exit
watch_and_tell(struct watch *watch)
{
	const struct call *call = watch->call;

	if (watch->live)
		fputs(SCREEN_OWN, call->out);
	look_until_the_end(watch);
	if (watch->live)
		fputs(SCREEN_BACK, call->out);
	struct page *page = command_page(call);
	if (!page)
		return COMMAND_CANNOT;
	watch_view_put(page, &watch->view);
	return command_end_page(
	    call, page, watch_view_is_odd(&watch->view) ? COMMAND_NO : COMMAND_DONE);
}

static enum command_exit
start_and_watch(struct watch *watch, const struct settings *settings, int line)
{
	struct error error;
	enum command_exit code = COMMAND_CANNOT;

	error_set(&error, ERROR_MEMORY, "out of memory");
	if (watch_view_init(&watch->view, settings)) {
		watch->view.device = watch->device;
		watch->watcher = watcher_start(settings, line, &error);
	}
	if (watch->watcher)
		code = watch_and_tell(watch);
	else
		command_cannot(watch->call, &error);
	watcher_stop(watch->watcher);
	watch_view_release(&watch->view);
	return code;
}

static enum command_exit
watch_lines(const struct call *call, const struct session *session)
{
	struct watch watch = {.call = call, .once = call->option[OPTION_ONCE] != NULL};
	/* The only thread so far. NOLINTNEXTLINE(concurrency-mt-unsafe) */
	const char *kind = getenv("TERM");
	sigset_t before;
	double seconds;
	int line;
	enum command_exit code = session_line(session, call, &line);

	if (code != COMMAND_DONE ||
	    (code = read_device(call, session->settings, &watch.device, &line)) !=
		COMMAND_DONE ||
	    (code = read_for(call, &seconds)) != COMMAND_DONE ||
	    (code = clock_options_read(call)) != COMMAND_DONE)
		return code;
	watch.live = call->format == PAGE_TEXT && !watch.once &&
	             terminal_is(call->out) && kind && strcmp(kind, "dumb") != 0;
	if (seconds <= 0 && !watch.live && !watch.once)
		seconds = FOR_DEFAULT_S;
	if (seconds > 0)
		watch.until.ns = clock_mono().ns + (int64_t)(seconds * 1e9);
	log_set_level(LOG_LEVEL_ERROR); /* the page tells how devices answer */
	sigemptyset(&watch.signals);
	sigaddset(&watch.signals, SIGINT);
	sigaddset(&watch.signals, SIGTERM);
	sigaddset(&watch.signals, SIGHUP);
	pthread_sigmask(SIG_BLOCK, &watch.signals, &before);
	code = start_and_watch(&watch, session->settings, line);
	pthread_sigmask(SIG_SETMASK, &before, NULL);
	return code;
}

static enum command_exit
run_watch(const struct call *call)
{
	return session_run_set_up(call, watch_lines);
}

const struct command command_watch = {
    .name = "watch",
    .arguments = "",
    .summary = "live: the sheets on their stations, the status bits, every channel",
    .details = "For commissioning. Polls the devices itself, reading only, over\n"
	       "connections of its own beside the daemon's: some controllers allow\n"
	       "few, then stop the daemon meanwhile. Nothing is kept; sheets are\n"
	       "counted from the start of the watch.\n"
	       "On a terminal the page is drawn anew every second until Ctrl-C or\n"
	       "the end of --for; elsewhere one page is written at the end of\n"
	       "--for (10 s when not given) or with --once. A window that does not\n"
	       "hold the page shows the lines and each device in turn, 5 s each;\n"
	       "--device shows the channels of one. The remarks on the bits need\n"
	       "some cycles.\n"
	       "Exit 1: a device does not answer in full, a bit has a remark, or an\n"
	       "empty frame was formed. The clock's options are for a simulated\n"
	       "line.",
    .options = OPTION_BIT(OPTION_LINE) | OPTION_BIT(OPTION_DEVICE) |
               OPTION_BIT(OPTION_FOR) | OPTION_BIT(OPTION_ONCE) | CLOCK_OPTIONS,
    .csv_table = "channels",
    .run = run_watch,
};
