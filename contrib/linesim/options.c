/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "contrib/linesim/options.h"

#include <getopt.h>
#include <stdio.h>

#include "contrib/linesim/machine.h"
#include "daemon/base/calendar.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

enum choice {
	CHOICE_MACHINE = 1,
	CHOICE_SEED,
	CHOICE_RATE,
	CHOICE_START,
	CHOICE_DURATION,
	CHOICE_SHEETS,
	CHOICE_PORT,
	CHOICE_READY,
	CHOICE_TRUTH,
	CHOICE_SCRIPT,
	CHOICE_ASKED,
	CHOICE_COLD,
	CHOICE_SERVE,
	CHOICE_HELP,
};

static const struct option_text {
	const char *name, *argument, *help;
} rows[] = {
    [CHOICE_MACHINE] = {"machine", "KIND", "how the sheets move, see below (rotary)"},
    [CHOICE_SEED] = {"seed", "N", "the numbers drawn follow from it (1)"},
    [CHOICE_RATE] = {"clock-rate", "R", "the line's clock runs R times as fast (1)"},
    [CHOICE_START] = {"clock-start", "TIME",
	"what it shows at first, UTC as "
	"2026-03-02T05:00:00Z (the true time)"},
    [CHOICE_DURATION] = {"duration-s", "S", "end after S seconds of the line's time"},
    [CHOICE_SHEETS] = {"sheets", "N", "end when N frames have gone round"},
    [CHOICE_PORT] = {"port", "P", "listen at P to P+6, see README.md (any free ports)"},
    [CHOICE_READY] = {"ready", "FILE", "write the ports there once they listen"},
    [CHOICE_TRUTH] = {"truth", "FILE", "write what really happened there, as CSV"},
    [CHOICE_SCRIPT] = {"script", "FILE", "the events, see contrib/linesim/README.md"},
    [CHOICE_ASKED] = {"asked", "FILE",
	"add to it each function code that masters ask for"},
    [CHOICE_COLD] = {"cold-start", NULL, "the oven begins cold, not as after an hour"},
    [CHOICE_SERVE] = {"serve-for-s", "S",
	"seconds, true ones, to go on answering after the end (1)"},
    [CHOICE_HELP] = {"help", NULL, "this text"},
};
enum { ROW_COUNT = sizeof rows / sizeof rows[0] };

void
options_help(void)
{
	puts("usage: linesim [OPTION]...\n"
	     "An invented thermoforming line, served over Modbus TCP.");
	for (int i = 1; i < ROW_COUNT; i++) {
		char left[40];
		snprintf(left, sizeof left, "--%s %s", rows[i].name,
		    rows[i].argument == NULL ? "" : rows[i].argument);
		printf("  %-22s %s\n", left, rows[i].help);
	}
	printf("KIND is one of");
	for (int i = 0; machine_kind_names[i] != NULL; i++)
		printf(" %s", machine_kind_names[i]);
	printf(".\n");
}

static bool
read_number(const char *name, const char *word, double min, double max, double *value)
{
	if (text_number(word, value) && *value >= min && *value <= max)
		return true;
	fprintf(stderr,
	    "linesim: '--%s' is '%s', must be a number from %.12g to %.12g\n", name,
	    word, min, max);
	return false;
}

static bool
read_whole(const char *name, const char *word, int64_t min, int64_t max, int64_t *value)
{
	if (text_integer(word, value) && *value >= min && *value <= max)
		return true;
	fprintf(stderr,
	    "linesim: '--%s' is '%s', must be a whole number from %lld to %lld\n", name,
	    word, (long long)min, (long long)max);
	return false;
}

static bool
read_start(const char *word, struct wall *start)
{
	struct error error;

	if (calendar_parse(word, start, &error) == 0)
		return true;
	fprintf(stderr, "linesim: '--clock-start': %s\n", error.text);
	return false;
}

static bool
read_machine(const char *word, const struct machine_kind **machine)
{
	size_t count = 0;
	const char *near;

	if ((*machine = machine_kind_find(word)) != NULL)
		return true;
	while (machine_kind_names[count] != NULL)
		count++;
	near = text_nearest(word, machine_kind_names, count);
	fprintf(stderr, "linesim: '--machine' is '%s', which there is not%s%s%s\n",
	    word, near == NULL ? "" : "; did you mean '", near == NULL ? "" : near,
	    near == NULL ? "" : "'?");
	return false;
}

static bool
take(struct options *options, enum choice choice, const char *word)
{
	const char *name = rows[choice].name;
	int64_t whole = 0;
	bool good = true;

	switch (choice) {
	case CHOICE_MACHINE:
		return read_machine(word, &options->machine);
	case CHOICE_SEED:
		good = read_whole(name, word, 0, INT64_MAX, &whole);
		options->seed = (uint64_t)whole;
		break;
	case CHOICE_RATE:
		return read_number(name, word, 0.1, 10000, &options->clock_rate);
	case CHOICE_START:
		return read_start(word, &options->clock_start);
	case CHOICE_DURATION:
		return read_number(name, word, 0.1, 1e9, &options->duration_s);
	case CHOICE_SHEETS:
		return read_whole(name, word, 1, INT64_MAX, &options->sheets);
	case CHOICE_PORT:
		good = read_whole(name, word, 0, 65536 - DEVICE_COUNT, &whole);
		options->port = (uint16_t)whole;
		break;
	case CHOICE_READY:
		options->ready = word;
		break;
	case CHOICE_TRUTH:
		options->truth = word;
		break;
	case CHOICE_SCRIPT:
		options->script = word;
		break;
	case CHOICE_ASKED:
		options->asked = word;
		break;
	case CHOICE_COLD:
		options->cold_start = true;
		break;
	case CHOICE_SERVE:
		return read_number(name, word, 0, 86400, &options->serve_for_s);
	case CHOICE_HELP:
		options->help = true;
		break;
	}
	return good;
}

bool
options_read(struct options *options, int count, char **words)
{
	struct option known[ROW_COUNT] = {{0}};
	int found;

	*options = (struct options){.machine = machine_kind_find("rotary"),
	    .seed = 1,
	    .clock_rate = 1,
	    .serve_for_s = 1};
	for (int i = 1; i < ROW_COUNT; i++)
		known[i - 1] = (struct option){.name = rows[i].name,
		    .has_arg =
			rows[i].argument == NULL ? no_argument : required_argument,
		    .val = i};
	/* The only thread. NOLINTNEXTLINE(concurrency-mt-unsafe) */
	while ((found = getopt_long(count, words, "", known, NULL)) != -1) {
		if (found == '?' || !take(options, (enum choice)found, optarg))
			return false;
	}
	if (optind < count) {
		fprintf(stderr, "linesim: '%s' is not wanted here\n", words[optind]);
		return false;
	}
	return true;
}
