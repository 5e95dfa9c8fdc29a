/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Words made up for the targets that show them, and what shown text may hold: UTF-8 as RFC
 * 3629 has it, read in a way of its own, without what steers a terminal.
 */
#ifndef TESTS_FUZZ_WORDS_H
#define TESTS_FUZZ_WORDS_H

#include "tests/fuzz/target.h"

enum { WORDS_MOST = 512 };

/* A string of the next bytes: their number, then they; those that mean something in formats
 * come more often than bytes alone would let them. */
static inline const char *
input_words(struct input *input, char words[static WORDS_MOST])
{
	static const char *const pieces[] = {"</script>", "</style>", "<", ">", "&",
	    "\"", "'", "]]>", "<!--", "\x1b[2J", "\xc2\x9b", "\xe2\x80\xae", "\xff",
	    "\r\n", "=1+", "\xef\xbf\xbe"};
	size_t count = input_u8(input), used = 0;

	while (count-- > 0 && used + 16 < WORDS_MOST) {
		uint8_t byte = input_u8(input);
		const char *piece = byte >= 0x0e && byte < 0x1b
		                        ? pieces[byte - 0x0e]
		                        : (const char[]){(char)byte, '\0'};

		for (; *piece != '\0'; piece++)
			words[used++] = *piece;
	}
	words[used] = '\0';
	return words;
}

/* The code point at `at`, and its bytes; 0: no character begins there. */
static inline size_t
read_character(const unsigned char *at, size_t left, uint32_t *point)
{
	static const struct {
		unsigned char mask, lead;
		uint32_t least;
	} forms[] = {{0x80, 0, 0}, {0xe0, 0xc0, 0x80}, {0xf0, 0xe0, 0x800},
	    {0xf8, 0xf0, 0x10000}};

	for (size_t more = 0; more < 4 && more < left; more++) {
		if ((at[0] & forms[more].mask) != forms[more].lead)
			continue;
		*point = at[0] & (unsigned char)~forms[more].mask;
		for (size_t i = 1; i <= more; i++) {
			if (at[i] < 0x80 || at[i] > 0xbf)
				return 0;
			*point = *point * 64 + at[i] % 64;
		}
		bool surrogate = *point >= 0xd800 && *point < 0xe000;
		bool good = *point >= forms[more].least && *point <= 0x10ffff;
		return good && !surrogate ? more + 1 : 0;
	}
	return 0;
}

/* Whether bytes are text that steers nothing, but for the control characters `allowed`; NULL:
 * whether they are text at all. */
static inline bool
is_text(const char *bytes, size_t length, const char *allowed)
{
	const unsigned char *at = (const unsigned char *)bytes;

	while (length > 0) {
		uint32_t point;
		size_t count = read_character(at, length, &point);
		bool control = point < 0x20 || (point > 0x7e && point < 0xa0);
		bool turns = point == 0x2028 || point == 0x2029 ||
		             (point > 0x2029 && point < 0x202f) ||
		             (point > 0x2065 && point < 0x206a);

		if (count == 0)
			return false;
		if (allowed != NULL && (control || turns) &&
		    (point == 0 || point > 0x7f || strchr(allowed, (int)point) == NULL))
			return false;
		at += count;
		length -= count;
	}
	return true;
}

#endif
