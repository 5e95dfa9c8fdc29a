/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The daemon's command line.  Pure but for what it prints.
 */
#ifndef DAEMON_RUN_OPTIONS_H
#define DAEMON_RUN_OPTIONS_H

#include <stdbool.h>
#include <stdint.h>

#define OPTIONS_CONFIG "/etc/evensoak/evensoak.ini"

struct options {
	const char *config;
	bool check; /* read the configuration, say what is wrong, end */
	bool verbose;
	const char *record;      /* file that every scan goes to; NULL: none */
	const char *replay;      /* recording to play, and end; NULL: none */
	double clock_rate;       /* 1: the true clock */
	const char *clock_start; /* NULL: now */
	int64_t clock_origin_ns; /* 0: now */
};

/* An option; the manual and completion are made from these too. */
struct options_row {
	const char *name;  /* without the dashes; NULL: the end */
	int letter;        /* 'c' of -c; above 255: it has none */
	const char *value; /* "FILE"; NULL: a switch */
	const char *help;
	bool simulated; /* for a simulated line */
};
extern const struct options_row options_table[];

enum options_outcome {
	OPTIONS_GO,
	OPTIONS_DONE,  /* help or version was printed: exit 0 */
	OPTIONS_WRONG, /* one line was printed to stderr: exit 2 */
};

/* The strings point into argv. */
enum options_outcome options_read(int argc, char **argv, struct options *options);

#endif
