/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/shots_alike.h"

#include <string.h>

#include "cli/population/population.h"
#include "cli/command/remark.h"
#include "cli/wording/shown.h"
#include "daemon/base/calendar.h"
#include "daemon/base/text.h"

enum {
	DAY = sizeof "2026-03-02" - 1, /* bytes of a local time that are its day */
};

struct shots_alike
shots_alike_find(const struct ledger_shot *shots, size_t count)
{
	const struct ledger_shot *one = &shots[0];
	struct shots_alike alike = {true, true, true, true, true, true};
	char clock[CALENDAR_TEXT];

	for (size_t i = 0; i < count; i++) {
		const struct ledger_shot *shot = &shots[i];
		alike.line &= strcmp(shot->line, one->line) == 0;
		shown_clock(shot->filed_at, one->filed_at, clock);
		alike.day &= strlen(clock) < DAY;
		alike.recipe &= strcmp(shot->recipe, one->recipe) == 0;
		alike.tool &= strcmp(shot->tool, one->tool) == 0;
		alike.lot &= strcmp(shot->lot, one->lot) == 0;
		alike.side &= *shot->side == '\0';
	}
	return alike;
}

static void
add_label(struct text *words, const char *what, const char *label)
{
	text_printf(words, "%s%s%s%s", words->length ? ", " : "", what,
	    *what ? " " : "", *label ? label : "unknown");
}

/* "line-3, 2026-03-02, recipe 12 (pond-basin), tool T-117, lot A-0412". */
void
shots_alike_put(struct page *page, const struct settings *settings,
    const struct shots_alike *alike, const struct ledger_shot *shot)
{
	const struct recipe_settings *recipe =
	    settings_recipe(settings, population_recipe(shot->recipe));
	char day[CALENDAR_TEXT];
	struct text words;

	calendar_local_text(shot->filed_at, day);
	day[DAY] = '\0';
	text_init(&words, REMARK_TEXT);
	if (alike->line)
		add_label(&words, "", shot->line);
	if (alike->day)
		add_label(&words, "", day);
	if (alike->recipe)
		add_label(&words, "recipe", shot->recipe);
	if (alike->recipe && recipe && *recipe->name)
		text_printf(&words, " (%s)", recipe->name);
	if (alike->tool)
		add_label(&words, "tool", shot->tool);
	if (alike->lot)
		add_label(&words, "lot", shot->lot);
	if (words.length)
		page_note(page, NULL, TONE_STRONG, "%s", words.bytes);
	text_release(&words);
}
