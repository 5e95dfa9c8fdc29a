/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Every channel of a set-up read once, as the daemon would: its raw registers, its value,
 * and why it has none.  Over connections of its own; reading only.
 */
#ifndef CLI_COMMAND_CHECK_LIVE_H
#define CLI_COMMAND_CHECK_LIVE_H

#include "conf/settings.h"
#include "daemon/base/scan.h"
#include "daemon/fieldbus/answer.h"
#include "daemon/fieldbus/plan.h"

#include <stdbool.h>

struct error;
struct page;
struct text;

enum { LIVE_WHY = 400 };

/* What became of one block. */
struct live_block {
	enum answer answer;
	char why[LIVE_WHY];    /* "" when good */
	char advice[LIVE_WHY]; /* the same with what to look at */
};

struct live_channel {
	struct reading reading;
	uint16_t words[2];  /* as on the wire */
	char why[LIVE_WHY]; /* "" when good */
	char cause
	    [LIVE_WHY]; /* the same for people: alike for channels with one cause */
	double beyond;  /* of one that is out of range: its value; else NAN */
};

struct live_device {
	uint32_t device;
	struct read_plan *plan;
	struct live_block *blocks;     /* of the plan */
	struct live_channel *channels; /* of the device */
	uint32_t good;
	size_t asked, answered; /* requests; answered in full */
	double slowest_s;
	char
	    why[LIVE_WHY]; /* of the first request that was not good, with what to do */
};

/*
 * Reads the device.  It costs one time-out at most when it does not answer: what is left
 * of its blocks is then not asked for.  False when memory is short; release in either
 * case.  `settings` must outlive it.
 */
bool live_read(
    struct live_device *live, const struct settings *settings, uint32_t device);
void live_release(struct live_device *live);

/* Whether every channel has a value. */
bool live_is_good(const struct live_device *live);

/* The parts of the page that are about what has no value, each cause once. */
void live_put_causes(
    struct page *page, const struct settings *settings, const struct live_device *live);

/* Adds the names of those channels of the device for which `is` says so, as ranges:
 * "plc.tool 1-8, plc.hall". */
void live_add_names(const struct settings *settings, const struct live_device *live,
    bool (*is)(const struct live_device *live, uint32_t i, uint32_t as), uint32_t as,
    struct text *names);

/* The page of `count` devices that were read. */
void live_put(struct page *page, const struct settings *settings,
    const struct live_device *live, size_t count);

#endif
