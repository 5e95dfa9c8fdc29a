/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "contrib/linesim/script.h"

#include <math.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include "contrib/linesim/event_forms.h"
#include "contrib/linesim/registers.h"
#include "daemon/base/text.h"

struct reader {
	struct script *script;
	const char *name;
	int line;
	struct text *mistakes;
	bool good;
};

static void complain(struct reader *reader, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

static void
complain(struct reader *reader, const char *format, ...)
{
	char sentence[300];
	va_list arguments;

	va_start(arguments, format);
	vsnprintf(sentence, sizeof sentence, format, arguments);
	va_end(arguments);
	text_printf(
	    reader->mistakes, "%s:%d: %s\n", reader->name, reader->line, sentence);
	reader->good = false;
}

static int
find_choice(const char *const *choices, const char *word)
{
	for (int i = 0; choices[i] != NULL; i++)
		if (strcmp(choices[i], word) == 0)
			return i;
	return -1;
}

/* "; did you mean 'clog'?", or nothing. */
static const char *
hint(const char *wrong, const char *const *names, size_t count, char room[static 64])
{
	const char *near = text_nearest(wrong, names, count);

	room[0] = '\0';
	if (near != NULL)
		snprintf(room, 64, "; did you mean '%s'?", near);
	return room;
}

static void
read_number(struct reader *reader, const struct parameter *parameter, const char *word,
    double *value)
{
	bool whole = parameter->type == VALUE_WHOLE;

	if (!text_number(word, value) || (whole && fabs(*value - round(*value)) > 0))
		complain(reader, "'%s' is '%s', must be a %snumber", parameter->key,
		    word, whole ? "whole " : "");
	else if (*value < parameter->min || *value > parameter->max)
		complain(reader, "'%s' is %s, must be %g to %g", parameter->key, word,
		    parameter->min, parameter->max);
}

static void
read_choice(struct reader *reader, const struct parameter *parameter, const char *word,
    int *choice)
{
	char room[64];
	size_t count = 0;

	while (parameter->choices[count] != NULL)
		count++;
	*choice = find_choice(parameter->choices, word);
	if (*choice < 0)
		complain(reader, "'%s' is '%s', which there is not%s", parameter->key,
		    word, hint(word, parameter->choices, count, room));
}

static void
read_value(struct reader *reader, const struct parameter *parameter, const char *word,
    struct event *event)
{
	void *to = (char *)event + parameter->offset;

	switch (parameter->type) {
	case VALUE_NUMBER:
	case VALUE_WHOLE:
		read_number(reader, parameter, word, to);
		break;
	case VALUE_WORD:
		if (*word == '\0' || !text_copy(to, LOT_NAME_MAX, word) ||
		    strpbrk(word, ",\"") != NULL)
			complain(reader,
			    "'%s' must have 1 to %d letters, no comma, no quote",
			    parameter->key, LOT_NAME_MAX - 1);
		break;
	case VALUE_CHOICE:
		read_choice(reader, parameter, word, to);
		break;
	case VALUE_POINT:
		*(int *)to = registers_find_point(word);
		if (*(int *)to < 0)
			complain(reader, "no sensor '%s'; write one as 'water.tool_3'",
			    word);
		break;
	}
}

static int
parameter_count(enum event_kind kind)
{
	int count = 0;

	while (
	    count < PARAMETERS_MAX && event_forms[kind].parameters[count].key != NULL)
		count++;
	return count;
}

/* One KEY=VALUE; marks the parameter in `given`. */
static void
read_setting(struct reader *reader, char *word, struct event *event, bool *given)
{
	const struct parameter *parameters = event_forms[event->kind].parameters;
	const char *keys[PARAMETERS_MAX];
	int count = parameter_count(event->kind);
	char *equals = strchr(word, '='), room[64];

	if (equals == NULL) {
		complain(reader, "'%s' has no '='; write KEY=VALUE", word);
		return;
	}
	*equals = '\0';
	for (int i = 0; i < count; i++) {
		keys[i] = parameters[i].key;
		if (strcmp(keys[i], word) != 0)
			continue;
		if (given[i])
			complain(reader, "'%s' is given twice", word);
		given[i] = true;
		read_value(reader, &parameters[i], equals + 1, event);
		return;
	}
	complain(reader, "'%s' has no '%s'%s", event_forms[event->kind].name, word,
	    hint(word, keys, (size_t)count, room));
}

static void
fill_in(struct reader *reader, struct event *event, const bool *given)
{
	const struct parameter *parameters = event_forms[event->kind].parameters;

	for (int i = 0; i < parameter_count(event->kind); i++) {
		if (given[i])
			continue;
		if (isnan(parameters[i].fallback))
			complain(reader, "'%s' needs '%s='",
			    event_forms[event->kind].name, parameters[i].key);
		else
			memcpy((char *)event + parameters[i].offset,
			    &parameters[i].fallback, sizeof(double));
	}
}

/* "40", or "40+60": sixty seconds after what the event waits for. */
static bool
read_sheet(char *word, struct event *event)
{
	char *after = strchr(word, '+');

	if (after != NULL)
		*after++ = '\0';
	return text_number(word, &event->when) && event->when >= 1 &&
	       !(fabs(event->when - round(event->when)) > 0) &&
	       (after == NULL ||
		   (text_number(after, &event->after_s) && event->after_s >= 0));
}

/* The words "at 3600" or "sheet 40". */
static bool
read_when(struct reader *reader, char **rest, struct event *event)
{
	const char *word = strsep(rest, " ");
	char *number = strsep(rest, " ");

	event->by_sheet = strcmp(word, "sheet") == 0;
	if (!event->by_sheet && strcmp(word, "at") != 0)
		complain(reader,
		    "'%s' is no beginning; write 'at SECONDS' or 'sheet NUMBER'", word);
	else if (number == NULL)
		complain(reader, "'%s' is not followed by a number", word);
	else if (event->by_sheet && !read_sheet(number, event))
		complain(reader,
		    "'sheet' is followed by '%s', must be a number from 1, or "
		    "number+seconds",
		    number);
	else if (!event->by_sheet &&
		 (!text_number(number, &event->when) || event->when < 0))
		complain(reader,
		    "'at' is followed by '%s', must be seconds since the start",
		    number);
	else
		return true;
	return false;
}

static bool
read_kind(struct reader *reader, const char *word, struct event *event)
{
	const char *names[EVENT_KIND_COUNT];
	char room[64];

	for (int kind = 0; kind < EVENT_KIND_COUNT; kind++) {
		names[kind] = event_forms[kind].name;
		if (word != NULL && strcmp(names[kind], word) == 0) {
			event->kind = (enum event_kind)kind;
			return true;
		}
	}
	complain(reader, "no event '%s'%s", word == NULL ? "" : word,
	    word == NULL ? "" : hint(word, names, EVENT_KIND_COUNT, room));
	return false;
}

/* `line` has single blanks between its words and none at its ends. */
static void
read_event(struct reader *reader, char *line)
{
	struct event event = {0};
	bool given[PARAMETERS_MAX] = {false};
	char *rest = line, *word;

	if (!read_when(reader, &rest, &event) ||
	    !read_kind(reader, strsep(&rest, " "), &event))
		return;
	while ((word = strsep(&rest, " ")) != NULL)
		read_setting(reader, word, &event, given);
	fill_in(reader, &event, given);
	if (reader->script->count == SCRIPT_EVENTS_MAX)
		complain(reader, "more than %d events", SCRIPT_EVENTS_MAX);
	else if (reader->good)
		reader->script->events[reader->script->count++] = event;
}

/* Takes the comment off and makes every stretch of blanks one. */
static void
tidy(char *line)
{
	char *comment = strstr(line, ";;"), *to = line;

	if (comment != NULL)
		*comment = '\0';
	for (const char *from = line; *from != '\0'; from++) {
		bool blank = strchr(" \t\r\n", *from) != NULL;
		if (!blank)
			*to++ = *from;
		else if (to > line && to[-1] != ' ')
			*to++ = ' ';
	}
	if (to > line && to[-1] == ' ')
		to--;
	*to = '\0';
}

bool
script_read(struct script *script, const char *name, FILE *file, struct text *mistakes)
{
	struct reader reader = {
	    .script = script, .name = name, .mistakes = mistakes, .good = true};
	char *line = NULL;
	size_t room = 0;

	script->count = 0;
	while (getline(&line, &room, file) >= 0) {
		reader.line++;
		tidy(line);
		if (*line != '\0')
			read_event(&reader, line);
	}
	free(line);
	if (ferror(file))
		complain(&reader, "cannot be read");
	return reader.good;
}
