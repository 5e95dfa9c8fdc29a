/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What a sound set-up cannot do where the service runs it: a ledger that it may not write,
 * a port that it does not see, a file that it may not read, the example's own limits.
 * One thread; looks at the disk.
 */
#ifndef CLI_COMMAND_CHECK_UNIT_H
#define CLI_COMMAND_CHECK_UNIT_H

struct settings;

/* Where the service is looked for. */
struct check_unit {
	const char *config;   /* the one set-up it runs: of others nothing is told */
	const char *drop_ins; /* the folder of what is added to the unit */
	const char *user;     /* that it runs as; NULL: its rights are not asked for */
};

/* Calls `take` with each sentence, which is lent. */
void check_unit_tell(const struct check_unit *unit, const struct settings *settings,
    void (*take)(void *arg, const char *sentence), void *arg);

/* The notes of the installed service.  Whether its user may read the files is told to root
 * alone: any other account has been stopped by them already, or is of its group. */
void check_unit_tell_installed(const struct settings *settings,
    void (*take)(void *arg, const char *sentence), void *arg);

#endif
