/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/machine.h"

#include <assert.h>
#include <stdio.h>
#include <string.h>

#include "conf/list.h"
#include "conf/value.h"
#include "conf/words.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

/* --- what each kind has --------------------------------------------------------------- */

#define ROLE(name) MACHINE_ROLE(ROLE_##name)
#define TWINS                                                                         \
	"two sheets in one part are not followed, and such a line cannot be logged: " \
	"remove its whole [line ...] section, with its devices and their channels"

/* What the machines without a ring have in common. */
#define FRAME_BY_ITSELF                                                        \
	.ovens = 1, .stations = "load, oven, form",                            \
	.needs = {ROLE(OVEN_IN), ROLE(FORM_CLOSED)},                           \
	.foreign = ROLE(ROTATING) | ROLE(SHEET_AT_LOAD) | ROLE(SHEET_AT_FORM), \
	.moves = ROLE(OVEN_IN) | ROLE(FORM_CLOSED) | ROLE(CLAMP_CLOSED),       \
	.returns = ROLE(CLAMP_CLOSED) | ROLE(SHEET_IN_FRAME)

static const struct machine_traits traits[MACHINE_COUNT] = {
    [MACHINE_ROTARY] =
	{
	    .ovens = SETTINGS_STATIONS - 2,
	    .unloads = 1,
	    .sides = 1,
	    .stations = "load, one oven or more, form and perhaps unload",
	    .doubles = TWINS,
	    .needs = {ROLE(ROTATING) | ROLE(CYCLE_COUNT), ROLE(FORM_CLOSED)},
	    .foreign = ROLE(OVEN_IN) | ROLE(CLAMP_CLOSED) | ROLE(SHEET_IN_FRAME),
	    .moves = ROLE(ROTATING) | ROLE(CYCLE_COUNT) | ROLE(FORM_CLOSED),
	    .returns = ROLE(SHEET_AT_LOAD),
	},
    [MACHINE_SHUTTLE] =
	{
	    .sides = SETTINGS_SIDES,
	    .doubles = "write load, oven, form, and sides = left, right when there are "
		       "two frames",
	    FRAME_BY_ITSELF,
	},
    [MACHINE_SINGLE] =
	{
	    .sides = 1,
	    .doubles = TWINS,
	    FRAME_BY_ITSELF,
	},
};

/* What is there where the role is foreign; else itself.  Only of the roles above. */
static const enum role instead[] = {
    [ROLE_ROTATING] = ROLE_OVEN_IN,
    [ROLE_FORM_CLOSED] = ROLE_FORM_CLOSED,
    [ROLE_OVEN_IN] = ROLE_ROTATING,
    [ROLE_CLAMP_CLOSED] = ROLE_SHEET_AT_LOAD,
    [ROLE_SHEET_IN_FRAME] = ROLE_SHEET_AT_LOAD,
    [ROLE_SHEET_AT_LOAD] = ROLE_SHEET_IN_FRAME,
    [ROLE_SHEET_AT_FORM] = ROLE_SHEET_IN_FRAME,
    [ROLE_CYCLE_COUNT] = ROLE_CYCLE_COUNT,
};

const struct machine_traits *
machine_get(enum machine machine)
{
	assert(machine < MACHINE_COUNT);
	return traits + machine;
}

enum role
machine_role_instead(enum role role)
{
	assert(role < sizeof instead / sizeof instead[0]);
	return instead[role];
}

bool
machine_role_is_sided(enum role role)
{
	return MACHINE_ROLE(role) &
	       (ROLE(OVEN_IN) | ROLE(CLAMP_CLOSED) | ROLE(SHEET_IN_FRAME));
}

/* --- reading ---------------------------------------------------------------------------- */

int
machine_read(const char *text, enum machine *machine, struct error *error)
{
	int word = words_find(&words_machine, text);

	if (strncmp(text, "twin", 4) == 0)
		return error_set(error, ERROR_INVALID, TWINS);
	if (word < 0)
		return value_refuse_word(&words_machine, text, error);
	*machine = (enum machine)word;
	return 0;
}

/* "oven", or "oven-a" with a label. */
static int
read_station(const char *item, struct station_settings *station, struct error *error)
{
	size_t length = strcspn(item, "-");
	char word[LIST_ITEM], list[WORDS_TEXT];
	const char *near;
	int kind;

	snprintf(word, sizeof word, "%.*s", (int)length, item);
	kind = words_find(&words_station, word);
	if (kind >= 0 && value_is_name(item, false) &&
	    strcmp(item + length, "-") != 0) {
		text_copy(station->name, sizeof station->name, item);
		station->kind = (enum station_kind)kind;
		return 0;
	}
	near = kind < 0 ? text_nearest(word, words_station.list, words_station.count)
	                : NULL;
	if (near)
		return error_set(error, ERROR_INVALID,
		    "'%s' is no station, did you mean '%s'?", item, near);
	words_list(&words_station, list);
	return error_set(error, ERROR_INVALID,
	    "'%s' is no station, write %s, or such a word with a label, as in oven-a",
	    item, list);
}

int
machine_read_stations(const char *text, struct line_settings *line, struct error *error)
{
	struct station_settings stations[SETTINGS_STATIONS] = {0};
	char item[LIST_ITEM];
	int count = 0, ovens = 0;

	while (list_next(&text, item)) {
		if (count == SETTINGS_STATIONS)
			return error_set(error, ERROR_INVALID,
			    "write %d of them at most", SETTINGS_STATIONS);
		if (read_station(item, stations + count, error) != 0)
			return ERROR_INVALID;
		ovens += stations[count++].kind == STATION_OVEN;
	}
	memcpy(line->stations, stations, sizeof stations);
	line->station_count = count;
	line->oven_count = ovens;
	return 0;
}

int
machine_read_sides(const char *text, struct line_settings *line, struct error *error)
{
	char sides[SETTINGS_SIDES][SETTINGS_NAME], item[LIST_ITEM];
	int count = 0;

	while (list_next(&text, item)) {
		bool fits = count < SETTINGS_SIDES && value_is_name(item, false);

		if (fits)
			text_copy(sides[count], sizeof sides[count], item);
		count = fits ? count + 1 : SETTINGS_SIDES + 1;
	}
	if (count != SETTINGS_SIDES || strcmp(sides[0], sides[1]) == 0)
		return error_set(error, ERROR_INVALID,
		    "write two different names, such as left, right");
	memcpy(line->sides, sides, sizeof sides);
	line->side_count = count;
	return 0;
}
