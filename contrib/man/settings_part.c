/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Every section and setting of the configuration. */
#include "contrib/man/parts.h"

#include <stdbool.h>
#include <string.h>

#include "conf/schema.h"
#include "conf/words.h"
#include "contrib/man/mdoc.h"

/* The kind of value, as the page's section VALUES has it.  A type without one is shown by
 * schema_type_text's example. */
static const char *const types[TYPE_COUNT] = {
    [TYPE_NAME] = "name",
    [TYPE_TEXT] = "text",
    [TYPE_PATH] = "path",
    [TYPE_URL] = "URL",
    [TYPE_ADDRESS] = "HOST:PORT",
    [TYPE_INTEGER] = "whole number",
    [TYPE_NUMBER] = "number",
    [TYPE_WORD] = "word",
    [TYPE_FLAG] = "yes or no",
    [TYPE_MINUTE] = "time of day",
    [TYPE_DAYS] = "days of the week",
    [TYPE_DATES] = "dates",
    [TYPE_UNIT] = "unit",
    [TYPE_ZONE] = "time zone",
    [TYPE_MACHINE] = "rotary, shuttle or single-station",
    [TYPE_STATIONS] = "stations",
    [TYPE_SIDES] = "two names",
    [TYPE_HOLES] = "addresses",
    [TYPE_RAW] = "raw values",
    [TYPE_MEASURE] = "measure",
    [TYPE_TEMPERATURE] = "temperature",
    [TYPE_DIFFERENCE] = "difference of temperatures",
    [TYPE_LENGTH] = "length",
    [TYPE_CURVE] = "number or curve",
};

/* Behind "number". */
static const char *
unit_words(const char *unit)
{
	static const struct {
		const char *unit, *words;
	} spelled[] = {
	    {"", ""},
	    {"s", " of seconds"},
	    {"ms", " of milliseconds"},
	    {"h", " of hours"},
	    {"kW", " of kilowatts"},
	};

	for (size_t i = 0; i < sizeof spelled / sizeof spelled[0]; i++)
		if (strcmp(spelled[i].unit, unit) == 0)
			return spelled[i].words;
	return NULL;
}

static bool
has_unit_word(enum setting_type type)
{
	return type == TYPE_TEMPERATURE || type == TYPE_DIFFERENCE ||
	       type == TYPE_LENGTH;
}

static bool
is_number(enum setting_type type)
{
	return type == TYPE_INTEGER || type == TYPE_NUMBER || type == TYPE_CURVE ||
	       has_unit_word(type);
}

/* "number of seconds from 1 to 300" */
static void
describe_number(const struct setting *setting, char *text, size_t room)
{
	const char *unit = has_unit_word(setting->type) ? setting->unit : "";
	bool percent = strcmp(setting->unit, "%") == 0;
	const char *of = unit_words(*unit || percent ? "" : setting->unit);
	size_t length;

	length = (size_t)snprintf(text, room, "%s%s%s%s",
	    percent ? "percentage" : types[setting->type], of ? of : ", in ",
	    of ? "" : setting->unit, of ? "" : ",");
	if (setting->minimum < setting->maximum && length < room)
		snprintf(text + length, room - length, " from %.10g to %.10g%s%s",
		    setting->minimum, setting->maximum, *unit ? " " : "", unit);
	else if (length > 0 && length < room && text[length - 1] == ',')
		text[length - 1] = '\0';
}

static void
describe(const struct setting *setting, char *text, size_t room)
{
	if (is_number(setting->type))
		describe_number(setting, text, room);
	else if (setting->words && setting->type != TYPE_WORD)
		snprintf(text, room, "words");
	else if (types[setting->type])
		snprintf(text, room, "%s", types[setting->type]);
	else
		snprintf(text, room, "such as %s", schema_type_text(setting->type));
}

/* Long lists of words stand where they are explained, or below what they are for. */
static void
put_words(FILE *out, const struct setting *setting)
{
	char text[WORDS_TEXT + 64], list[WORDS_TEXT];

	if (setting->words == &words_role)
		snprintf(text, sizeof text, "See ROLES.");
	else {
		words_list(setting->words, list);
		snprintf(text, sizeof text, "Write %s%s.",
		    setting->type == TYPE_WORD ? ""
					       : "any of these, with commas between: ",
		    list);
	}
	mdoc_text(out, text);
}

static void
put_setting(FILE *out, const struct setting *setting)
{
	const char *fallback = setting->fallback;
	bool is_long = fallback && strlen(fallback) > 40;
	char kind[160], facts[256], text[640];

	describe(setting, kind, sizeof kind);
	snprintf(facts, sizeof facts, "%s%s%.40s", kind,
	    !fallback               ? "; has to be there"
	    : *fallback && !is_long ? "; left out: "
				    : "",
	    fallback && !is_long ? fallback : "");
	fprintf(out, ".It Ic %s Pq", setting->name);
	mdoc_argument(out, facts);
	fputs("\n", out);
	mdoc_sentence(out, setting->help);
	if (setting->words)
		put_words(out, setting);
	if (is_long) {
		snprintf(text, sizeof text, "Left out: %s.", fallback);
		mdoc_text(out, text);
	}
}

static void
put_section(FILE *out, enum section_kind kind)
{
	const struct section_traits *section = schema_section(kind);
	size_t count;
	const struct setting *settings = schema_settings(&count);

	fprintf(out, ".Ss \\&[%s%s%s]\\&\n", section->kind,
	    *section->argument ? " " : "", section->argument);
	mdoc_sentence(out, section->help);
	if (section->required)
		mdoc_text(out, *section->argument
				   ? "At least one of them has to be there."
				   : "It has to be there.");
	fputs(".Bl -tag -width Ds\n", out);
	for (size_t i = 0; i < count; i++)
		if (settings[i].section == kind)
			put_setting(out, settings + i);
	fputs(".El\n", out);
}

int
part_settings(FILE *out, const char *argument, struct error *error)
{
	(void)argument;
	(void)error;
	for (int kind = 0; kind < SECTION_COUNT; kind++)
		put_section(out, (enum section_kind)kind);
	return 0;
}
