/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is asked of the parts of a draft. */
#include "conf/draft.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "daemon/base/error.h"
#include "daemon/base/text.h"

struct part *
draft_next(const struct draft *draft, enum section_kind kind, const struct part *after)
{
	size_t i = after ? (size_t)(after - draft->parts) + 1 : 0;

	for (; i < draft->part_count; i++)
		if (draft->parts[i].kind == kind)
			return draft->parts + i;
	return NULL;
}

struct part *
draft_find(const struct draft *draft, enum section_kind kind, const char *name)
{
	struct part *part = NULL;

	while ((part = draft_next(draft, kind, part)) != NULL)
		if (strcmp(part->source->name, name) == 0)
			return part;
	return NULL;
}

void
draft_hint(const struct draft *draft, enum section_kind kind, const char *wrong,
    char hint[static DRAFT_HINT])
{
	const char *names[SETTINGS_DEVICES];
	const struct part *part = NULL;
	const char *near;
	size_t count = 0;

	while (
	    count < SETTINGS_DEVICES && (part = draft_next(draft, kind, part)) != NULL)
		names[count++] = part->source->name;
	near = text_nearest(wrong, names, count);
	hint[0] = '\0';
	if (near)
		snprintf(hint, DRAFT_HINT, "; did you mean '%s'?", near);
}

bool
part_has(const struct part *part, const char *setting)
{
	return section_entry(part->source, setting) != NULL;
}

bool
part_sound(const struct part *part, const char *setting)
{
	const struct entry *entry = section_entry(part->source, setting);

	if (entry)
		return !entry->bad;
	return schema_find(part->kind, setting)->fallback != NULL;
}

struct mistakes *
part_mistakes(struct draft *draft, const struct part *part)
{
	return part->along ? &draft->along : &draft->mistakes;
}

void
part_refuse(struct draft *draft, struct part *part, const char *setting,
    const char *format, ...)
{
	struct entry *entry = setting ? section_entry(part->source, setting) : NULL;
	struct error sentence;
	va_list arguments;

	va_start(arguments, format);
	vsnprintf(sentence.text, sizeof sentence.text, format, arguments);
	va_end(arguments);
	mistakes_add(part_mistakes(draft, part),
	    entry ? entry->line : part->source->line, "%s", sentence.text);
	part->bad = true;
	if (entry)
		entry->bad = true;
}

void
part_complete_path(struct draft *draft, struct part *part, const char *setting,
    char path[static SETTINGS_PATH])
{
	const char *slash = strrchr(draft->mistakes.path, '/');
	char whole[2 * SETTINGS_PATH];

	if (*path == '/' || *path == '\0' || !slash)
		return;
	snprintf(whole, sizeof whole, "%.*s%s", (int)(slash + 1 - draft->mistakes.path),
	    draft->mistakes.path, path);
	if (!text_copy(path, SETTINGS_PATH, whole))
		part_refuse(draft, part, setting,
		    "'%s' is too long with its folder: write %d bytes at most", setting,
		    SETTINGS_PATH - 1);
}

void
part_check_order(struct draft *draft, struct part *part, const char *lower,
    double lower_value, const char *upper, double upper_value)
{
	const struct entry *entry = section_entry(part->source, lower);

	if (!part_sound(part, lower) || !part_sound(part, upper) ||
	    !(lower_value >= upper_value))
		return;
	part_refuse(draft, part, part_has(part, upper) ? upper : lower,
	    "'%s' must be above '%s', which is '%s': exchange or mend them", upper,
	    lower, entry ? entry->value : schema_find(part->kind, lower)->fallback);
}
