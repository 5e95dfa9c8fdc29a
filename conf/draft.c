/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/draft.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "conf/value.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

enum { NAMES = 64 }; /* of settings or section kinds, in one list */

/* --- sections --------------------------------------------------------------------- */

/* -1 when there is no such section. */
static int
find_kind(const char *word)
{
	for (int kind = 0; kind < SECTION_COUNT; kind++)
		if (strcmp(schema_section((enum section_kind)kind)->kind, word) == 0)
			return kind;
	return -1;
}

/* Notes that there is no such section; the kind that was meant, or -1. */
static int
refuse_kind(struct mistakes *mistakes, const struct section *section)
{
	const char *names[SECTION_COUNT], *near;
	struct text list;

	text_init(&list, 512);
	for (int kind = 0; kind < SECTION_COUNT; kind++) {
		names[kind] = schema_section((enum section_kind)kind)->kind;
		text_printf(&list, "%s%s", kind ? ", " : "", names[kind]);
	}
	near = text_nearest(section->kind, names, SECTION_COUNT);
	if (near)
		mistakes_add(mistakes, section->line,
		    "unknown section %s; did you mean [%s%s%s]?", section->title, near,
		    *section->name ? " " : "", section->name);
	else
		mistakes_add(mistakes, section->line,
		    "unknown section %s; there are %s", section->title,
		    list.bytes ? list.bytes : "");
	text_release(&list);
	return near ? find_kind(near) : -1;
}

/* Whether the name suits the kind of section; a channel's, a shift's and a limit's is looked at
 * more closely later. */
static bool
is_fitting(enum section_kind kind, const char *name)
{
	int64_t number;

	switch (kind) {
	case SECTION_SITE:
	case SECTION_LEDGER:
	case SECTION_NOTIFY:
		return *name == '\0';
	case SECTION_DEVICE:
		return value_is_name(name, false);
	case SECTION_CHANNEL:
	case SECTION_SHIFT:
	case SECTION_LIMITS:
		return *name != '\0';
	case SECTION_RECIPE:
		return text_integer(name, &number) && number >= 0 && number <= 65535;
	case SECTION_STORE:
	case SECTION_LINE:
	case SECTION_BUS:
	case SECTION_MATERIAL:
	case SECTION_TOOL:
		return value_is_name(name, true);
	case SECTION_COUNT:
		break;
	}
	return false;
}

static void
check_name(struct draft *draft, struct part *part)
{
	const struct section_traits *traits = schema_section(part->kind);
	const char *name = part->source->name;

	if (is_fitting(part->kind, name))
		return;
	if (!*traits->argument)
		part_refuse(draft, part, NULL, "%s takes no name: write [%s]",
		    part->source->title, traits->kind);
	else if (!*name)
		part_refuse(draft, part, NULL, "%s needs a name: write [%s %s]",
		    part->source->title, traits->kind, traits->argument);
	else if (part->kind == SECTION_RECIPE)
		part_refuse(draft, part, NULL,
		    "'%s' is no recipe number: write [recipe NUMBER], 0 to 65535",
		    name);
	else
		part_refuse(draft, part, NULL,
		    "'%s' is no name: %swrite letters, digits, '-'%s and '_' alone, "
		    "%d bytes at most",
		    name, value_name_advice(name),
		    part->kind == SECTION_DEVICE ? "" : ", '.'", SETTINGS_NAME - 1);
}

/* The section of the same kind and name above, or NULL. */
static struct part *
find_twin(const struct draft *draft, const struct part *part)
{
	int64_t number, other;

	for (struct part *twin = draft->parts; twin < part; twin++) {
		if (twin->kind != part->kind)
			continue;
		if (strcmp(twin->source->name, part->source->name) == 0)
			return twin;
		if (part->kind == SECTION_RECIPE &&
		    text_integer(part->source->name, &number) &&
		    text_integer(twin->source->name, &other) && number == other)
			return twin;
	}
	return NULL;
}

/* --- settings --------------------------------------------------------------------- */

static void
refuse_setting(struct draft *draft, struct part *part, const struct entry *entry)
{
	const char *names[NAMES], *near;
	size_t count, known = 0;
	const struct setting *settings = schema_settings(&count);
	struct text list;

	text_init(&list, 640);
	for (size_t i = 0; i < count && known < NAMES; i++) {
		if (settings[i].section != part->kind)
			continue;
		text_printf(&list, "%s%s", known ? ", " : "", settings[i].name);
		names[known++] = settings[i].name;
	}
	near = text_nearest(entry->name, names, known);
	if (near)
		mistakes_add(part_mistakes(draft, part), entry->line,
		    "unknown setting '%s' in %s; did you mean '%s'?", entry->name,
		    part->source->title, near);
	else
		mistakes_add(part_mistakes(draft, part), entry->line,
		    "unknown setting '%s' in %s; there are %s", entry->name,
		    part->source->title, list.bytes ? list.bytes : "");
	text_release(&list);
	part->bad = true;
}

static void
read_setting(struct draft *draft, struct part *part, const struct setting *setting)
{
	struct entry *entry = section_entry(part->source, setting->name);
	const char *value = entry ? entry->value : setting->fallback;
	char *place = (char *)part + setting->offset;
	char shown[SETTINGS_PATH];
	struct error error;

	if (setting->offset)
		value_clear(setting, place);
	if (!value) {
		part_refuse(draft, part, NULL,
		    "'%s' is missing in %s: write '%s = ...' (%s)", setting->name,
		    part->source->title, setting->name, setting->help);
		return;
	}
	if (entry && entry->bad)
		part->bad = true;
	else if (*value && value_read(setting, value, place, &error) != 0)
		part_refuse(draft, part, setting->name, "'%s' is '%s': %s",
		    setting->name, value_shown(value, shown), error.text);
}

static void
check_entries(struct draft *draft, struct part *part)
{
	struct section *section = part->source;

	for (size_t i = 0; i < section->entry_count; i++) {
		struct entry *entry = section->entries + i;
		const struct entry *first = section_entry(section, entry->name);

		if (first != entry)
			mistakes_add(part_mistakes(draft, part), entry->line,
			    "'%s' stands twice in %s, first in line %d: keep one of "
			    "them",
			    entry->name, section->title, first->line);
		else if (!schema_find(part->kind, entry->name))
			refuse_setting(draft, part, entry);
	}
}

static void
read_part(struct draft *draft, struct part *part)
{
	size_t count;
	const struct setting *settings = schema_settings(&count);

	check_name(draft, part);
	check_entries(draft, part);
	for (size_t i = 0; i < count; i++)
		if (settings[i].section == part->kind)
			read_setting(draft, part, settings + i);
}

/* A material that the configuration has too is read, and then is none. */
static void
drop_part(struct part *part, struct part *twin)
{
	twin->as.material.replaces = true;
	*part = (struct part){0};
}

/* Makes a part of a section, unless it is no section or stands there already. */
static void
add_part(struct draft *draft, struct section *section, bool along)
{
	struct mistakes *mistakes = along ? &draft->along : &draft->mistakes;
	struct part *part = draft->parts + draft->part_count, *twin;
	int kind = find_kind(section->kind);

	if (!*section->kind)
		return;
	if (kind < 0) /* what is meant is read, so that nothing else misses it */
		kind = refuse_kind(mistakes, section);
	else if (along && kind != SECTION_MATERIAL)
		mistakes_add(mistakes, section->line,
		    "%s has no place here: a file of materials holds [material NAME] "
		    "sections alone",
		    section->title);
	if (kind < 0 || (along && kind != SECTION_MATERIAL))
		return;
	*part = (struct part){
	    .source = section, .kind = (enum section_kind)kind, .along = along};
	twin = find_twin(draft, part);
	if (twin && twin->along == along) {
		mistakes_add(mistakes, section->line,
		    "%s stands twice, first in line %d: keep one of them",
		    section->title, twin->source->line);
		return;
	}
	read_part(draft, part);
	if (twin)
		drop_part(part, twin);
	else
		draft->part_count++;
}

/* Whether it is meant to be read along with a configuration. */
static bool
is_of_materials(const struct draft *draft)
{
	for (size_t i = 0; i < draft->part_count; i++)
		if (draft->parts[i].kind != SECTION_MATERIAL)
			return false;
	return draft->part_count > 0;
}

/* Whether nothing in it is of a machine or a ledger: it is for a PC that only reads. */
static bool
only_reads_stores(const struct draft *draft)
{
	bool stores = false;

	for (size_t i = 0; i < draft->part_count; i++)
		switch (draft->parts[i].kind) {
		case SECTION_STORE:
			stores = true;
			break;
		case SECTION_LEDGER:
		case SECTION_NOTIFY:
		case SECTION_LINE:
		case SECTION_BUS:
		case SECTION_DEVICE:
		case SECTION_CHANNEL:
			return false;
		case SECTION_SITE:
		case SECTION_RECIPE:
		case SECTION_MATERIAL:
		case SECTION_TOOL:
		case SECTION_SHIFT:
		case SECTION_LIMITS:
		case SECTION_COUNT:
			break;
		}
	return stores;
}

static void
check_required(struct draft *draft)
{
	bool reads = only_reads_stores(draft);

	if (is_of_materials(draft)) {
		mistakes_add(&draft->mistakes, 0,
		    "holds materials alone: name it as 'materials' in [site] of a "
		    "configuration, and give that");
		return;
	}
	for (int kind = 0; kind < SECTION_COUNT; kind++) {
		const struct section_traits *traits =
		    schema_section((enum section_kind)kind);

		if (reads && (kind == SECTION_LINE || kind == SECTION_LEDGER))
			continue;
		if (traits->required &&
		    !draft_next(draft, (enum section_kind)kind, NULL))
			mistakes_add(&draft->mistakes, 1,
			    "there is no [%s%s%s], %s: write that section",
			    traits->kind, *traits->argument ? " " : "",
			    traits->argument, traits->help);
	}
}

bool
draft_read(struct draft *draft, const char *text)
{
	if (!document_read(&draft->document, text, &draft->mistakes))
		return false;
	draft->parts =
	    calloc(draft->document.section_count + 1, sizeof draft->parts[0]);
	if (!draft->parts) {
		mistakes_add(&draft->mistakes, 0, "cannot be read: out of memory");
		return false;
	}
	for (size_t i = 0; i < draft->document.section_count; i++)
		add_part(draft, draft->document.sections + i, false);
	check_required(draft);
	return true;
}

bool
draft_read_along(struct draft *draft, const char *text)
{
	struct part *parts;
	size_t room = draft->document.section_count;

	if (!document_read(&draft->materials, text, &draft->along))
		return false;
	room += draft->materials.section_count + 1;
	parts = reallocarray(draft->parts, room, sizeof *parts);
	if (!parts) {
		mistakes_add(&draft->along, 0, "cannot be read: out of memory");
		return false;
	}
	draft->parts = parts;
	for (size_t i = 0; i < draft->materials.section_count; i++)
		add_part(draft, draft->materials.sections + i, true);
	return true;
}

void
draft_release(struct draft *draft)
{
	free(draft->parts);
	document_release(&draft->materials);
	document_release(&draft->document);
}
