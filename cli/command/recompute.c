/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/command.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "cli/command/progress.h"
#include "cli/command/remake.h"
#include "cli/command/span.h"
#include "cli/wording/shown.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger_read.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum { NUMBERS_MAX_BYTES = 1 << 20 };

/* --- which shots ------------------------------------------------------------------------- */

struct pick {
	char line[LEDGER_NAME];
	int64_t shot_no;
};

struct picks {
	struct pick *list;
	size_t count, room;
	bool failed;
};

static int
take_pick(void *arg, const struct ledger_shot *shot)
{
	struct picks *picks = arg;

	if (picks->count == picks->room) {
		size_t room = picks->room ? picks->room * 2 : 256;
		struct pick *list = reallocarray(picks->list, room, sizeof *list);
		if (!list) {
			picks->failed = true;
			return 1;
		}
		picks->list = list;
		picks->room = room;
	}
	struct pick *pick = &picks->list[picks->count++];
	text_copy(pick->line, sizeof pick->line, shot->line);
	pick->shot_no = shot->shot_no;
	return 0;
}

static enum command_exit
read_number(const struct call *call, const struct span *span, int64_t *number)
{
	const char *text = call->option[OPTION_SHOT];

	*number = 0;
	if (!text)
		return COMMAND_DONE;
	if (span->given)
		return command_usage(call, "say --shot or a time, not both");
	if (!text_integer(text, number) || *number < 1)
		return command_usage(call, "'--shot': '%s' is no shot number", text);
	return COMMAND_DONE;
}

static enum command_exit
pick_shots(const struct call *call, const struct session *session, struct picks *picks)
{
	static const int no_features;
	struct span span;
	struct error error;
	int64_t number;
	int line;
	enum command_exit code = call->option[OPTION_SHOT]
	                             ? session_one_line(session, call, &line)
	                             : session_line(session, call, &line);

	if (code != COMMAND_DONE)
		return code;
	const char *name = line >= 0 ? session->settings->lines[line].name : NULL;
	if ((code = span_read(&span, session, call, name)) != COMMAND_DONE ||
	    (code = read_number(call, &span, &number)) != COMMAND_DONE)
		return code;
	const struct ledger_filter filter = {
	    .line = name,
	    .from = span.from,
	    .to = span.to,
	    .shot_no = number,
	    .by_time = true,
	    .features = &no_features,
	};
	if (ledger_read_shots(
		session->ledger, &filter, false, take_pick, picks, &error) != 0)
		return command_cannot(call, &error);
	if (picks->failed) {
		error_set(&error, ERROR_MEMORY, "out of memory");
		return command_cannot(call, &error);
	}
	if (picks->count > 0)
		return COMMAND_DONE;
	fprintf(call->err, "evensoak: no such shots in '%s'\n", session->path);
	return COMMAND_NO;
}

/* --- what came of it ----------------------------------------------------------------------- */

static void
put_features(
    struct page *page, const struct settings *settings, const struct tally *tally)
{
	static const struct column columns[] = {
	    {"feature", "changed", 0},
	    {"shots", "shots", 0},
	    {"largest_change", "at most by", 0},
	    {NULL, "in shot", 0},
	    {"unit", NULL, 0},
	    {NULL, "unit", 0},
	    {"came", "new", 0},
	    {"went", "gone", 0},
	    {"largest_line", NULL, 0},
	    {"largest_shot_no", NULL, 0},
	};

	page_table(page, "features", "What changed", columns, COUNT(columns));
	for (int id = 0; id < FEATURE_COUNT; id++) {
		const struct tally_feature *feature = &tally->features[id];
		if (feature->changed == 0)
			continue;
		struct cell shot = feature->largest_shot_no
		                       ? cell_count(feature->largest_shot_no)
		                       : cell_absent(NULL);
		char words[LEDGER_NAME + 24];
		if (feature->largest_shot_no && settings->line_count > 1) {
			snprintf(words, sizeof words, "%s %" PRId64,
			    feature->largest_line, feature->largest_shot_no);
			shot.instead = words;
		}
		const struct cell cells[] = {
		    cell_words(feature_get(id)->name),
		    cell_count(feature->changed),
		    shown_deviation(settings, id, feature->largest),
		    shot,
		    cell_words(feature_unit_text(id)),
		    cell_words(shown_unit(settings, id)),
		    cell_count(feature->came),
		    cell_count(feature->went),
		    shown_name(feature->largest_line),
		    shot,
		};
		page_row(page, cells);
	}
	page_table_end(page);
}

static bool
put_left(struct page *page, const struct remake *remake)
{
	static const struct column columns[] = {
	    {"line", "line", 0},
	    {"shots", "shots", 0},
	    {"shot_nos", "numbers", 0},
	    {"reason", "why", 0},
	};
	bool failed = false;

	page_table(page, "left", "Left as they are", columns, COUNT(columns));
	for (size_t i = 0; i < remake->left_count; i++) {
		const struct remake_left *left = &remake->left[i];
		struct text numbers;
		text_init(&numbers, NUMBERS_MAX_BYTES);
		numbers_text(&left->shots, &numbers);
		failed |= numbers.failed;
		const struct cell cells[] = {
		    cell_words(left->line),
		    cell_count((int64_t)left->shots.count),
		    cell_words(numbers.bytes),
		    cell_words(left->reason),
		};
		page_row(page, cells);
		text_release(&numbers);
	}
	page_table_end(page);
	return !failed;
}

static enum command_exit
tell(
    const struct call *call, const struct session *session, const struct remake *remake)
{
	struct page *page = command_page(call);
	int64_t left = 0;

	if (!page)
		return COMMAND_CANNOT;
	for (size_t i = 0; i < remake->left_count; i++)
		left += (int64_t)remake->left[i].shots.count;
	if (remake->dry_run)
		page_note(page, NULL, TONE_STRONG, "nothing is written");
	page_field(page, "dry_run", NULL, cell_truth(remake->dry_run));
	page_field(page, "set_up", "under", cell_words(session->settings->path));
	page_field(page, "made_again", "made again", cell_count(remake->again));
	page_field(page, "changed", "of them changed", cell_count(remake->changed));
	page_field(page, "outcomes_changed", "with another outcome",
	    cell_count(remake->tally.outcomes));
	page_field(page, "properties_changed", "with new properties",
	    cell_count(remake->tally.properties));
	page_field(page, "no_trace", "without a trace", cell_count(remake->no_trace));
	page_field(page, "left_count", "left as they are", cell_count(left));
	put_features(page, session->settings, &remake->tally);
	if (!put_left(page, remake))
		page_note(page, NULL, TONE_BAD, "some numbers are left out");
	return command_end_page(
	    call, page, remake->again > 0 ? COMMAND_DONE : COMMAND_NO);
}

/* --- going through them ------------------------------------------------------------------------ */

static int
remake_all(const struct call *call, struct remake *remake, const struct picks *picks,
    struct error *error)
{
	struct progress *progress = progress_start(call->err, PROGRESS_AFTER_S);
	int code = 0;

	for (size_t i = 0; i < picks->count && code == 0; i++) {
		const struct pick *pick = &picks->list[i];
		code = remake_shot(remake, pick->line, pick->shot_no, error);
		if (code != 0)
			error_prefix(error, (enum error_code)code,
			    "shot %" PRId64 " of '%s'", pick->shot_no, pick->line);
		progress_tell(progress, "%zu of %zu shots", i + 1, picks->count);
	}
	progress_end(progress);
	return code;
}

static enum command_exit
pick_and_remake(
    const struct call *call, const struct session *session, struct picks *picks)
{
	struct remake remake;
	struct error error;
	enum command_exit code = pick_shots(call, session, picks);

	if (code != COMMAND_DONE)
		return code;
	int trouble = remake_open(&remake, session->ledger, session->settings,
	    session->path, call->option[OPTION_DRY_RUN] != NULL, &error);
	if (trouble == 0)
		trouble = remake_all(call, &remake, picks, &error);
	if (trouble == 0)
		code = tell(call, session, &remake);
	else
		code = command_cannot(call, &error);
	/* what was made until then is on file */
	if (trouble != 0 && remake.written > 0)
		fprintf(call->err,
		    "evensoak: note: %" PRId64 " shots were made again before that; "
		    "the same command goes on from there\n",
		    remake.written);
	remake_close(&remake);
	return code;
}

static enum command_exit
recompute(const struct call *call, const struct session *session)
{
	struct picks picks = {0};
	enum command_exit code = pick_and_remake(call, session, &picks);

	free(picks.list);
	return code;
}

static enum command_exit
run_recompute(const struct call *call)
{
	return session_run(call, recompute);
}

const struct command command_recompute = {
    .name = "recompute",
    .arguments = "",
    .summary = "makes shots again from their traces, after a correction",
    .details = "Reads what was kept of each shot as the set-up of --config has it\n"
	       "now (scale, sentinels, role, timer, material ...), with the lot's\n"
	       "measures, the tool and the calibrations that hold for it as\n"
	       "entered by now, and puts what comes of it in the place of what is\n"
	       "on file. What a shot had before stays readable with its set-up:\n"
	       "'evensoak shot'. Times, numbers and labels stay; what changed\n"
	       "goes out to the stores again.\n"
	       "Without --shot or a time: all shots. A shot is left as it is, and\n"
	       "told, where the set-up has not its line or one of its channels.",
    .options = OPTION_BIT(OPTION_LINE) | OPTION_BIT(OPTION_SHOT) | SPAN_OPTIONS |
               OPTION_BIT(OPTION_DRY_RUN),
    .csv_table = "features",
    .run = run_recompute,
};
