/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/run/options.h"

#include <getopt.h>
#include <stdio.h>
#include <string.h>

#include "daemon/base/text.h"
#include "daemon/base/utf8.h"

enum {
	OPTION_CHECK = 256,
	OPTION_RECORD,
	OPTION_REPLAY,
	OPTION_VERSION,
	OPTION_RATE,
	OPTION_START,
	OPTION_ORIGIN,
};

const struct options_row options_table[] = {
    {"config", 'c', "FILE", "the configuration; " OPTIONS_CONFIG " when left out",
	false},
    {"check", OPTION_CHECK, NULL, "read the configuration, report every mistake, end",
	false},
    {"record", OPTION_RECORD, "FILE",
	"keep every scan in FILE too, for --replay; goes on with a recording that is "
	"there",
	false},
    {"replay", OPTION_REPLAY, "FILE",
	"play a recording ('-': standard input) into the ledger as fast as it goes, "
	"and "
	"end; asks no device, tells no store.  The ledger's shots must be older than "
	"the "
	"recording",
	false},
    {"verbose", 'v', NULL, "log more", false},
    {"version", OPTION_VERSION, NULL, "the version of the program", false},
    {"help", 'h', NULL, "what it does and takes", false},
    {"clock-rate", OPTION_RATE, "N", "let the clock run N times as fast", true},
    {"clock-start", OPTION_START, "TIME",
	"what it shows at its origin (2026-03-02T05:00:00Z)", true},
    {"clock-origin", OPTION_ORIGIN, "NS", "the origin on the system's monotonic clock",
	true},
    {NULL, 0, NULL, NULL, false},
};
enum { ROWS = sizeof options_table / sizeof options_table[0] };

/* --- help ----------------------------------------------------------------------------- */

enum { HELP_COLUMN = 26, HELP_WIDTH = 88 };

/* Words from HELP_COLUMN on, in as many lines as they need. */
static void
print_words(const char *words)
{
	int at = HELP_COLUMN;

	while (*words) {
		int length = (int)strcspn(words, " ");
		if (at > HELP_COLUMN && at + 1 + length > HELP_WIDTH) {
			printf("\n%*s", HELP_COLUMN, "");
			at = HELP_COLUMN;
		} else if (at > HELP_COLUMN)
			at += printf(" ");
		at += printf("%.*s", length, words);
		words += length;
		words += strspn(words, " ");
	}
	puts("");
}

static void
print_rows(bool simulated)
{
	for (const struct options_row *row = options_table; row->name; row++) {
		char form[HELP_COLUMN];
		if (row->simulated != simulated)
			continue;
		snprintf(form, sizeof form, "  %c%c%c --%s %s",
		    row->letter < OPTION_CHECK ? '-' : ' ',
		    row->letter < OPTION_CHECK ? row->letter : ' ',
		    row->letter < OPTION_CHECK ? ',' : ' ', row->name,
		    row->value ? row->value : "");
		printf("%-*s", HELP_COLUMN, form);
		print_words(row->help);
	}
}

static void
print_help(void)
{
	fputs("usage: evensoakd [OPTIONS]\n"
	      "\n"
	      "Logs thermoforming lines, shot by shot, until it gets SIGTERM.\n"
	      "SIGHUP: read the configuration again; an invalid one is refused.\n\n",
	    stdout);
	print_rows(false);
	puts("\nFor demonstrations and tests, with a simulated line run alike:");
	print_rows(true);
	fputs("\nExit: 0 stopped, or replayed to the end; 2 wrong usage; 3 cannot run "
	      "(ledger,\npermission, recording); 78 wrong configuration.\n",
	    stdout);
}

/* --- reading -------------------------------------------------------------------------- */

static enum options_outcome
wrong(const char *what, const char *value)
{
	fprintf(stderr, "evensoakd: %s '%s'; see 'evensoakd --help'\n", what, value);
	return OPTIONS_WRONG;
}

static enum options_outcome
take(int option, struct options *options)
{
	switch (option) {
	case 'c':
		options->config = optarg;
		return OPTIONS_GO;
	case 'v':
		options->verbose = true;
		return OPTIONS_GO;
	case OPTION_CHECK:
		options->check = true;
		return OPTIONS_GO;
	case OPTION_RECORD:
		options->record = optarg;
		return OPTIONS_GO;
	case OPTION_REPLAY:
		options->replay = optarg;
		return OPTIONS_GO;
	case OPTION_RATE:
		return text_number(optarg, &options->clock_rate)
		           ? OPTIONS_GO
		           : wrong("--clock-rate wants a number, not", optarg);
	case OPTION_START:
		options->clock_start = optarg;
		return OPTIONS_GO;
	case OPTION_ORIGIN:
		return text_integer(optarg, &options->clock_origin_ns)
		           ? OPTIONS_GO
		           : wrong("--clock-origin wants nanoseconds, not", optarg);
	case OPTION_VERSION:
		puts("evensoakd " EVENSOAK_VERSION);
		return OPTIONS_DONE;
	case 'h':
		print_help();
		return OPTIONS_DONE;
	default: /* getopt_long has said what is wrong */
		fputs("see 'evensoakd --help'\n", stderr);
		return OPTIONS_WRONG;
	}
}

/* What is told of one steers no terminal. */
static enum options_outcome
check_arguments(int argc, char **argv)
{
	unsigned char byte;

	for (int i = 1; i < argc; i++)
		if (!utf8_is_plain(argv[i], &byte)) {
			utf8_make_plain(argv[i]);
			return wrong(
			    "takes text without control characters, not", argv[i]);
		}
	return OPTIONS_GO;
}

enum options_outcome
options_read(int argc, char **argv, struct options *options)
{
	enum options_outcome outcome = OPTIONS_GO;
	struct option table[ROWS] = {0};

	for (int i = 0; i < ROWS; i++)
		table[i] = (struct option){options_table[i].name,
		    options_table[i].value ? required_argument : no_argument, NULL,
		    options_table[i].letter};
	*options = (struct options){.config = OPTIONS_CONFIG, .clock_rate = 1.0};
	outcome = check_arguments(argc, argv);
	while (outcome == OPTIONS_GO) {
		/* The only thread. NOLINTNEXTLINE(concurrency-mt-unsafe) */
		int option = getopt_long(argc, argv, "c:vh", table, NULL);

		if (option == -1)
			break;
		outcome = take(option, options);
	}
	if (outcome == OPTIONS_GO && optind < argc)
		return wrong("takes no argument", argv[optind]);
	if (outcome == OPTIONS_GO && options->record != NULL && options->replay != NULL)
		return wrong("--replay records nothing, so not to", options->record);
	return outcome;
}
