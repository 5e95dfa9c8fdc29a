/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/base/error.h"

#include <stdarg.h>
#include <stdio.h>

#include "daemon/base/utf8.h"

/* The sentences are made in a second buffer: an argument may be the old one. */

int
error_set(struct error *error, enum error_code code, const char *format, ...)
{
	struct error made;
	va_list arguments;

	if (!error)
		return code;
	va_start(arguments, format);
	vsnprintf(made.text, sizeof(made.text), format, arguments);
	va_end(arguments);
	utf8_make_plain(made.text);
	*error = made;
	return code;
}

int
error_prefix(struct error *error, enum error_code code, const char *format, ...)
{
	struct error prefix, made;
	va_list arguments;
	int length;

	if (!error)
		return code;
	va_start(arguments, format);
	vsnprintf(prefix.text, sizeof(prefix.text), format, arguments);
	va_end(arguments);
	length =
	    snprintf(made.text, sizeof(made.text), "%s: %s", prefix.text, error->text);
	if (length >= 0) {
		utf8_make_plain(made.text);
		*error = made;
	}
	return code;
}
