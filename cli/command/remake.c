/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/remake.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/command/kept.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger.h"
#include "daemon/shot/circumstances.h"
#include "daemon/shot/trace.h"

int
remake_open(struct remake *remake, struct ledger_read *ledger,
    const struct settings *settings, const char *path, bool dry_run,
    struct error *error)
{
	*remake = (struct remake){
	    .ledger = ledger, .settings = settings, .path = path, .dry_run = dry_run};
	tally_init(&remake->tally);
	remake->setups = filed_setups_new(ledger);
	remake->correction =
	    calloc(settings->channel_count + 1, sizeof *remake->correction);
	return remake->setups && remake->correction
	           ? 0
	           : error_set(error, ERROR_MEMORY, "out of memory");
}

void
remake_close(struct remake *remake)
{
	if (remake->writer)
		ledger_close(remake->writer);
	for (size_t i = 0; i < remake->left_count; i++)
		free(remake->left[i].shots.list);
	free(remake->left);
	free(remake->correction);
	filed_setups_free(remake->setups);
}

/* --- shots that are left --------------------------------------------------------------- */

static struct remake_left *
find_left(struct remake *remake, const char *line, const char *reason)
{
	for (size_t i = 0; i < remake->left_count; i++)
		if (strcmp(remake->left[i].line, line) == 0 &&
		    strcmp(remake->left[i].reason, reason) == 0)
			return &remake->left[i];
	struct remake_left *left =
	    reallocarray(remake->left, remake->left_count + 1, sizeof *left);
	if (!left)
		return NULL;
	remake->left = left;
	left += remake->left_count++;
	*left = (struct remake_left){0};
	text_copy(left->line, sizeof left->line, line);
	text_copy(left->reason, sizeof left->reason, reason);
	return left;
}

static int leave(struct remake *remake, const struct ledger_shot *shot,
    struct error *error, const char *format, ...) __attribute__((format(printf, 4, 5)));

static int
leave(struct remake *remake, const struct ledger_shot *shot, struct error *error,
    const char *format, ...)
{
	char reason[sizeof remake->left->reason];
	va_list arguments;

	va_start(arguments, format);
	vsnprintf(reason, sizeof reason, format, arguments);
	va_end(arguments);
	struct remake_left *left = find_left(remake, shot->line, reason);
	if (!left || !numbers_add(&left->shots, shot->shot_no))
		return error_set(error, ERROR_MEMORY, "out of memory");
	return 0;
}

/* --- whether it can be made again --------------------------------------------------------- */

static bool
is_wide(const struct channel_settings *channel)
{
	switch (channel->encoding) {
	case ENCODING_BIT:
	case ENCODING_INT16:
	case ENCODING_UINT16:
		return false;
	case ENCODING_INT32:
	case ENCODING_UINT32:
	case ENCODING_FLOAT32:
		return true;
	}
	return false;
}

static bool
has_channel(const struct settings *settings, uint32_t line, const char *device,
    const struct channel_settings *channel)
{
	for (size_t i = 0; i < settings->channel_count; i++) {
		const struct channel_settings *one = &settings->channels[i];
		const struct device_settings *its = &settings->devices[one->device];
		if (its->line == line && strcmp(one->name, channel->name) == 0 &&
		    strcmp(its->name, device) == 0)
			return is_wide(one) == is_wide(channel);
	}
	return false;
}

/* The first channel that the readings were taken of and that `settings` has not, on the
 * line or with so many bits; NULL when it has them all. */
static const struct channel_settings *
find_missing(const struct settings *taken, uint32_t taken_line,
    const struct settings *settings, uint32_t line)
{
	for (size_t i = 0; i < taken->channel_count; i++) {
		const struct channel_settings *channel = &taken->channels[i];
		const struct device_settings *device = &taken->devices[channel->device];
		if (device->line == taken_line &&
		    !has_channel(settings, line, device->name, channel))
			return channel;
	}
	return NULL;
}

/* --- making it again ------------------------------------------------------------------------ */

struct channels {
	const struct remake *remake;
	const struct shot *is;
	size_t count;
	bool differ;
};

static int
take_channel(void *arg, const struct ledger_channel *was)
{
	struct channels *channels = arg;

	channels->count++;
	channels->differ =
	    tally_channel_differs(channels->remake->settings, channels->is, was);
	return channels->differ;
}

static int
channels_differ(struct remake *remake, const struct ledger_shot *was,
    const struct shot *is, bool *differ, struct error *error)
{
	struct channels channels = {.remake = remake, .is = is};
	int code = ledger_read_channels(
	    remake->ledger, was->id, take_channel, &channels, error);

	/* Without any they have been forgotten, which is no difference. */
	*differ = channels.differ ||
	          (channels.count != 0 && channels.count != is->channel_count);
	return code;
}

/* The set-up goes on file with the first shot that needs it. */
static int
open_writer(struct remake *remake, struct error *error)
{
	int64_t setup;

	if (remake->writer)
		return 0;
	remake->writer = ledger_open(remake->path, NULL, error);
	if (!remake->writer)
		return ERROR_IO;
	return ledger_put_setup(
	    remake->writer, remake->settings, clock_wall(), &setup, error);
}

static int
compare_and_put(struct remake *remake, const struct ledger_shot *was,
    const struct shot *is, struct error *error)
{
	bool differs = tally_take(&remake->tally, was, is), put;
	int code = 0;

	remake->again++;
	if (!differs)
		code = channels_differ(remake, was, is, &differs, error);
	if (code != 0 || !differs)
		return code;
	remake->changed++;
	if (remake->dry_run)
		return 0;
	code = open_writer(remake, error);
	if (code == 0)
		code = ledger_put_recomputed(
		    remake->writer, remake->settings, was->id, is, &put, error);
	remake->written += code == 0;
	return code;
}

static int
recipe_of(const struct ledger_shot *shot)
{
	return *shot->recipe ? (int)strtol(shot->recipe, NULL, 10) : -1;
}

/* With what people told of it by now; line and side as in the set-up. */
static int
make_under(struct remake *remake, const struct ledger_shot *was,
    const struct kept *kept, uint32_t line, int side, struct error *error)
{
	const struct settings *settings = remake->settings;
	struct circumstances circumstances;
	struct error trouble;
	const struct ledger_question question = {
	    settings, line, recipe_of(was), was->filed_at};
	int code = ledger_read_circumstances(
	    remake->ledger, &question, remake->correction, &circumstances, error);

	if (code != 0)
		return code;
	struct shot *is = shot_new(settings->channel_count);
	if (!is)
		return error_set(error, ERROR_MEMORY, "out of memory");
	is->line = line;
	is->side = side;
	is->shot_no = was->shot_no;
	code = trace_recompute(
	    &(struct trace_kept){kept->bytes, kept->byte_count, kept->taken}, settings,
	    &circumstances, is, &trouble);
	if (code == ERROR_INVALID)
		code = leave(remake, was, error, "%s", trouble.text);
	else if (code != 0)
		error_set(error, (enum error_code)code, "%s", trouble.text);
	else
		code = compare_and_put(remake, was, is, error);
	shot_free(is);
	return code;
}

static int
make_again(struct remake *remake, const struct ledger_shot *was,
    const struct kept *kept, struct error *error)
{
	const struct settings *settings = remake->settings;
	int taken_line = settings_find_line(kept->taken, was->line);
	int line = settings_find_line(settings, was->line);

	if (line < 0 || taken_line < 0)
		return leave(remake, was, error, "the set-up has no such line");
	int side = kept_side(&settings->lines[line], was);
	if (side < -1)
		return leave(remake, was, error,
		    *was->side ? "its line has no side '%s'" : "its line has sides%s",
		    was->side);
	const struct channel_settings *missing =
	    find_missing(kept->taken, (uint32_t)taken_line, settings, (uint32_t)line);
	if (missing)
		return leave(remake, was, error,
		    "the set-up has no channel '%s.%s' of that width on its line",
		    kept->taken->devices[missing->device].name, missing->name);

	return make_under(remake, was, kept, (uint32_t)line, side, error);
}

static int
take_shot(void *arg, const struct ledger_shot *shot)
{
	*(struct ledger_shot *)arg = *shot;
	return 1;
}

int
remake_shot(
    struct remake *remake, const char *line, int64_t shot_no, struct error *error)
{
	const struct ledger_filter filter = {.line = line, .shot_no = shot_no};
	struct ledger_shot was = {0};
	struct kept kept;
	struct error trouble;
	int code =
	    ledger_read_shots(remake->ledger, &filter, true, take_shot, &was, error);

	if (code != 0 || was.shot_no != shot_no)
		return code;
	code = kept_read(&kept, remake->ledger, remake->setups, &was, &trouble);
	if (code == ERROR_INVALID)
		code = leave(remake, &was, error, "%s", trouble.text);
	else if (code != 0)
		error_set(error, (enum error_code)code, "%s", trouble.text);
	else if (!kept.bytes)
		remake->no_trace++;
	else
		code = make_again(remake, &was, &kept, error);
	kept_release(&kept);
	return code;
}
