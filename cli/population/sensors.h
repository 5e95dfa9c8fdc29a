/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What a feature is measured by: the channels it rests on, and whether those of two set-ups
 * are the same sensors, read the same way.  Pure; any thread.
 */
#ifndef CLI_POPULATION_SENSORS_H
#define CLI_POPULATION_SENSORS_H

#include "conf/settings.h"

#include <stdbool.h>

/* Whether the feature's value is made from what the channel reads.  Bits count for
 * durations alone, not for when something else is read. */
bool sensors_rest_on(int feature, const struct channel_settings *channel);

/* A line of a set-up, and the side of its machine that is meant ("": it has but one). */
struct sensors_of {
	const struct settings *settings;
	int line;
	const char *side;
};

/* What a set-up says of a channel's place, way of reading and correction by scale, for
 * people: "pyrometers.top_1: input 12, int16, times 0.1, C". */
enum { SENSORS_WORDS = 400 };
void sensors_channel_words(const struct settings *settings,
    const struct channel_settings *channel, char words[static SENSORS_WORDS]);

/*
 * Whether the feature rests on the same sensors and settings in both; else what differs
 * first, and how much more, in `words`: "top pyrometer 2 was ..., is ...".  The address of a
 * device in the network is not looked at: devices move.
 */
bool sensors_same(const struct sensors_of *then, const struct sensors_of *now,
    int feature, char words[static SENSORS_WORDS]);

/* Whether it is computed with the properties of the sheet's material. */
bool sensors_computed(int feature);

#endif
