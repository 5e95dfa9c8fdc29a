/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/page/utf8.h"

#include <stddef.h>

static const uint32_t replacement = 0xfffd;

uint32_t
utf8_next(const char **bytes)
{
	const unsigned char *s = (const unsigned char *)*bytes;
	uint32_t point = *s, least;
	int more;

	if (point == 0)
		return 0;
	++*bytes;
	if (point < 0x80)
		return point;
	if (point >= 0xc2 && point < 0xe0) {
		more = 1, least = 0x80, point &= 0x1f;
	} else if (point >= 0xe0 && point < 0xf0) {
		more = 2, least = 0x800, point &= 0x0f;
	} else if (point >= 0xf0 && point < 0xf5) {
		more = 3, least = 0x10000, point &= 0x07;
	} else {
		return replacement;
	}
	for (int i = 1; i <= more; i++) {
		if ((s[i] & 0xc0) != 0x80)
			return replacement;
		point = point << 6 | (s[i] & 0x3f);
	}
	if (point < least || point > 0x10ffff || (point >= 0xd800 && point < 0xe000))
		return replacement;
	*bytes += more;
	return point;
}

/* Blocks of the Unicode standard: combining marks, then those that are wide (UAX 11). */
static const struct range {
	uint32_t first, last;
	int width;
} ranges[] = {
    {0x0300, 0x036f, 0},
    {0x1100, 0x115f, 2},
    {0x1ab0, 0x1aff, 0},
    {0x1dc0, 0x1dff, 0},
    {0x200b, 0x200f, 0},
    {0x20d0, 0x20ff, 0},
    {0x2e80, 0xa4cf, 2},
    {0xac00, 0xd7a3, 2},
    {0xf900, 0xfaff, 2},
    {0xfe00, 0xfe0f, 0},
    {0xfe20, 0xfe2f, 0},
    {0xfe30, 0xfe6f, 2},
    {0xff00, 0xff60, 2},
    {0xffe0, 0xffe6, 2},
    {0x1f300, 0x1faff, 2},
    {0x20000, 0x3fffd, 2},
};

int
utf8_point_width(uint32_t point)
{
	for (size_t i = 0; i < sizeof ranges / sizeof ranges[0]; i++)
		if (point >= ranges[i].first && point <= ranges[i].last)
			return ranges[i].width;
	return 1;
}

int
utf8_width(const char *string)
{
	int width = 0;
	uint32_t point;

	while ((point = utf8_next(&string)) != 0)
		width += utf8_point_width(point);
	return width;
}
