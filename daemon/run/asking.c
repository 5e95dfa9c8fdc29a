/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/run/asking.h"

#include <stdlib.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/base/log.h"
#include "daemon/ledger/ledger.h"
#include "daemon/shot/circumstances.h"

void
asking_release(struct asking *asking)
{
	free(asking->correction);
	*asking = (struct asking){0};
}

static bool
make_room(struct asking *asking, size_t count)
{
	if (asking->room >= count && asking->correction != NULL)
		return true;
	double *correction =
	    reallocarray(asking->correction, count + 1, sizeof(*correction));
	if (correction == NULL)
		return false;
	asking->correction = correction;
	asking->room = count;
	return true;
}

/* Tells of the first question without an answer, and of the next one that has one. */
static void
note(struct asking *asking, const char *line, const struct error *trouble)
{
	bool unanswered = trouble != NULL;

	if (unanswered && !asking->unanswered)
		log_warnx("line '%s': shots are made without what was entered of lots, "
			  "tools and calibrations, until 'evensoak recompute': %s",
		    line, trouble->text);
	if (!unanswered && asking->unanswered)
		log_info("line '%s': shots are made with what was entered again", line);
	asking->unanswered = unanswered;
}

void
asking_circumstances(struct asking *asking, struct ledger *ledger,
    const struct ledger_question *question, struct circumstances *circumstances)
{
	const struct settings *settings = question->settings;
	struct error error;
	int rc;

	*circumstances = circumstances_untold(settings, question->recipe);
	if (ledger == NULL)
		return;
	rc = make_room(asking, settings->channel_count)
	         ? ledger_circumstances(
		       ledger, question, asking->correction, circumstances, &error)
	         : error_set(&error, ERROR_MEMORY, "out of memory");
	note(asking, settings->lines[question->line].name, rc != 0 ? &error : NULL);
}
