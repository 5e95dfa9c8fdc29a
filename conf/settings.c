/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/settings.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "conf/bundle.h"
#include "conf/bus.h"
#include "conf/channel.h"
#include "conf/check.h"
#include "conf/draft.h"
#include "conf/fault_bit.h"
#include "conf/groups.h"
#include "conf/ledger_file.h"
#include "conf/material.h"
#include "conf/materials.h"
#include "conf/reader.h"
#include "daemon/base/text.h"

/* --- from a draft without mistakes to settings ------------------------------------ */

static size_t
count_parts(const struct draft *draft, enum section_kind kind)
{
	const struct part *part = NULL;
	size_t count = 0;

	while ((part = draft_next(draft, kind, part)) != NULL)
		count++;
	return count;
}

/* Room for one struct a section of that kind; NULL and *failed when memory is short. */
static void *
make_array(const struct draft *draft, enum section_kind kind, size_t size,
    size_t *count, bool *failed)
{
	void *array = NULL;

	*count = count_parts(draft, kind);
	if (*count > 0) {
		array = calloc(*count, size);
		*failed = *failed || !array;
	}
	return array;
}

static bool
make_arrays(struct settings *settings, const struct draft *draft)
{
	const struct part *part = NULL;
	bool failed = false;

#define MAKE(array, count, kind)      \
	settings->array = make_array( \
	    draft, kind, sizeof settings->array[0], &settings->count, &failed)
	MAKE(lines, line_count, SECTION_LINE);
	MAKE(devices, device_count, SECTION_DEVICE);
	settings->buses =
	    calloc(settings->device_count + count_parts(draft, SECTION_BUS) + 1,
		sizeof settings->buses[0]);
	MAKE(recipes, recipe_count, SECTION_RECIPE);
	MAKE(tools, tool_count, SECTION_TOOL);
	MAKE(materials, material_count, SECTION_MATERIAL);
	MAKE(shifts, shift_count, SECTION_SHIFT);
	MAKE(limits, limit_count, SECTION_LIMITS);
	MAKE(stores, store_count, SECTION_STORE);
#undef MAKE
	while ((part = draft_next(draft, SECTION_CHANNEL, part)) != NULL)
		settings->channel_count += (size_t)part->as.channel.count;
	settings->channels =
	    calloc(settings->channel_count + 1, sizeof settings->channels[0]);
	return !failed && settings->channels && settings->buses;
}

static void
fill_device(struct settings *settings, const struct draft *draft,
    const struct part *part, struct device_settings *device)
{
	const struct part *channel = NULL;
	uint32_t count = device > settings->devices
	                     ? device[-1].first_channel + device[-1].channel_count
	                     : 0;

	*device = part->as.device.out;
	text_copy(device->name, sizeof device->name, part->source->name);
	device->line = part->parent->index;
	device->first_channel = count;
	bus_fill(settings, part, device);
	while ((channel = draft_next(draft, SECTION_CHANNEL, channel)) != NULL) {
		if (channel->parent != part)
			continue;
		for (int i = 0; i < channel->as.channel.count; i++) {
			channel_make(channel, i, settings->channels + count);
			settings->channels[count++].device = part->index;
		}
	}
	device->channel_count = count - device->first_channel;
	groups_make(device, settings->channels);
	fault_bit_fill(settings, draft, part, device);
}

static void
fill_materials(struct settings *settings, const struct draft *draft)
{
	const struct part *part = NULL;

	for (size_t i = 0; (part = draft_next(draft, SECTION_MATERIAL, part)) != NULL;
	     i++) {
		settings->materials[i] = part->as.material;
		text_copy(
		    settings->materials[i].name, SETTINGS_NAME, part->source->name);
		material_sign(&settings->materials[i]);
	}
}

/* Copies the names that sections have and what belongs to no kind of its own. */
static void
fill_named(struct settings *settings, const struct draft *draft)
{
	const struct part *part = NULL;
	size_t i;

	for (i = 0; (part = draft_next(draft, SECTION_LINE, part)) != NULL; i++) {
		settings->lines[i] = part->as.line;
		text_copy(settings->lines[i].name, SETTINGS_NAME, part->source->name);
	}
	for (i = 0; (part = draft_next(draft, SECTION_TOOL, part)) != NULL; i++) {
		settings->tools[i] = part->as.tool;
		text_copy(settings->tools[i].name, SETTINGS_NAME, part->source->name);
	}
	fill_materials(settings, draft);
	for (i = 0; (part = draft_next(draft, SECTION_RECIPE, part)) != NULL; i++)
		settings->recipes[i] = part->as.recipe;
	for (i = 0; (part = draft_next(draft, SECTION_SHIFT, part)) != NULL; i++)
		settings->shifts[i] = part->as.shift;
	for (i = 0; (part = draft_next(draft, SECTION_LIMITS, part)) != NULL; i++)
		settings->limits[i] = part->as.limits.out;
	for (i = 0; (part = draft_next(draft, SECTION_STORE, part)) != NULL; i++)
		settings->stores[i] = part->as.store;
}

static void
fill_ledger(struct settings *settings, const struct ledger_draft *ledger)
{
	text_copy(settings->ledger, sizeof settings->ledger, ledger->path);
	settings->memory_shots = ledger->memory_shots;
	settings->keep_traces_days = ledger->keep_traces_days;
	settings->keep_channels_days = ledger->keep_channels_days;
	settings->keep_shots_days = ledger->keep_shots_days;
}

static void
fill(struct settings *settings, const struct draft *draft)
{
	const struct part *site = draft_next(draft, SECTION_SITE, NULL);
	const struct part *ledger = draft_next(draft, SECTION_LEDGER, NULL);
	const struct part *part = NULL;
	size_t i;

	text_copy(settings->site, sizeof settings->site, site->as.site.name);
	text_copy(settings->zone, sizeof settings->zone, site->as.site.zone);
	text_copy(settings->materials_path, sizeof settings->materials_path,
	    site->as.site.materials);
	settings->holidays = site->as.site.holidays;
	settings->temperature = (enum unit)site->as.site.temperature;
	if (ledger)
		fill_ledger(settings, &ledger->as.ledger);
	fill_named(settings, draft);
	for (i = 0; (part = draft_next(draft, SECTION_DEVICE, part)) != NULL; i++)
		fill_device(settings, draft, part, settings->devices + i);
	bus_fill_idle(settings, draft);
	part = draft_next(draft, SECTION_NOTIFY, NULL);
	if (part)
		settings->notify = part->as.notify;
}

/* The arrays, empty yet, and the text. */
static struct settings *
make_settings(const struct draft *draft, const struct bundle *bundle)
{
	struct settings *settings = calloc(1, sizeof *settings);

	if (!settings || !make_arrays(settings, draft) ||
	    !(settings->text = bundle_join(bundle))) {
		settings_free(settings);
		return NULL;
	}
	text_copy(settings->path, sizeof settings->path, draft->mistakes.path);
	snprintf(settings->hash, sizeof settings->hash, "%016" PRIx64,
	    text_hash(settings->text, strlen(settings->text)));
	return settings;
}

/* --- loading ---------------------------------------------------------------------- */

static bool
read_parts(struct draft *draft, struct bundle *bundle)
{
	if (!draft_read(draft, bundle->own))
		return false;
	ledger_file_complete(draft); /* the materials' file must not be it */
	return materials_read(draft, bundle, draft->from_file);
}

static struct settings *
parse(const char *text, const char *path, bool from_file, struct problems *problems)
{
	struct draft draft = {
	    .mistakes = {path, problems, .file = 0}, .from_file = from_file};
	struct settings *settings = NULL;
	struct bundle bundle;

	problems->count = 0;
	if (strlen(path) >= SETTINGS_PATH)
		mistakes_add(&draft.mistakes, 0,
		    "has too long a path: %d bytes at most", SETTINGS_PATH - 1);
	if (!bundle_split(&bundle, text))
		mistakes_add(&draft.mistakes, 0, "cannot be read: out of memory");
	else if (read_parts(&draft, &bundle)) {
		check_draft(&draft);
		if (from_file)
			bus_look_at_ports(&draft);
	}
	if (problems->count == 0) {
		settings = make_settings(&draft, &bundle);
		if (settings)
			fill(settings, &draft);
		else
			mistakes_add(
			    &draft.mistakes, 0, "cannot be read: out of memory");
	}
	draft_release(&draft);
	bundle_release(&bundle);
	return settings;
}

struct settings *
settings_parse(const char *text, const char *path, struct problems *problems)
{
	return parse(text, path, false, problems);
}

struct settings *
settings_load(const char *path, struct problems *problems)
{
	struct mistakes mistakes = {path, problems, .file = 0};
	struct settings *settings;
	char *text;

	problems->count = 0;
	text = reader_load(path, &mistakes);
	if (!text)
		return NULL;
	settings = parse(text, path, true, problems);
	free(text);
	return settings;
}

/* The materials of a draft without mistakes. */
static struct settings *
make_materials(const struct draft *draft)
{
	struct settings *settings = calloc(1, sizeof *settings);

	if (!settings || !make_arrays(settings, draft)) {
		settings_free(settings);
		return NULL;
	}
	text_copy(settings->path, sizeof settings->path, draft->along.path);
	settings->temperature = UNIT_CELSIUS;
	fill_named(settings, draft);
	return settings;
}

struct settings *
settings_load_materials(const char *path, struct problems *problems)
{
	struct draft draft = {.mistakes = {path, problems, .file = 0},
	    .along = {path, problems, .file = 0}};
	struct settings *settings = NULL;
	struct part *part = NULL;
	char *text;

	problems->count = 0;
	text = reader_load(path, &draft.along);
	if (!text)
		return NULL;
	if (draft_read_along(&draft, text))
		while ((part = draft_next(&draft, SECTION_MATERIAL, part)) != NULL)
			material_check(&draft, part);
	if (problems->count == 0 && !(settings = make_materials(&draft)))
		mistakes_add(&draft.along, 0, "cannot be read: out of memory");
	draft_release(&draft);
	free(text);
	return settings;
}

void
settings_free(struct settings *settings)
{
	if (!settings)
		return;
	free(settings->lines);
	free(settings->devices);
	free(settings->buses);
	free(settings->channels);
	free(settings->recipes);
	free(settings->tools);
	free(settings->materials);
	free(settings->shifts);
	free(settings->limits);
	free(settings->stores);
	free(settings->text);
	free(settings);
}

bool
settings_load_ledger(const char *path, char ledger[static SETTINGS_PATH])
{
	struct problems *problems = calloc(1, sizeof *problems);
	struct draft draft = {.mistakes = {path, problems, .file = 0}};
	const struct part *part = NULL;
	char *text = problems ? reader_load(path, &draft.mistakes) : NULL;

	*ledger = '\0';
	if (text && draft_read(&draft, text)) {
		ledger_file_complete(&draft);
		part = draft_next(&draft, SECTION_LEDGER, NULL);
	}
	if (part)
		text_copy(ledger, SETTINGS_PATH, part->as.ledger.path);
	draft_release(&draft);
	free(text);
	free(problems);
	return *ledger != '\0';
}
