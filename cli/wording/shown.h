/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Figures of features and channels as cells: machines get the unit in the feature's name,
 * people the one that the site reads (a temperature difference without the 32).
 * Pure; any thread.
 */
#ifndef CLI_WORDING_SHOWN_H
#define CLI_WORDING_SHOWN_H

#include "cli/page/page.h"
#include "conf/settings.h"
#include "daemon/base/calendar.h"

/* A value or a limit, in the unit of the feature's name; NAN is absent. */
struct cell shown_value(const struct settings *settings, int feature, double value);

/* A deviation or a difference of two values. */
struct cell shown_deviation(const struct settings *settings, int feature, double sd);

/* What people read: "F", "s", "%"; "" for none. */
const char *shown_unit(const struct settings *settings, int feature);

/* Of a channel, SI inside and for machines. */
struct cell shown_channel(
    const struct settings *settings, enum dimension dimension, double value_si);
struct cell shown_channel_deviation(
    const struct settings *settings, enum dimension dimension, double sd_si);

/* A recipe, tool, lot ...: "" is absent. */
struct cell shown_name(const char *name);

/* "06:00:00", local; with its date where that is another than that of `today`. */
void shown_clock(struct wall wall, struct wall today, char text[static CALENDAR_TEXT]);

/* A word that machines read, for people: "low coverage" of "low_coverage". */
void shown_words(const char *word, char *text, size_t room);

/* What is odd about a shot, for machines: "gap, late_form". */
enum { SHOWN_FLAGS = 192 };
void shown_flags(uint32_t flags, char text[static SHOWN_FLAGS]);

#endif
