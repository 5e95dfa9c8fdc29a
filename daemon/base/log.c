/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/base/log.h"

#include "daemon/base/calendar.h"
#include "daemon/base/clock.h"
#include "daemon/base/utf8.h"

#include <errno.h>
#include <stdarg.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { LINE = 2048 };

static atomic_int level_written = LOG_LEVEL_INFO;

void
log_set_level(enum log_level level)
{
	atomic_store(&level_written, level);
}

static size_t __attribute__((format(printf, 3, 0)))
add(char line[static LINE], size_t length, const char *format, va_list arguments)
{
	int added = vsnprintf(line + length, LINE - length, format, arguments);

	if (added < 0)
		return length;
	length += (size_t)added;
	return length < LINE ? length : LINE - 1;
}

static size_t __attribute__((format(printf, 3, 4)))
add_text(char line[static LINE], size_t length, const char *format, ...)
{
	va_list arguments;

	va_start(arguments, format);
	length = add(line, length, format, arguments);
	va_end(arguments);
	return length;
}

static size_t
add_start(char line[static LINE], enum log_level level)
{
	char now[CALENDAR_TEXT];

	/* Nobody changes the environment once there are threads. */
	/* NOLINTNEXTLINE(concurrency-mt-unsafe) */
	if (getenv("JOURNAL_STREAM"))
		return add_text(line, 0, "<%d>", (int)level);
	calendar_utc_text(clock_wall(), 3, now);
	return add_text(line, 0, "%s ", now);
}

/* One write a line, so that the lines of two threads do not mix. */
static void __attribute__((format(printf, 3, 0)))
put(enum log_level level, int number, const char *format, va_list arguments)
{
	char line[LINE];
	size_t length;

	if ((int)level > atomic_load(&level_written))
		return;
	length = add_start(line, level);
	length = add(line, length, format, arguments);
	if (number)
		length = add_text(line, length, ": %s", strerrordesc_np(number));
	line[length] = '\0';
	utf8_make_plain(line); /* names and answers of others are in it */
	length = strlen(line);
	line[length++] = '\n'; /* over the NUL */
	while (write(STDERR_FILENO, line, length) < 0 && errno == EINTR)
		;
}

void
log_error(const char *format, ...)
{
	int number = errno;
	va_list arguments;

	va_start(arguments, format);
	put(LOG_LEVEL_ERROR, 0, format, arguments);
	va_end(arguments);
	errno = number;
}

void
log_warn(const char *format, ...)
{
	int number = errno;
	va_list arguments;

	va_start(arguments, format);
	put(LOG_LEVEL_WARNING, number, format, arguments);
	va_end(arguments);
	errno = number;
}

void
log_warnx(const char *format, ...)
{
	int number = errno;
	va_list arguments;

	va_start(arguments, format);
	put(LOG_LEVEL_WARNING, 0, format, arguments);
	va_end(arguments);
	errno = number;
}

void
log_info(const char *format, ...)
{
	int number = errno;
	va_list arguments;

	va_start(arguments, format);
	put(LOG_LEVEL_INFO, 0, format, arguments);
	va_end(arguments);
	errno = number;
}

void
log_debug(const char *format, ...)
{
	int number = errno;
	va_list arguments;

	va_start(arguments, format);
	put(LOG_LEVEL_DEBUG, 0, format, arguments);
	va_end(arguments);
	errno = number;
}
