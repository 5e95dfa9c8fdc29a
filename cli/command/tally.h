/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What shots that were made again have now that they had not before, counted.
 * Pure; any thread.
 */
#ifndef CLI_COMMAND_TALLY_H
#define CLI_COMMAND_TALLY_H

#include "conf/settings.h"
#include "daemon/ledger/ledger_read.h"

struct tally_feature {
	int64_t changed;    /* shots whose value or its absence is another */
	int64_t came, went; /* among them: shots that had none; that have none now */
	double largest;     /* change there is, with its sign, in the unit of the name;
	                           NAN while no shot had a value both times */
	char largest_line[LEDGER_NAME]; /* the shot that has it */
	int64_t largest_shot_no;        /* 0: none */
};

struct tally {
	struct tally_feature features[FEATURE_COUNT];
	int64_t outcomes;   /* shots with another outcome */
	int64_t properties; /* shots computed with other figures of their material */
};

void tally_init(struct tally *tally);

/* Compares one shot as it is on file with what was made of it, and counts.  Whether
 * anything of it differs: outcome, reason, flags, properties, features. */
bool tally_take(
    struct tally *tally, const struct ledger_shot *was, const struct shot *is);

/* Whether a channel on file has other figures in what was made, or is not in it. */
bool tally_channel_differs(const struct settings *settings, const struct shot *is,
    const struct ledger_channel *was);

#endif
