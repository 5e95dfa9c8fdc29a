/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/reference_setups.h"

#include <stdio.h>

#include "cli/command/filed_setups.h"
#include "cli/population/sensors.h"
#include "daemon/base/error.h"

static struct sensors_of
sensors_of(struct filed_setups *filed, const struct kind *kind, int64_t setup,
    struct error *error)
{
	const struct settings *settings = filed_setups_get(filed, setup, error);

	return (struct sensors_of){settings,
	    settings ? settings_find_line(settings, kind->line) : -1, kind->side};
}

/* Whether one of its features rests on other sensors. */
static bool
differs(const struct sensors_of *a, const struct sensors_of *b,
    char words[static SENSORS_WORDS])
{
	for (int id = 0; id < FEATURE_COUNT; id++)
		if (!sensors_same(a, b, id, words))
			return true;
	return false;
}

static void
check(struct filed_setups *filed, const struct kind *kind,
    const struct compare_setups *setups, char remark[static REFERENCE_SETUPS])
{
	struct error error;
	const struct sensors_of last =
	    sensors_of(filed, kind, setups->list[setups->count - 1], &error);

	for (size_t i = 0; i + 1 < setups->count; i++) {
		char words[SENSORS_WORDS];
		const struct sensors_of one =
		    sensors_of(filed, kind, setups->list[i], &error);
		if (!last.settings || last.line < 0 || !one.settings || one.line < 0) {
			snprintf(remark, REFERENCE_SETUPS,
			    "whether all of these shots were measured alike cannot be "
			    "told: a set-up that they were made under cannot be read");
			return;
		}
		if (differs(&one, &last, words)) {
			snprintf(remark, REFERENCE_SETUPS,
			    "not all of these shots were measured alike: %s. Withdraw "
			    "it and freeze a time after that change.",
			    words);
			return;
		}
	}
}

void
reference_setups_check(const struct session *session, const struct kind *kind,
    const struct compare_setups *setups, char remark[static REFERENCE_SETUPS])
{
	struct filed_setups *filed = filed_setups_new(session->ledger);

	remark[0] = '\0';
	if (setups->more || !filed)
		snprintf(remark, REFERENCE_SETUPS,
		    "whether all of these shots were measured alike was not looked at: "
		    "%s",
		    filed ? "they were made under too many set-ups" : "out of memory");
	else if (setups->count > 1)
		check(filed, kind, setups, remark);
	filed_setups_free(filed);
}
