/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Pieces of a line of line protocol, in the subset that every server takes.  Pure.
 *
 * In names and texts a control character becomes a blank, each byte that is not UTF-8, or of a
 * character that steers (daemon/base/utf8.h), a ?, a backslash in a tag a /.
 */
#ifndef DAEMON_PUBLISH_LINE_TEXT_H
#define DAEMON_PUBLISH_LINE_TEXT_H

#include "daemon/base/text.h"

/* ",name=value"; an empty value is `unknown`. */
void line_text_tag(struct text *text, const char *name, const char *value);
/* ",channel=DEVICE.CHANNEL", neither of them empty. */
void line_text_channel_tag(struct text *text, const char *device, const char *channel);
void line_text_integer_tag(struct text *text, const char *name, int64_t value);

/* Fields, ' ' or ',' and name=value: a float, which is left out when it is not finite (false
 * then); an integer, a whole number as a float; a string. */
bool line_text_number(
    struct text *text, char separator, const char *name, double value);
/* The same of one that is no finer than 32 bits: the fewest digits that such a float is. */
bool line_text_float(struct text *text, char separator, const char *name, double value);
void line_text_integer(
    struct text *text, char separator, const char *name, int64_t value);
void line_text_whole(
    struct text *text, char separator, const char *name, int64_t value);
void line_text_string(
    struct text *text, char separator, const char *name, const char *value);

/* The end of a line. */
void line_text_time(struct text *text, int64_t ns);

#endif
