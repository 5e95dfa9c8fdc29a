/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/note.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "conf/machine.h"

void
note(const struct notes *notes, const char *format, ...)
{
	char sentence[512];
	va_list arguments;

	va_start(arguments, format);
	vsnprintf(sentence, sizeof sentence, format, arguments);
	va_end(arguments);
	notes->take(notes->arg, sentence);
}

const char *
note_roles(uint32_t roles, char text[static NOTE_ROLES])
{
	text[0] = '\0';
	for (int role = 0; role < ROLE_COUNT; role++)
		if (roles & MACHINE_ROLE(role))
			snprintf(text + strlen(text), NOTE_ROLES - strlen(text), "%s%s",
			    *text ? " or " : "", role_text((enum role)role));
	return text;
}
