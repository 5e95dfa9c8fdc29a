/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/mistakes.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "conf/settings.h"

/* Makes room in the list for a problem of `line`; NULL when it is full of earlier ones. */
static struct problem *
make_place(struct problems *problems, int line)
{
	size_t kept = problems->count++;
	size_t place;

	if (kept >= SETTINGS_PROBLEMS) {
		kept = SETTINGS_PROBLEMS - 1;
		if (problems->list[kept].line <= line)
			return NULL;
	}
	for (place = kept; place > 0; place--)
		if (problems->list[place - 1].line <= line)
			break;
	memmove(problems->list + place + 1, problems->list + place,
	    (kept - place) * sizeof problems->list[0]);
	return problems->list + place;
}

void
mistakes_add(struct mistakes *mistakes, int line, const char *format, ...)
{
	struct problem *problem = make_place(mistakes->problems, line);
	va_list arguments;
	int length;

	if (!problem)
		return;
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
}
