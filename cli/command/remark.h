/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What is odd about a shot, in words for people: why it does not count, what the flags
 * add to that, what is outside a limit, which of the figures shown are absent or of fewer sensors.
 * Pure; any thread.
 */
#ifndef CLI_COMMAND_REMARK_H
#define CLI_COMMAND_REMARK_H

#include "conf/settings.h"
#include "daemon/ledger/ledger_read.h"

/* The features that tell at one glance how a shot was. */
enum { REMARK_KEYS = 8 };
struct remark_key {
	int feature;
	const char *title; /* short, for people; NULL: machines alone */
};
extern const struct remark_key remark_keys[REMARK_KEYS];

/* "" for a shot that has nothing odd; else "partial: in the machine when logging began"
 * or "polls missing; tool spread 2.41 F above 2.00". */
enum { REMARK_TEXT = 600 };
void remark_on(const struct settings *settings, const struct ledger_shot *shot,
    char text[static REMARK_TEXT]);

/* The features that it and the figures beside it are of. */
struct population_features;
void remark_features(
    const struct settings *settings, struct population_features *features);

/* The first part of that: why it does not count, and what the flags add. */
void remark_why(enum shot_outcome outcome, const char *reason, uint32_t flags,
    char text[static REMARK_TEXT]);

/* All of the flags: "polls missing; platens closed late". */
void remark_flags(uint32_t flags, char text[static REMARK_TEXT]);

/* "timer release". */
enum { REMARK_OUTCOME = 24 };
void remark_outcome(enum shot_outcome outcome, char text[static REMARK_OUTCOME]);

/* What the words about missing polls mean. */
#define REMARK_GAP                                                                     \
	"'polls missing' marks a shot whose windows miss polls: its figures are made " \
	"from what was read"

#endif
