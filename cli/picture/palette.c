/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/picture/palette.h"

#include <math.h>
#include <stddef.h>

const uint32_t palette_line[PALETTE_LINES] = {PALETTE_INK, 0x2f79b5, 0xc4601a};

static double
part(uint32_t rgb, int shift)
{
	return (rgb >> shift) & 0xff;
}

static uint32_t
between(uint32_t from, uint32_t to, double ratio)
{
	uint32_t rgb = 0;

	for (int shift = 16; shift >= 0; shift -= 8) {
		double step = part(to, shift) - part(from, shift);
		rgb |= (uint32_t)lround(part(from, shift) + ratio * step) << shift;
	}
	return rgb;
}

/* Along colours at even distances. */
static uint32_t
along(const uint32_t *stops, size_t count, double ratio)
{
	double at = fmin(fmax(ratio, 0), 1) * (double)(count - 1);
	size_t from = at >= (double)(count - 1) ? count - 2 : (size_t)at;

	return between(stops[from], stops[from + 1], at - (double)from);
}

uint32_t
palette_amount(double ratio)
{
	static const uint32_t stops[] = {
	    0xfaf5ec, 0xe3bf8f, 0xb57a3c, 0x7a4516, 0x47230a};

	return along(stops, sizeof stops / sizeof stops[0], ratio);
}

uint32_t
palette_difference(double ratio)
{
	static const uint32_t stops[] = {
	    0x14507f, 0x7fadd0, 0xf1f2f2, 0xe0a869, 0x8a4a0b};

	return along(stops, sizeof stops / sizeof stops[0], (ratio + 1) / 2);
}

static double
linear(double byte)
{
	double c = byte / 255;

	return c <= 0.03928 ? c / 12.92 : pow((c + 0.055) / 1.055, 2.4);
}

static double
luminance(uint32_t rgb)
{
	return 0.2126 * linear(part(rgb, 16)) + 0.7152 * linear(part(rgb, 8)) +
	       0.0722 * linear(part(rgb, 0));
}

double
palette_contrast(uint32_t one, uint32_t other)
{
	double a = luminance(one), b = luminance(other);

	return (fmax(a, b) + 0.05) / (fmin(a, b) + 0.05);
}

uint32_t
palette_words_on(uint32_t ground)
{
	const uint32_t black = 0x000000, white = 0xffffff;

	return palette_contrast(black, ground) >= palette_contrast(white, ground)
	           ? black
	           : white;
}
