/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A configuration as a ledger or a recording kept it.  It is read whole or refused with
 * a sentence for every mistake; what was read says the same when its own text is read
 * again, and holds nothing that points out of its arrays.
 *
 * Input: the text; with '+' in front, what stands behind a small plant's.
 */
#include "tests/fuzz/target.h"

#include "tests/fuzz/plant.h"

enum { TEXT_MAX = 1 << 14 };

static void
check_device(const struct settings *settings, const struct device_settings *device)
{
	uint32_t grouped = 0;

	MUST(device->line < settings->line_count);
	MUST(device->bus < settings->bus_count);
	MUST(device->unit_id >= 0 && device->unit_id <= 255);
	MUST(device->first_channel + device->channel_count <= settings->channel_count);
	for (int i = 0; i < device->group_count; i++) {
		MUST(device->groups[i].first + device->groups[i].count <=
		     device->channel_count);
		grouped += device->groups[i].count;
	}
	MUST(grouped == device->channel_count);
}

static void
check_channel(const struct settings *settings, const struct channel_settings *channel)
{
	MUST(channel->device < settings->device_count);
	const struct line_settings *line =
	    &settings->lines[settings->devices[channel->device].line];

	MUST(channel->role < ROLE_COUNT);
	MUST(channel->side >= -1 && channel->side < line->side_count);
	MUST(channel->oven >= 0 && channel->oven < SETTINGS_STATIONS);
	MUST(channel->bit >= -1 && channel->bit <= 15);
	MUST(channel->sentinel_count >= 0 &&
	     channel->sentinel_count <= SETTINGS_SENTINELS);
	MUST(channel->fault_channel >= -1 &&
	     channel->fault_channel < (int64_t)settings->channel_count);
	MUST(channel->min_si <= channel->max_si);
}

static void
check_settings(const struct settings *settings)
{
	static struct problems problems;
	struct settings *again = settings_parse(settings->text, "again", &problems);

	for (size_t i = 0; i < settings->device_count; i++)
		check_device(settings, &settings->devices[i]);
	for (size_t i = 0; i < settings->channel_count; i++)
		check_channel(settings, &settings->channels[i]);
	MUST(again != NULL);
	MUST(strcmp(again->hash, settings->hash) == 0);
	settings_free(again);
}

int
LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length)
{
	static struct problems problems;
	static char text[TEXT_MAX];
	struct input input = {bytes, length};
	size_t before = 0;

	if (length > 0 && bytes[0] == '+') {
		input_u8(&input);
		before = sizeof(PLANT_ROTARY) - 1;
		memcpy(text, PLANT_ROTARY, before);
	}
	if (before + input.left >= TEXT_MAX)
		return 0;
	if (input.left > 0)
		memcpy(text + before, input.at, input.left);
	text[before + input.left] = '\0';
	struct settings *settings = settings_parse(text, "kept.ini", &problems);

	if (settings != NULL) {
		check_settings(settings);
		settings_free(settings);
		return 0;
	}
	MUST(problems.count > 0);
	for (size_t i = 0; i < problems.count && i < SETTINGS_PROBLEMS; i++)
		MUST(strnlen(problems.list[i].text, sizeof(problems.list[i].text)) <
			 sizeof(problems.list[i].text) &&
		     problems.list[i].text[0] != '\0');
	return 0;
}
