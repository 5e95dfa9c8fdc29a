/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/run/options.h"

#include <getopt.h>
#include <stdio.h>

#include "daemon/base/text.h"

static const char usage[] =
    "usage: evensoakd [OPTIONS]\n"
    "\n"
    "Logs thermoforming lines, shot by shot, until it gets SIGTERM.\n"
    "SIGHUP: read the configuration again; an invalid one is refused.\n"
    "\n"
    "  -c, --config FILE       configuration (" OPTIONS_CONFIG ")\n"
    "      --check             read the configuration, report every mistake, end\n"
    "      --record FILE       keep every scan in FILE too, for --replay; goes on "
    "with\n"
    "                          a recording that is there\n"
    "      --replay FILE       play a recording ('-': standard input) into the ledger "
    "as\n"
    "                          fast as it goes, and end; asks no device, tells no "
    "store.\n"
    "                          The ledger's shots must be older than the recording\n"
    "  -v, --verbose           log more\n"
    "      --version\n"
    "  -h, --help\n"
    "\n"
    "For demonstrations and tests, with a simulated line run alike:\n"
    "      --clock-rate N      let the clock run N times as fast\n"
    "      --clock-start TIME  what it shows at its origin (2026-03-02T05:00:00Z)\n"
    "      --clock-origin NS   the origin on the system's monotonic clock\n"
    "\n"
    "Exit: 0 stopped, or replayed to the end; 2 wrong usage; 3 cannot run (ledger,\n"
    "permission, recording); 78 wrong configuration.\n";

enum {
	OPTION_CHECK = 256,
	OPTION_RECORD,
	OPTION_REPLAY,
	OPTION_VERSION,
	OPTION_RATE,
	OPTION_START,
	OPTION_ORIGIN,
};

static const struct option table[] = {
    {"config", required_argument, NULL, 'c'},
    {"check", no_argument, NULL, OPTION_CHECK},
    {"record", required_argument, NULL, OPTION_RECORD},
    {"replay", required_argument, NULL, OPTION_REPLAY},
    {"verbose", no_argument, NULL, 'v'},
    {"version", no_argument, NULL, OPTION_VERSION},
    {"help", no_argument, NULL, 'h'},
    {"clock-rate", required_argument, NULL, OPTION_RATE},
    {"clock-start", required_argument, NULL, OPTION_START},
    {"clock-origin", required_argument, NULL, OPTION_ORIGIN},
    {NULL, 0, NULL, 0},
};

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
		fputs(usage, stdout);
		return OPTIONS_DONE;
	default: /* getopt_long has said what is wrong */
		fputs("see 'evensoakd --help'\n", stderr);
		return OPTIONS_WRONG;
	}
}

enum options_outcome
options_read(int argc, char **argv, struct options *options)
{
	enum options_outcome outcome = OPTIONS_GO;

	*options = (struct options){.config = OPTIONS_CONFIG, .clock_rate = 1.0};
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
