/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "contrib/completion/values.h"

#include <ctype.h>
#include <stddef.h>
#include <string.h>

#include "cli/command/capability_options.h"
#include "cli/command/command.h"
#include "cli/command/help.h"
#include "cli/stats/run_rules.h"
#include "conf/feature.h"
#include "conf/schema.h"
#include "conf/words.h"
#include "daemon/shot/shot.h"

enum option_values
values_of(const struct command *command, int option)
{
	if (command->free & OPTION_BIT(option))
		return VALUES_ANY;
	if (option == OPTION_FROM && (command->options & OPTION_BIT(OPTION_STORE)))
		return VALUES_STORES; /* or a time, which nobody can list */
	return option_table[option].values;
}

/* The word at a place, from 0 on; NULL behind the last. */
static const char *
fixed_word(enum option_values values, const struct command *command, int place)
{
	static const char *const colours[] = {"auto", "always", "never", NULL};
	static const char *const all_rules[] = {"all", "none"};

	switch ((int)values) {
	case VALUES_FORMATS:
		return command_format(command, place);
	case VALUES_COLOURS:
		return colours[place];
	case VALUES_OUTCOMES:
		return place < SHOT_OUTCOME_COUNT
		           ? shot_outcome_text((enum shot_outcome)place)
		           : NULL;
	case VALUES_PARITIES:
		return (size_t)place < words_parity.count ? words_parity.list[place]
		                                          : NULL;
	case VALUES_TABLES:
		return (size_t)place < words_table.count ? words_table.list[place]
		                                         : NULL;
	case VALUES_METHODS:
		return capability_method(place);
	case VALUES_RULES:
		if (place < RUN_RULE_COUNT)
			return run_rule_name((enum run_rule)place);
		return place < RUN_RULE_COUNT + 2 ? all_rules[place - RUN_RULE_COUNT]
		                                  : NULL;
	case VALUES_FEATURES:
		return place < FEATURE_COUNT ? feature_get(place)->name : NULL;
	default:
		return NULL;
	}
}

void
values_print_words(FILE *out, enum option_values values, const struct command *command)
{
	const char *word;

	for (int i = 0; (word = fixed_word(values, command, i)) != NULL; i++)
		fprintf(out, "%s%s", i > 0 ? " " : "", word);
}

const char *
values_asked(enum option_values values)
{
	static const enum section_kind sections[VALUES_COUNT] = {
	    [VALUES_LINES] = SECTION_LINE,
	    [VALUES_SHIFTS] = SECTION_SHIFT,
	    [VALUES_STORES] = SECTION_STORE,
	    [VALUES_DEVICES] = SECTION_DEVICE,
	    [VALUES_CHANNELS] = SECTION_CHANNEL,
	    [VALUES_RECIPES] = SECTION_RECIPE,
	    [VALUES_TOOLS] = SECTION_TOOL,
	    [VALUES_MATERIALS] = SECTION_MATERIAL,
	};

	if (values == VALUES_FILES)
		return "files";
	if (values == VALUES_REFERENCES)
		return "reference";
	if (values == VALUES_LOTS)
		return "lot";
	return values >= VALUES_LINES && values <= VALUES_MATERIALS
	           ? schema_section(sections[values])->kind
	           : NULL;
}

/* --- arguments -------------------------------------------------------------------------- */

static enum option_values
values_of_argument(const char *placeholder, const char *before)
{
	static const struct {
		const char *begins;
		enum option_values values;
	} placeholders[] = {
	    {"FILE", VALUES_FILES},
	    {"STORE", VALUES_STORES},
	    {"RUN", VALUES_REFERENCES},
	    {"DEVICE.CHANNEL", VALUES_CHANNELS},
	};
	static const struct {
		const char *word;
		enum option_values values;
	} words[] = {
	    {"recipe", VALUES_RECIPES},
	    {"tool", VALUES_TOOLS},
	    {"lot", VALUES_LOTS},
	};

	for (size_t i = 0; i < sizeof placeholders / sizeof placeholders[0]; i++)
		if (strncmp(placeholder, placeholders[i].begins,
			strlen(placeholders[i].begins)) == 0)
			return placeholders[i].values;
	for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
		if (strcmp(before, words[i].word) == 0)
			return words[i].values;
	return VALUES_ANY;
}

int
values_arguments(
    const struct command *command, struct argument list[static ARGUMENTS_MOST])
{
	const char *at = command->arguments;
	int count = 0;

	while (*at && count < ARGUMENTS_MOST) {
		struct argument *argument = &list[count];
		size_t length;

		at += strspn(at, "[ |");
		for (length = 0; islower((unsigned char)at[length]); length++)
			;
		snprintf(
		    argument->word, sizeof argument->word, "%.*s", (int)length, at);
		at += length;
		at += strspn(at, " [");
		argument->values = values_of_argument(at, argument->word);
		at += strcspn(at, "|");
		if (*argument->word || argument->values != VALUES_ANY)
			count++;
	}
	return count;
}
