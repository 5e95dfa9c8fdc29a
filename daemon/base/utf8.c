/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/base/utf8.h"

#include <string.h>

enum { REPLACEMENT = 0xfffd };

/* Bytes of the character that begins with `lead`, 0 when none does. */
static size_t
length_of(unsigned char lead)
{
	if (lead < 0x80)
		return 1;
	if (lead >= 0xc2 && lead <= 0xdf)
		return 2;
	if (lead >= 0xe0 && lead <= 0xef)
		return 3;
	return lead >= 0xf0 && lead <= 0xf4 ? 4 : 0;
}

/* Reads the character at `bytes`, of which `room` can be read, not 0.  Its bytes, or 0
 * when it is none. */
static size_t
decode(const char *bytes, size_t room, uint32_t *point)
{
	static const uint32_t least[] = {0, 0, 0x80, 0x800, 0x10000};
	const unsigned char *at = (const unsigned char *)bytes;
	size_t count = length_of(*at);
	uint32_t code;

	if (count == 0 || count > room)
		return 0;
	code = count == 1 ? *at : *at & (0x7fU >> count);
	for (size_t i = 1; i < count; i++) {
		if ((at[i] & 0xc0) != 0x80)
			return 0;
		code = code << 6 | (at[i] & 0x3fU);
	}
	if (code < least[count] || code > 0x10ffff ||
	    (code >= 0xd800 && code <= 0xdfff))
		return 0;
	*point = code;
	return count;
}

bool
utf8_is_valid(const char *bytes, size_t length)
{
	uint32_t point;

	while (length > 0) {
		size_t count = decode(bytes, length, &point);

		if (count == 0)
			return false;
		bytes += count;
		length -= count;
	}
	return true;
}

uint32_t
utf8_next(const char **string)
{
	uint32_t point = REPLACEMENT;
	size_t room = strnlen(*string, 4), count;

	if (room == 0)
		return 0;
	count = decode(*string, room, &point);
	*string += count > 0 ? count : 1;
	return point;
}

bool
utf8_steers(uint32_t point)
{
	return point < 0x20 || (point >= 0x7f && point < 0xa0) ||
	       (point >= 0x2028 && point <= 0x202e) ||
	       (point >= 0x2066 && point <= 0x2069);
}

bool
utf8_is_shown(uint32_t point)
{
	bool blank = point == '\t' || point == '\n' || point == '\r';

	return (blank || !utf8_steers(point)) &&
	       !(point >= 0xfdd0 && point <= 0xfdef) && (point & 0xfffe) != 0xfffe &&
	       point != REPLACEMENT;
}

bool
utf8_is_plain(const char *string, unsigned char *byte)
{
	uint32_t point;

	do {
		*byte = (unsigned char)*string;
		const char *next = string;
		point = utf8_next(&next);
		if ((point != 0 && utf8_steers(point)) ||
		    (point == REPLACEMENT && next - string == 1))
			return false;
		string = next;
	} while (point != 0);
	return true;
}

void
utf8_make_plain(char *string)
{
	const char *from = string, *next = string;
	char *to = string;
	uint32_t point;

	while ((point = utf8_next(&next)) != 0) {
		size_t length = (size_t)(next - from);

		if (point == '\t' || point == '\n' || point == '\r') {
			*to++ = ' ';
		} else if (utf8_steers(point) ||
			   (point == REPLACEMENT && length == 1)) {
			*to++ = '?';
		} else {
			memmove(to, from, length);
			to += length;
		}
		from = next;
	}
	*to = '\0';
}
