/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What people have told that bears on the record of a sheet: its lot, its tool, how far
 * its sensors are known to be off.  The ledger keeps it, whoever makes a record asks.
 * Plain data.
 */
#ifndef DAEMON_SHOT_CIRCUMSTANCES_H
#define DAEMON_SHOT_CIRCUMSTANCES_H

#include "conf/settings.h"

struct circumstances {
	int recipe;                   /* the machine's, else as entered; -1 unknown */
	char material[SETTINGS_NAME]; /* the lot's, else the recipe's; "" unknown */
	char tool[SETTINGS_NAME];     /* "" unknown */
	double thickness_m, stack_c;  /* as measured of the lot; NAN: not */
	/* To be added to the readings of each channel, by its index in the settings, in its
	 * inside's unit; NULL: nothing is known of any.  Lent.  One set for the whole record,
	 * as known at its form start (heat end, closing where there is none): a calibration
	 * holds from the first sheet formed after it, and for that sheet's heating before it
	 * too. */
	const double *correction;
};

/* Nothing was told: recipe and its material as the machine says. */
struct circumstances circumstances_untold(const struct settings *settings, int recipe);

#endif
