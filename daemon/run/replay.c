/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/run/replay.h"

#include <inttypes.h>
#include <stdint.h>
#include <time.h>

#include "conf/settings.h"
#include "daemon/base/calendar.h"
#include "daemon/base/error.h"
#include "daemon/base/log.h"
#include "daemon/base/scan.h"
#include "daemon/ledger/ledger.h"
#include "daemon/run/filing.h"
#include "daemon/run/lines.h"
#include "daemon/run/recording.h"
#include "daemon/shot/pack.h"

#define TELL_FIRST_S 1.0 /* a replay that takes this long tells how far it is, ... */
#define TELL_EVERY_S 5.0 /* ... and again this often */

enum { LOOK_UP_SCANS = 1000 }; /* how often the time is asked */

struct replay {
	const struct settings *settings; /* wanted */
	struct settings *made;           /* of the session; NULL before the first */
	struct filing *filing;
	struct lines *lines; /* of the session; NULL: it has no scan yet */
	struct wall now;     /* of the last scan; ns 0: there was none at all */
	int64_t scans, values;
	double began_s, tell_s; /* of the system's time */
	struct error *error;
};

static double
system_seconds(void)
{
	struct timespec now;

	clock_gettime(CLOCK_MONOTONIC, &now);
	return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

static void
tell(const struct replay *replay, const char *what)
{
	struct filing_status status;
	char text[CALENDAR_TEXT];
	double took_s = system_seconds() - replay->began_s;

	filing_status(replay->filing, &status);
	calendar_local_text(replay->now, text);
	log_info("%s %s: %" PRId64 " scans, %" PRId64 " shots, %.1f s, %.2f million "
		 "values a second",
	    what, text, replay->scans, status.filed, took_s,
	    1e-6 * (double)replay->values / took_s);
}

/* --- a session ------------------------------------------------------------------------ */

/* Everything given out is written, or there is no going on. */
static int
file_all(struct replay *replay, struct error *error)
{
	struct filing_status status;

	if (filing_write(replay->filing, true))
		return 0;
	filing_status(replay->filing, &status);
	return error_set(error, ERROR_IO, "%s", status.text);
}

/* A ledger that is ahead of the recording would get its shots out of order, or twice. */
static int
check_order(struct replay *replay, struct wall first)
{
	struct wall last = lines_last_closed(replay->lines);
	char last_text[CALENDAR_TEXT], first_text[CALENDAR_TEXT];

	if (last.ns <= first.ns)
		return 0;
	calendar_local_text(last, last_text);
	calendar_local_text(first, first_text);
	return error_set(replay->error, ERROR_REFUSED,
	    "ledger '%s' has shots up to %s, and the recording begins at %s: replay it "
	    "into a new ledger",
	    replay->settings->ledger, last_text, first_text);
}

/* At the first scan of a session. */
static int
begin_session(struct replay *replay, struct wall at)
{
	int rc = 0;

	replay->lines =
	    lines_start(replay->settings, replay->filing, true, replay->error);
	if (replay->lines == NULL)
		return ERROR_IO;
	if (replay->now.ns == 0)
		rc = check_order(replay, at);
	if (rc != 0) {
		lines_free(replay->lines);
		replay->lines = NULL;
		return rc;
	}
	lines_event(replay->lines, at, "start", "a replay begins");
	return 0;
}

static int
end_session(struct replay *replay, struct error *error)
{
	int rc = 0;

	if (replay->lines != NULL) {
		lines_finish(replay->lines);
		lines_event(replay->lines, replay->now, "end", "a replay ends");
		rc = file_all(replay, error);
	}
	lines_free(replay->lines);
	replay->lines = NULL;
	settings_free(replay->made);
	replay->made = NULL;
	return rc;
}

/* --- blocks --------------------------------------------------------------------------- */

/* How far it is, if it is time to tell. */
static void
tell_progress(struct replay *replay)
{
	double took_s = system_seconds() - replay->began_s;

	if (took_s < replay->tell_s)
		return;
	tell(replay, "replayed up to");
	replay->tell_s = took_s + TELL_EVERY_S;
}

static int
take_scan(void *arg, const struct scan *scan)
{
	struct replay *replay = arg;
	int rc = replay->lines == NULL ? begin_session(replay, scan->wall) : 0;

	if (rc != 0)
		return rc;
	replay->now = scan->wall;
	replay->scans++;
	replay->values += scan->count;
	lines_scan(replay->lines, scan);
	rc = file_all(replay, replay->error);
	filing_tidy(replay->filing, scan->wall);
	if (replay->scans % LOOK_UP_SCANS == 0)
		tell_progress(replay);
	return rc;
}

static int
take_settings(struct replay *replay, const struct recording_block *block)
{
	static struct problems problems; /* 51 kB: not on the stack */
	int rc = end_session(replay, replay->error);

	if (rc != 0)
		return rc;
	replay->made =
	    settings_parse((const char *)block->bytes, "recording", &problems);
	if (replay->made != NULL)
		return 0;
	return error_set(replay->error, ERROR_INVALID,
	    "the recording's configuration is not valid any more: %s",
	    problems.list[0].text);
}

static int
take_block(struct replay *replay, const struct recording_block *block)
{
	if (block->kind == RECORDING_SETTINGS)
		return take_settings(replay, block);
	if (replay->made == NULL)
		return error_set(replay->error, ERROR_INVALID,
		    "the recording does not say what its scans are of");
	return pack_read(block->bytes, block->length,
	    &(struct pack_reader){replay->made, replay->settings, take_scan, replay},
	    replay->error);
}

static int
play_blocks(struct replay *replay, struct recording_reader *reader)
{
	struct recording_block block;
	int rc;

	while ((rc = recording_next(reader, &block, replay->error)) > 0) {
		rc = take_block(replay, &block);
		if (rc != 0)
			return rc;
	}
	return rc;
}

/* What came before any trouble is kept; the first trouble is what is told. */
static int
play(struct replay *replay, struct recording_reader *reader)
{
	struct error later;
	int rc = filing_set_hasty(replay->filing, true, replay->error);

	if (rc == 0)
		rc = play_blocks(replay, reader);
	if (end_session(replay, rc == 0 ? replay->error : &later) != 0 && rc == 0)
		rc = ERROR_IO;
	if (filing_set_hasty(replay->filing, false, rc == 0 ? replay->error : &later) !=
		0 &&
	    rc == 0)
		rc = ERROR_IO;
	return rc;
}

int
replay_run(const struct settings *settings, const char *path, struct error *error)
{
	struct replay replay = {.settings = settings,
	    .began_s = system_seconds(),
	    .tell_s = TELL_FIRST_S,
	    .error = error};
	struct recording_reader *reader;
	struct filing_status status;
	int rc = ledger_lock(settings->ledger, error);

	if (rc != 0)
		return rc;
	reader = recording_reader_open(path, error);
	if (reader == NULL)
		return ERROR_IO;
	replay.filing = filing_open(settings, error);
	if (replay.filing == NULL) {
		recording_reader_close(reader);
		return ERROR_IO;
	}
	filing_status(replay.filing, &status);
	rc = status.open ? play(&replay, reader)
	                 : error_set(error, ERROR_FULL, "%s", status.text);
	if (replay.now.ns != 0)
		tell(&replay, rc == 0 ? "replayed, up to" : "replayed only up to");
	filing_free(replay.filing);
	recording_reader_close(reader);
	return rc;
}
