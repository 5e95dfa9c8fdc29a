/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/materials.h"

#include <errno.h>
#include <string.h>
#include <unistd.h>

#include "conf/bundle.h"
#include "conf/draft.h"
#include "conf/ledger_file.h"
#include "daemon/base/text.h"

static const char byte_order_mark[] = "\xef\xbb\xbf";

/* Reads the file that `site` names; NULL when it cannot, which is noted. */
static char *
load(struct draft *draft, struct part *site)
{
	size_t mark = strlen(byte_order_mark);
	char *text;

	if (!ledger_file_refuse(draft, site, "materials", draft->along.path))
		return NULL;
	if (access(draft->along.path, R_OK) != 0) {
		part_refuse(draft, site, "materials",
		    "'materials' leads to '%s', which cannot be read: %s",
		    draft->along.path, strerrordesc_np(errno));
		return NULL;
	}
	text = reader_load(draft->along.path, &draft->along);
	/* it stands at the beginning of a text, or nowhere */
	if (text && strncmp(text, byte_order_mark, mark) == 0)
		memmove(text, text + mark, strlen(text + mark) + 1);
	return text;
}

bool
materials_read(struct draft *draft, struct bundle *bundle, bool from_file)
{
	struct part *site = draft_next(draft, SECTION_SITE, NULL);

	if (!site || !part_has(site, "materials")) {
		if (bundle->along)
			mistakes_add(&draft->mistakes, bundle->mark_line,
			    "materials stand behind this line, but [site] has no "
			    "'materials': write the name of their file there, or take "
			    "this line and them out");
		return true;
	}
	draft->materials_missing = true;
	if (!part_sound(site, "materials"))
		return true;
	part_complete_path(draft, site, "materials", site->as.site.materials);
	if (!part_sound(site, "materials"))
		return true;
	/* parts move as more come */
	text_copy(draft->along_path, sizeof draft->along_path, site->as.site.materials);
	draft->along =
	    (struct mistakes){draft->along_path, draft->mistakes.problems, .file = 1};
	if (!bundle->along && from_file)
		bundle->along = load(draft, site);
	else if (!bundle->along)
		part_refuse(draft, site, "materials",
		    "'materials' is '%s', but this text has none behind it",
		    section_entry(site->source, "materials")->value);
	if (!bundle->along)
		return true;
	draft->materials_missing = false;
	return draft_read_along(draft, bundle->along);
}
