/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/page/width.h"

#include "daemon/base/utf8.h"

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

static int
width_of_point(uint32_t point)
{
	for (size_t i = 0; i < sizeof ranges / sizeof ranges[0]; i++)
		if (point >= ranges[i].first && point <= ranges[i].last)
			return ranges[i].width;
	return 1;
}

int
width_of(const char *string)
{
	int width = 0;
	uint32_t point;

	while ((point = utf8_next(&string)) != 0)
		width += width_of_point(point);
	return width;
}

size_t
width_line(const char *string, int room)
{
	const char *at = string, *end = NULL; /* of the words that fit */
	int width = 0;

	for (;;) {
		const char *before = at;
		uint32_t point = utf8_next(&at);
		if (point == ' ' || point == 0) {
			if (width > room && end)
				break;
			end = before;
			if (point == 0 || width > room)
				break;
		}
		width += width_of_point(point);
	}
	return (size_t)(end - string);
}
