/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stdlib.h>

#include "cli/command/command.h"
#include "daemon/base/error.h"
#include "daemon/base/utf8.h"

static void __attribute__((format(printf, 2, 0)))
tell(const struct call *call, const char *format, va_list arguments)
{
	char *sentence;

	if (vasprintf(&sentence, format, arguments) < 0)
		return;
	utf8_make_plain(sentence);
	fprintf(call->err, "evensoak: %s\n", sentence);
	free(sentence);
}

void
command_tell(const struct call *call, const char *format, ...)
{
	va_list arguments;

	va_start(arguments, format);
	tell(call, format, arguments);
	va_end(arguments);
}

enum command_exit
command_usage(const struct call *call, const char *format, ...)
{
	va_list arguments;

	va_start(arguments, format);
	tell(call, format, arguments);
	va_end(arguments);
	if (call->command)
		fprintf(call->err, "see 'evensoak %s --help'\n", call->command->name);
	else
		fputs("see 'evensoak --help'\n", call->err);
	return COMMAND_USAGE;
}

enum command_exit
command_cannot(const struct call *call, const struct error *error)
{
	fprintf(call->err, "evensoak: %s\n", error->text);
	return COMMAND_CANNOT;
}
