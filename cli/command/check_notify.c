/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/check_notify.h"

#include "cli/page/page.h"
#include "conf/settings.h"
#include "conf/words.h"

void
check_notify_look(struct check_notify *check, const struct settings *settings)
{
	*check = (struct check_notify){.verdict = PROGRAM_GOOD};
	if (*settings->notify.program)
		check->verdict =
		    program_file_judge(settings->notify.program, false, &check->error);
}

static void
put_kinds(struct page *page, uint32_t on)
{
	struct cell cells[EVENT_KIND_COUNT];
	size_t count = 0;

	for (size_t i = 0; i < words_event.count; i++)
		if ((on & UINT32_C(1) << i) != 0)
			cells[count++] = cell_words(words_event.list[i]);
	page_list(page, "on", "run on", cells, count);
}

void
check_notify_put(struct page *page, const struct settings *settings,
    const struct check_notify *check)
{
	const struct notify_settings *notify = &settings->notify;
	const char *why = check->verdict == PROGRAM_GOOD ? NULL : check->error.text;

	if (*notify->program == '\0')
		return;
	page_open(page, GROUP_OBJECT, "notify", "Notify");
	page_field(page, "program", "program", cell_words(notify->program));
	put_kinds(page, notify->on);
	page_field(
	    page, "timeout_s", "ended after s", cell_number(notify->timeout_s, 0));
	page_field(page, "wrong", NULL, cell_truth(check->verdict == PROGRAM_WRONG));
	page_field(page, "text", NULL, cell_words(why));
	if (why)
		page_note(page, NULL,
		    check->verdict == PROGRAM_WRONG ? TONE_BAD : TONE_PLAIN, "%s: %s",
		    check->verdict == PROGRAM_WRONG ? "wrong" : "note", why);
	page_close(page);
}
