/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/read_lines.h"

#include <stdlib.h>
#include <string.h>

#include "cli/source/source.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

static bool
has(const struct read_lines *lines, const char *name)
{
	for (size_t i = 0; i < lines->count; i++)
		if (strcmp(lines->names[i], name) == 0)
			return true;
	return false;
}

/* Adds it unless it is there; other than 0 when memory is short. */
static int
add(void *arg, const char *name)
{
	struct read_lines *lines = arg;

	if (has(lines, name))
		return 0;
	char(*names)[LEDGER_NAME] =
	    reallocarray(lines->names, lines->count + 1, sizeof *names);
	if (!names)
		return 1;
	lines->names = names;
	text_copy(names[lines->count++], LEDGER_NAME, name);
	return 0;
}

/* Whatever a store has that the set-up does not know. */
static enum command_exit
add_stored(
    struct read_lines *lines, const struct session *session, const struct call *call)
{
	struct error error;

	if (source_ledger(session->source))
		return COMMAND_DONE;
	return source_read_lines(session->source, add, lines, &error) == 0
	           ? COMMAND_DONE
	           : command_cannot(call, &error);
}

/* Leaves the one that was asked for. */
static enum command_exit
choose(struct read_lines *lines, const struct call *call, const char *name)
{
	const char **names = calloc(lines->count + 1, sizeof(const char *));
	const char *near = NULL;
	struct error error;

	if (!names) {
		error_set(&error, ERROR_MEMORY, "out of memory");
		return command_cannot(call, &error);
	}
	for (size_t i = 0; i < lines->count; i++)
		names[i] = lines->names[i];
	near = text_nearest(name, names, lines->count);
	free(names);
	if (!has(lines, name))
		return command_usage(call, "there is no line '%s'%s%s%s", name,
		    near ? "; did you mean '" : "", near ? near : "", near ? "'?" : "");
	text_copy(lines->names[0], LEDGER_NAME, name);
	lines->count = 1;
	lines->one = lines->names[0];
	return COMMAND_DONE;
}

enum command_exit
read_lines_find(
    struct read_lines *lines, const struct session *session, const struct call *call)
{
	const struct settings *settings = session->settings;
	const char *name = call->option[OPTION_LINE];
	enum command_exit code = COMMAND_DONE;

	*lines = (struct read_lines){0};
	for (size_t i = 0; i < settings->line_count; i++)
		if (add(lines, settings->lines[i].name) != 0)
			break;
	if (!name || !has(lines, name))
		code = add_stored(lines, session, call);
	if (code == COMMAND_DONE && name)
		code = choose(lines, call, name);
	return code;
}

void
read_lines_release(struct read_lines *lines)
{
	free(lines->names);
}
