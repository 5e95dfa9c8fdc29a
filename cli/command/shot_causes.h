/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Why channels of a shot have no value, from its readings: what counts as sensor_fault in the
 * record may be a sentinel, a fault bit, or a value that stood still.  One thread.
 */
#ifndef CLI_COMMAND_SHOT_CAUSES_H
#define CLI_COMMAND_SHOT_CAUSES_H

struct page;
struct scan;
struct settings;
struct shot_causes;

/* `settings` must outlive it.  NULL when memory is short; shot_causes_free(NULL) is allowed. */
struct shot_causes *shot_causes_new(const struct settings *settings);
void shot_causes_free(struct shot_causes *causes);

/* Takes every scan of the trace, as its readings are under the settings. */
void shot_causes_add(struct shot_causes *causes, const struct scan *scan);

/* A note for each channel that has one, up to a dozen; how many more there are. */
void shot_causes_put(const struct shot_causes *causes, struct page *page);

#endif
