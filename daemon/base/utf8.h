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
 * Whether a code point steers what shows it instead of standing there: control characters, tab
 * and line ends among them, and what ends lines or overrides the direction of what stands
 * beside it (the Unicode Standard, 23.1 and 23.2).  The marks that writing from right to left
 * needs, U+200E, U+200F and U+061C, do not.
 */
bool utf8_steers(uint32_t point);

/*
 * Whether a document can hold a code point: nothing that steers but tab and line ends, no
 * noncharacter of Unicode, and not U+FFFD, which stands for all that cannot be shown.
 */
bool utf8_is_shown(uint32_t point);

/* Whether a string is one line of text that steers nothing, as names are; else what the first
 * that is not begins with, in `byte`. */
bool utf8_is_plain(const char *string, unsigned char *byte);

/* Makes it one in place: tab and line ends become blanks, all else a '?'.  Never longer. */
void utf8_make_plain(char *string);

#endif
