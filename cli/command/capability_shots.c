/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/capability_shots.h"

#include <stdlib.h>
#include <string.h>

#include "daemon/base/error.h"
#include "daemon/base/text.h"

enum { ROOM_AT_FIRST = 4096, SHOTS_BETWEEN = 1 << 16 };

/* Which of the labels it is, for a shot more; false when memory is short. */
static bool
count_label(struct capability_labels *labels, const char *name)
{
	size_t i = labels->latest;

	if (i >= labels->count || strcmp(labels->list[i], name) != 0)
		for (i = 0; i < labels->count; i++)
			if (strcmp(labels->list[i], name) == 0)
				break;
	if (i == labels->count) {
		char(*list)[LEDGER_NAME] =
		    reallocarray(labels->list, i + 1, sizeof *list);
		if (!list)
			return false;
		labels->list = list;
		size_t *shots = reallocarray(labels->shots, i + 1, sizeof *shots);
		if (!shots)
			return false;
		labels->shots = shots;
		text_copy(list[i], LEDGER_NAME, name);
		shots[i] = 0;
		labels->count++;
	}
	labels->shots[i]++;
	labels->latest = i;
	return true;
}

static bool
make_room(struct capability_shots *shots)
{
	size_t room = shots->room ? shots->room * 2 : ROOM_AT_FIRST;

	if (shots->count < shots->room)
		return true;
	double *values = reallocarray(shots->values, room, sizeof *values);
	if (!values)
		return false;
	shots->values = values;
	bool *breaks = reallocarray(shots->breaks, room, sizeof *breaks);
	if (!breaks)
		return false;
	shots->breaks = breaks;
	size_t *lot_of = reallocarray(shots->lot_of, room, sizeof *lot_of);
	if (!lot_of)
		return false;
	shots->lot_of = lot_of;
	shots->room = room;
	return true;
}

static bool
fits(const char *wanted, const char *is)
{
	return !wanted || strcmp(wanted, is) == 0;
}

static int
take(void *arg, const struct ledger_shot *shot)
{
	struct capability_shots *shots = arg;

	if (!fits(shots->recipe, shot->recipe) || !fits(shots->tool, shot->tool) ||
	    !fits(shots->lot, shot->lot))
		return 0;
	if (shot->outcome != SHOT_COMPLETE) {
		shots->left_out++;
		return 0;
	}
	shots->failed = !make_room(shots) ||
	                !count_label(&shots->recipes, shot->recipe) ||
	                !count_label(&shots->tools, shot->tool) ||
	                !count_label(&shots->lots, shot->lot);
	if (shots->failed)
		return 1;
	shots->values[shots->count] = shot->value[shots->feature];
	shots->breaks[shots->count] = shot->shot_no != shots->last_no + 1;
	shots->lot_of[shots->count++] = shots->lots.latest;
	shots->last_no = shot->shot_no;
	if (shots->count % SHOTS_BETWEEN == 0)
		progress_tell(shots->progress, "%.1f million shots ...",
		    (double)shots->count / 1e6);
	return 0;
}

int
capability_shots_read(struct capability_shots *shots, struct ledger_read *ledger,
    struct wall from, struct wall to, struct error *error)
{
	const struct ledger_filter filter = {.line = shots->line,
	    .from = from,
	    .to = to,
	    .by_time = true,
	    .features = &shots->feature,
	    .feature_count = 1,
	    .values_only = true,
	    .labels = true};
	int code = ledger_read_shots(ledger, &filter, false, take, shots, error);

	if (code == 0 && shots->failed)
		code = error_set(error, ERROR_MEMORY, "out of memory");
	return code;
}

static void
release_labels(struct capability_labels *labels)
{
	free(labels->list);
	free(labels->shots);
}

void
capability_shots_release(struct capability_shots *shots)
{
	free(shots->values);
	free(shots->breaks);
	free(shots->lot_of);
	release_labels(&shots->recipes);
	release_labels(&shots->tools);
	release_labels(&shots->lots);
	*shots = (struct capability_shots){0};
}
