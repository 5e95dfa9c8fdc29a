/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * How long a sheet had a surface above its material's limit.
 */
#ifndef DAEMON_SHOT_LIMIT_H
#define DAEMON_SHOT_LIMIT_H

#include "daemon/shot/core.h"

/*
 * In an oven whose pyrometers look at the sheet: while any of those that do not hang shows
 * more than the limit, between its readings as the line through them.  On the way, and where
 * none looks: as computed.  In seconds; NAN when it cannot be computed.  `core` has its limit.
 */
double limit_above_s(const struct feature_source *source, const struct core *core);

#endif
