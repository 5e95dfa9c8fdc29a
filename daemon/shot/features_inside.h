/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the parts of features_compute share.  Only within features*.c.
 */
#ifndef DAEMON_SHOT_FEATURES_INSIDE_H
#define DAEMON_SHOT_FEATURES_INSIDE_H

#include "daemon/shot/features.h"

/* The number, or NAN and why. */
void feature_put(struct shot *shot, int feature, struct measure measure);

/* The summary of one of the side's measures: every one of them is there. */
struct shot_channel *feature_summary(const struct shot *shot, uint32_t channel);

/* A channel of the oven of stay number `stay`, over that stay. */
struct shot_channel feature_stay_summary(const struct feature_source *source,
    const struct shot *shot, uint32_t channel, int stay);

/* Whether a pyrometer hangs (see stuck.h) in stay number `stay`, at a time that is in part
 * within `part` of it; where the pyrometers see the sheet only as it leaves, that way counts
 * too. */
bool feature_is_stuck(const struct feature_source *source, uint32_t channel, int stay,
    struct window part);

/* What a pyrometer showed of the sheet as it went by after stay number `stay`. */
struct measure feature_passage(
    const struct feature_source *source, uint32_t channel, int stay);

/* What calibrations add to the mean of the tool sensors. */
double feature_tool_correction_dc(const struct feature_source *source);

/* Surfaces, stack and ambient; after the channels' summaries. */
void features_heat(const struct feature_source *source, struct shot *shot);

/* Zones and energy meter; after the channels' summaries. */
void features_energy(const struct feature_source *source, struct shot *shot);

/* The inside of the sheet; after features_heat. */
void features_core(const struct feature_source *source, struct shot *shot);

/* Tool and water while the platens are closed; after the channels' summaries. */
void features_form(const struct feature_source *source, struct shot *shot);

/* What the water took away over the tool's cycle, and what the sheet brought; after
 * features_core and features_form. */
void features_water(const struct feature_source *source, struct shot *shot);

#endif
