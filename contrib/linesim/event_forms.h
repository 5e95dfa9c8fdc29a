/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * How each event of a script is written: its name and its keys.  Constant data.
 */
#ifndef CONTRIB_LINESIM_EVENT_FORMS_H
#define CONTRIB_LINESIM_EVENT_FORMS_H

#include "contrib/linesim/script.h"

#include <stddef.h>

enum value_type { VALUE_NUMBER, VALUE_WHOLE, VALUE_WORD, VALUE_CHOICE, VALUE_POINT };

/* One KEY=VALUE of an event.  fallback NAN: it must be given. */
struct parameter {
	const char *key;
	enum value_type type;
	double min, max, fallback;
	const char *const *choices;
	size_t offset; /* in struct event */
};

enum { PARAMETERS_MAX = 5 };

struct event_form {
	const char *name;
	struct parameter parameters[PARAMETERS_MAX]; /* key NULL: there are no more */
};

extern const struct event_form event_forms[EVENT_KIND_COUNT];

#endif
