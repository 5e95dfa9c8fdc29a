/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What each role asks of its channel.  Constant data; any thread.
 */
#ifndef CONF_ROLE_H
#define CONF_ROLE_H

#include "conf/settings.h"

enum role_kind {
	ROLE_KIND_BIT,     /* or a number that is read as one: on_at, off_at */
	ROLE_KIND_WORD,    /* a whole number without a unit */
	ROLE_KIND_MEASURE, /* has a unit */
	ROLE_KIND_ANY,     /* a bit, or a figure with or without a unit */
};

struct role_traits {
	enum role_kind kind;
	enum dimension dimension; /* of a measure */
	int positions;            /* the highest; 0: the role has none */
	bool oven;                /* belongs to one of the line's ovens */
	bool common;              /* position 0 is one for all positions */
	bool gapless;             /* its positions run from 1 without a gap */
	const char *meaning;      /* "a sensor in the forming tool" */
};

const struct role_traits *role_get(enum role role);

#endif
