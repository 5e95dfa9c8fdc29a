/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * One line to stderr: with a <N> priority prefix under systemd (JOURNAL_STREAM
 * is set), with a UTC time otherwise.  Safe from any thread; each keeps errno.
 * Whatever is put into it, it is one line that steers no terminal (utf8_make_plain).
 * Log a state when it changes, never once a poll.
 */
#ifndef DAEMON_BASE_LOG_H
#define DAEMON_BASE_LOG_H

enum log_level {
	LOG_LEVEL_ERROR = 3,
	LOG_LEVEL_WARNING = 4,
	LOG_LEVEL_INFO = 6,
	LOG_LEVEL_DEBUG = 7,
};

/* Lines above this level are not written; INFO at the start. */
void log_set_level(enum log_level level);

/* log_warn adds the text of errno. */
void log_error(const char *format, ...) __attribute__((format(printf, 1, 2)));
void log_warn(const char *format, ...) __attribute__((format(printf, 1, 2)));
void log_warnx(const char *format, ...) __attribute__((format(printf, 1, 2)));
void log_info(const char *format, ...) __attribute__((format(printf, 1, 2)));
void log_debug(const char *format, ...) __attribute__((format(printf, 1, 2)));

#endif
