/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/base/utf8.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "tests/unit/published.h"

/* Sequences that RFC 3629 sections 3, 4 and 10 allow and forbid. */
static void
text_is_utf_8_or_it_is_not(void **state)
{
	static const char *const good[] = {"", "a", "\xc3\xa9", "\xe2\x82\xac",
	    "\xed\x9f\xbf", "\xee\x80\x80", "\xf0\x9f\x98\x80", "\xf4\x8f\xbf\xbf"};
	static const char *const bad[] = {"\x80", "\xc3", "\xc3(", "\xc0\x80",
	    "\xc1\xbf", "\xe0\x80\x80", "\xe0\x9f\xbf", "\xed\xa0\x80",
	    "\xf0\x80\x80\x80", "\xf4\x90\x80\x80", "\xf5\x80\x80\x80", "\xff",
	    "a\xe2\x82"};

	struct published_table table =
	    published_begin(SOURCE_RFC_3629, "sequences told valid (1), and not (0)");

	(void)state;
	for (size_t i = 0; i < sizeof good / sizeof good[0]; i++)
		published_add(&table, utf8_is_valid(good[i], strlen(good[i])), 1, 0);
	assert_true(utf8_is_valid("a\0\xc3\xa9", 4));
	for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
		published_add(&table, utf8_is_valid(bad[i], strlen(bad[i])), 0, 0);
	published_end(&table);
}

static void
a_string_is_read_character_by_character(void **state)
{
	/* RFC 3629 section 7, first example; then the ends of each length. */
	static const char string[] = "A\xe2\x89\xa2\xce\x91.\x7f\xc2\x80\xdf\xbf"
				     "\xe0\xa0\x80\xef\xbf\xbf\xf0\x90\x80\x80"
				     "\xf4\x8f\xbf\xbf";
	static const uint32_t points[] = {'A', 0x2262, 0x391, '.', 0x7f, 0x80, 0x7ff,
	    0x800, 0xffff, 0x10000, 0x10ffff, 0, 0};
	const char *at = string;
	struct published_table table = published_begin(
	    SOURCE_RFC_3629, "characters of section 7 and the ends of each length");

	(void)state;
	for (size_t i = 0; i < sizeof points / sizeof points[0]; i++)
		published_add(&table, utf8_next(&at), points[i], 0);
	published_end(&table);
	assert_ptr_equal(at, string + strlen(string));
}

/* Also at the end of a string: what follows its NUL is not looked at. */
static void
a_byte_out_of_place_is_replaced_alone(void **state)
{
	static const char *const strings[] = {
	    "\xff+", "\x80+", "\xe2\x89", "\xed\xa0", "\xc3+", "\xc0\0\x80"};
	static const uint32_t points[][2] = {{0xfffd, '+'}, {0xfffd, '+'},
	    {0xfffd, 0xfffd}, {0xfffd, 0xfffd}, {0xfffd, '+'}, {0xfffd, 0}};

	(void)state;
	for (size_t i = 0; i < sizeof strings / sizeof strings[0]; i++) {
		const char *at = strings[i];

		assert_int_equal(utf8_next(&at), points[i][0]);
		assert_ptr_equal(at, strings[i] + 1);
		assert_int_equal(utf8_next(&at), points[i][1]);
		assert_int_equal(utf8_next(&at), 0);
	}
}

static void
what_no_document_can_hold_is_not_shown(void **state)
{
	/* The Unicode Standard, 23.7: U+FDD0..FDEF and the last two of each plane */
	static const uint32_t shown[] = {' ', '\t', '\n', '\r', 'a', 0xa0, 0xe4, 0xfdcf,
	    0xfdf0, 0xfffc, 0x10000, 0x1f525, 0x10fffd},
			      hidden[] = {0x1, 0x1b, 0x1f, 0x7f, 0x85, 0x9f, 0xfdd0,
				  0xfdef, 0xfffd, 0xfffe, 0xffff, 0x1fffe, 0x10ffff,
				  0x2028, 0x202a, 0x202e, 0x2066, 0x2069};

	(void)state;
	for (size_t i = 0; i < sizeof shown / sizeof shown[0]; i++)
		assert_true(utf8_is_shown(shown[i]));
	for (size_t i = 0; i < sizeof hidden / sizeof hidden[0]; i++)
		assert_false(utf8_is_shown(hidden[i]));
}

/* The Unicode Standard, 23.1: control codes; 23.2: the rest */
static void
what_overrides_or_controls_steers_and_what_writing_needs_does_not(void **state)
{
	static const uint32_t steers[] = {1, '\t', '\n', '\r', 0x1b, 0x1f, 0x7f, 0x80,
	    0x9b, 0x9f, 0x2028, 0x2029, 0x202a, 0x202e, 0x2066, 0x2069},
			      stands[] = {' ', 'a', 0x7e, 0xa0, 0x61c, 0x200e, 0x200f,
				  0x2027, 0x202f, 0x2065, 0x206a, 0xfffd, 0x1f525};

	(void)state;
	for (size_t i = 0; i < sizeof steers / sizeof steers[0]; i++)
		assert_true(utf8_steers(steers[i]));
	for (size_t i = 0; i < sizeof stands / sizeof stands[0]; i++)
		assert_false(utf8_steers(stands[i]));
}

static void
a_string_is_made_plain_in_place(void **state)
{
	static const struct {
		const char *from, *to;
		unsigned char byte; /* of the first that is not plain; 0: none */
	} rows[] = {
	    {"", "", 0},
	    {"lot A-0412", "lot A-0412", 0},
	    {"Größe \xef\xbf\xbd", "Größe \xef\xbf\xbd", 0},
	    {"a\tb\r\nc", "a b  c", '\t'},
	    {"\x1b]0;x\a", "?]0;x?", 0x1b},
	    {"\xc2\x9b"
	     "31m",
		"?31m", 0xc2},
	    {"\xe2\x80\xaetxt", "?txt", 0xe2},
	    {"a\xff\xc3", "a??", 0xff},
	    {"\xed\xa0\x80", "???", 0xed},
	};

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		char string[32];
		unsigned char byte = 0;

		strcpy(string, rows[i].from);
		assert_int_equal(utf8_is_plain(string, &byte), rows[i].byte == 0);
		assert_int_equal(byte, rows[i].byte);
		utf8_make_plain(string);
		assert_string_equal(string, rows[i].to);
		assert_true(utf8_is_plain(string, &byte));
	}
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(text_is_utf_8_or_it_is_not),
	    cmocka_unit_test(a_string_is_read_character_by_character),
	    cmocka_unit_test(a_byte_out_of_place_is_replaced_alone),
	    cmocka_unit_test(what_no_document_can_hold_is_not_shown),
	    cmocka_unit_test(
		what_overrides_or_controls_steers_and_what_writing_needs_does_not),
	    cmocka_unit_test(a_string_is_made_plain_in_place),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
