/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/utf8.h"

#include <stdint.h>

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

bool
utf8_is_valid(const char *bytes, size_t length)
{
	static const uint32_t least[] = {0, 0, 0x80, 0x800, 0x10000};
	const unsigned char *at = (const unsigned char *)bytes, *end = at + length;

	while (at < end) {
		size_t count = length_of(*at);
		uint32_t code;

		if (count == 0 || count > (size_t)(end - at))
			return false;
		code = count == 1 ? *at : *at & (0x7fU >> count);
		for (size_t i = 1; i < count; i++) {
			if ((at[i] & 0xc0) != 0x80)
				return false;
			code = code << 6 | (at[i] & 0x3fU);
		}
		if (code < least[count] || code > 0x10ffff ||
		    (code >= 0xd800 && code <= 0xdfff))
			return false;
		at += count;
	}
	return true;
}
