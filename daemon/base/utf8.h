/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * UTF-8 as RFC 3629 has it: no overlong forms, no surrogates, nothing past U+10FFFF.
 * Pure; any thread.
 */
#ifndef DAEMON_BASE_UTF8_H
#define DAEMON_BASE_UTF8_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Whether bytes are text; a NUL is a character like others. */
bool utf8_is_valid(const char *bytes, size_t length);

/*
 * Takes one code point from a string and moves on.  A byte that begins no character
 * is taken alone and read as U+FFFD.  0 at the end, not moved.
 */
uint32_t utf8_next(const char **string);

/*
 * Whether a document can hold a code point: no control character but tab and line ends, no
 * noncharacter of Unicode, and not U+FFFD, which stands for all that cannot be shown.
 */
bool utf8_is_shown(uint32_t point);

#endif
