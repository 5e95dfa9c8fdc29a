/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/shot.h"

#include <math.h>
#include <stdlib.h>

const char *
shot_outcome_text(enum shot_outcome outcome)
{
	static const char *const texts[SHOT_OUTCOME_COUNT] = {"partial", "empty",
	    "scrapped", "aborted", "interrupted", "reheated", "timer_release",
	    "startup", "complete"};

	return texts[outcome];
}

const char *
shot_flag_text(int bit)
{
	static const char *const texts[SHOT_FLAG_BITS] = {"gap", "sag_stuck", "timer",
	    "short_heat", "double_index", "fault", "manual", "startup", "count_jump",
	    "clock_step", "late_form", "logger_start", "reheat", "sequence",
	    "short_form"};

	return texts[bit];
}

const char *
absent_text(enum absent absent)
{
	static const char *const texts[] = {"", "stale", "sensor_fault", "comm_fault",
	    "out_of_range", "low_coverage", "not_applicable", "not_configured"};

	return texts[absent];
}

struct shot *
shot_new(size_t channel_count)
{
	struct shot *shot = calloc(1, sizeof(*shot));

	if (shot == NULL)
		return NULL;
	shot->channels =
	    calloc(channel_count > 0 ? channel_count : 1, sizeof(*shot->channels));
	if (shot->channels == NULL) {
		free(shot);
		return NULL;
	}
	shot->side = -1;
	shot->recipe = -1;
	shot->cycle_count = -1;
	for (int i = 0; i < FEATURE_COUNT; i++) {
		shot->value[i] = NAN;
		shot->absent[i] = ABSENT_NOT_CONFIGURED;
	}
	return shot;
}

void
shot_free(struct shot *shot)
{
	if (shot == NULL)
		return;
	free(shot->channels);
	free(shot->trace);
	free(shot);
}

struct wall
shot_time(const struct shot *shot)
{
	if (shot->form_start_at.ns != 0)
		return shot->form_start_at;
	return shot->heat_end_at.ns != 0 ? shot->heat_end_at : shot->closed_at;
}
