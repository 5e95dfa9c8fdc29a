/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Whether what --reference names can be used. */
#include "cli/command/found.h"

#include <string.h>

#include "daemon/base/calendar.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

struct naming {
	const char *wanted;
	char near[LEDGER_NAME];
	bool there;
	struct wall withdrawn;
};

static int
take_name(void *arg, const struct ledger_reference *reference)
{
	struct naming *naming = arg;

	if (!*naming->near && text_nearest(naming->wanted, &reference->name, 1))
		text_copy(naming->near, sizeof naming->near, reference->name);
	naming->there = strcmp(reference->name, naming->wanted) == 0;
	naming->withdrawn = reference->withdrawn;
	return naming->there;
}

enum command_exit
found_check(const struct call *call, const struct session *session)
{
	struct naming naming = {.wanted = call->option[OPTION_REFERENCE]};
	struct error error;

	if (!naming.wanted)
		return COMMAND_DONE;
	if (ledger_read_references(session->ledger, take_name, &naming, &error) != 0)
		return command_cannot(call, &error);
	if (naming.there && naming.withdrawn.ns == 0)
		return COMMAND_DONE;
	if (naming.there) {
		char at[CALENDAR_TEXT];
		calendar_local_text(naming.withdrawn, at);
		return command_usage(call,
		    "reference run '%s' was withdrawn on %s: nothing is held against "
		    "it any more",
		    naming.wanted, at);
	}
	return command_usage(call, "there is no reference run '%s'%s%s%s",
	    naming.wanted, *naming.near ? "; did you mean '" : "", naming.near,
	    *naming.near ? "'?" : "");
}
