/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/mistakes.h"

#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#include "conf/settings.h"
#include "daemon/base/utf8.h"

static bool
is_before(const struct problem *problem, int file, int line)
{
	return problem->file < file || (problem->file == file && problem->line <= line);
}

/* Makes room in the list for a problem there; NULL when it is full of earlier ones. */
static struct problem *
make_place(struct problems *problems, int file, int line)
{
	size_t kept = problems->count++;
	size_t place;

	if (kept >= SETTINGS_PROBLEMS) {
		kept = SETTINGS_PROBLEMS - 1;
		if (is_before(&problems->list[kept], file, line))
			return NULL;
	}
	for (place = kept; place > 0; place--)
		if (is_before(&problems->list[place - 1], file, line))
			break;
	memmove(problems->list + place + 1, problems->list + place,
	    (kept - place) * sizeof problems->list[0]);
	return problems->list + place;
}

void
mistakes_add(struct mistakes *mistakes, int line, const char *format, ...)
{
	struct problem *problem = make_place(mistakes->problems, mistakes->file, line);
	va_list arguments;
	int length;

	if (!problem)
		return;
	problem->file = mistakes->file;
	problem->line = line;
	length = line > 0 ? snprintf(problem->text, sizeof problem->text,
				"%s:%d: ", mistakes->path, line)
	                  : snprintf(problem->text, sizeof problem->text,
				"%s: ", mistakes->path);
	if (length < 0 || (size_t)length >= sizeof problem->text)
		return;
	va_start(arguments, format);
	vsnprintf(problem->text + length, sizeof problem->text - (size_t)length, format,
	    arguments);
	va_end(arguments);
	utf8_make_plain(problem->text);
}
