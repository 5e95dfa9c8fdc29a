/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/registers_decode.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>
#include <cmocka.h>

#include "daemon/base/text.h"
#include "tests/unit/near.h"

static const struct registers_expect nobody_said = {.given = false};

/* IEEE 754-2008, binary32: 123.456 is 42F6 E979, 123456.0 is 47F1 2000. */
static void
a_float_stands_in_one_of_four_orders(void **state)
{
	static const struct {
		uint16_t words[4][2]; /* by the order that reads them */
		double value;
	} rows[] = {
	    {{{0x42F6, 0xE979}, {0xF642, 0x79E9}, {0xE979, 0x42F6}, {0x79E9, 0xF642}},
		123.456f},
	    {{{0x47F1, 0x2000}, {0xF147, 0x0020}, {0x2000, 0x47F1}, {0x0020, 0xF147}},
		123456.0},
	};

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
		for (int order = 0; order < 4; order++)
			for (int read = 0; read < 4; read++) {
				enum registers_form form =
				    (enum registers_form)(FORM_FLOAT_ABCD + read);
				double value =
				    registers_decode(form, rows[i].words[order]);
				if (read == order)
					assert_near(value, rows[i].value, 0);
				else
					assert_true(value != rows[i].value);
			}
}

static void
whole_numbers_of_32_bits_stand_in_four_orders(void **state)
{
	static const uint16_t words[] = {0xFEDC, 0xBA98};

	(void)state;
	assert_near(registers_decode(FORM_UINT32_ABCD, words), 0xFEDCBA98, 0);
	assert_near(registers_decode(FORM_UINT32_BADC, words), 0xDCFE98BA, 0);
	assert_near(registers_decode(FORM_UINT32_CDAB, words), 0xBA98FEDC, 0);
	assert_near(registers_decode(FORM_UINT32_DCBA, words), 0x98BADCFE, 0);
	for (int i = 0; i < 4; i++)
		assert_near(
		    registers_decode((enum registers_form)(FORM_INT32_ABCD + i), words),
		    registers_decode(
			(enum registers_form)(FORM_UINT32_ABCD + i), words) -
			4294967296.0,
		    0);
}

static void
one_register_is_unsigned_signed_and_scaled(void **state)
{
	const uint16_t word = (uint16_t)-125;

	(void)state;
	assert_near(registers_decode(FORM_UINT16, &word), 65411, 0);
	assert_near(registers_decode(FORM_INT16, &word), -125, 0);
	assert_near(registers_decode(FORM_TENTHS, &word), -12.5, 1e-12);
	assert_near(registers_decode(FORM_HUNDREDTHS, &word), -1.25, 1e-12);
}

static void
values_are_written_for_people(void **state)
{
	static const struct {
		enum registers_form form;
		uint16_t words[2];
		const char *text;
	} rows[] = {
	    {FORM_FLOAT_ABCD, {0x42F6, 0xE979}, "123.456"},
	    {FORM_FLOAT_CDAB, {0x42F6, 0xE979}, "-2e+25"},
	    {FORM_FLOAT_ABCD, {0x7FC0, 0}, "nan"},
	    {FORM_FLOAT_ABCD, {0x7F80, 0}, "nan"}, /* infinite */
	    {FORM_FLOAT_ABCD, {0, 0}, "0"},
	    {FORM_TENTHS, {(uint16_t)-5, 0}, "-0.5"},
	    {FORM_HUNDREDTHS, {1234, 0}, "12.34"},
	    {FORM_INT32_ABCD, {0xFFFF, 0xFFFE}, "-2"},
	    {FORM_UINT32_ABCD, {0xFFFF, 0xFFFE}, "4294967294"},
	};
	char text[REGISTERS_TEXT];

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		registers_form_text(rows[i].form, rows[i].words, text);
		assert_string_equal(text, rows[i].text);
	}
	registers_bits_text(0x80C5, text);
	assert_string_equal(text, "1000 0000 1100 0101");
}

static void
what_nobody_described_is_likely_by_rule_of_thumb(void **state)
{
	static const struct {
		enum registers_form form;
		uint16_t words[2];
		bool likely;
	} rows[] = {
	    {FORM_TENTHS, {1853, 0}, true},
	    {FORM_TENTHS, {(uint16_t)-500, 0}, true},
	    {FORM_TENTHS, {(uint16_t)-501, 0}, false},
	    {FORM_TENTHS, {15000, 0}, true},
	    {FORM_TENTHS, {15001, 0}, false},
	    {FORM_TENTHS, {0, 7}, false},
	    {FORM_TENTHS, {0xFFFF, 0}, false}, /* a sentinel */
	    {FORM_TENTHS, {0x7FFF, 0}, false},
	    {FORM_INT16, {1853, 0}, false},
	    {FORM_FLOAT_ABCD, {0x42F6, 0xE979}, true},
	    {FORM_FLOAT_BADC, {0x42F6, 0xE979}, false},
	    {FORM_FLOAT_CDAB, {0xE979, 0x42F6}, true},
	    {FORM_FLOAT_ABCD, {0x47F1, 0x2000}, false}, /* 123456 */
	    {FORM_FLOAT_ABCD, {0, 0}, false},
	    {FORM_UINT32_ABCD, {0, 1000}, false},
	    {FORM_FLOAT_BADC, {1855, 1861}, false}, /* 0.528: two tenths rather */
	    {FORM_FLOAT_ABCD, {0x42F6, 0}, true},
	};

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
		assert_int_equal(
		    registers_is_likely(&nobody_said, rows[i].form, rows[i].words),
		    rows[i].likely);
}

static void
what_the_display_shows_decides_where_it_is_told(void **state)
{
	static const struct {
		enum registers_form form;
		uint16_t words[2];
		bool likely;
	} rows[] = {
	    {FORM_TENTHS, {1853, 0}, true},      /* 185.3 */
	    {FORM_HUNDREDTHS, {1853, 0}, false}, /* 18.53 */
	    {FORM_INT16, {185, 0}, true},
	    {FORM_UINT16, {185, 0}, false}, /* the same: signed */
	    {FORM_TENTHS, {2301, 0}, false},
	    {FORM_TENTHS, {2300, 0}, true},
	    {FORM_FLOAT_ABCD, {0x42F6, 0xE979}, true},
	    {FORM_FLOAT_ABCD, {0x47F1, 0x2000}, false},
	    {FORM_INT32_ABCD, {0, 185}, true},
	    {FORM_UINT32_ABCD, {0, 185}, false},
	};
	struct registers_expect expect;

	(void)state;
	assert_true(registers_expect_parse("20..230", &expect));
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
		assert_int_equal(
		    registers_is_likely(&expect, rows[i].form, rows[i].words),
		    rows[i].likely);
	/* tiny floats around 0 are other registers read as such */
	const uint16_t small[] = {0x0001, 0x0002};
	assert_true(registers_expect_parse("-10..10", &expect));
	assert_false(registers_is_likely(&expect, FORM_FLOAT_ABCD, small));
	/* past what a sign lets stand */
	const uint16_t large = 40000;
	assert_true(registers_expect_parse("39999..40001", &expect));
	assert_true(registers_is_likely(&expect, FORM_UINT16, &large));
	assert_false(registers_is_likely(&expect, FORM_INT16, &large));
}

/* 12349.50 kWh on a meter that counts in hundredths: 1234950 is 0012 D806 hex. */
static void
a_scaled_whole_number_is_found_where_it_is_expected(void **state)
{
	static const uint16_t abcd[] = {0x0012, 0xD806}, cdab[] = {0xD806, 0x0012};
	/* 42949672.95, past what a sign lets stand */
	static const uint16_t large[] = {0xFFFF, 0xFFFF};
	struct registers_expect expect;
	char text[REGISTERS_TEXT];

	(void)state;
	assert_true(registers_expect_parse("12340..12360", &expect));
	for (int i = 0; i < FORM_COUNT; i++) {
		enum registers_form form = (enum registers_form)i;
		assert_int_equal(registers_is_likely(&expect, form, abcd),
		    form == FORM_INT32_HUNDREDTHS_ABCD);
		assert_int_equal(registers_is_likely(&expect, form, cdab),
		    form == FORM_INT32_HUNDREDTHS_CDAB);
		if (i >= FORM_PLAIN_COUNT)
			assert_false(registers_is_likely(&nobody_said, form, abcd));
	}
	registers_form_text(FORM_INT32_HUNDREDTHS_ABCD, abcd, text);
	assert_string_equal(text, "12349.50");
	assert_near(registers_decode(FORM_UINT32_TENTHS_ABCD, abcd), 123495.0, 1e-6);
	assert_near(registers_decode(FORM_INT32_THOUSANDTHS_CDAB, cdab), 1234.95, 1e-6);
	assert_string_equal(registers_forms[FORM_UINT32_THOUSANDTHS_DCBA].key,
	    "uint32_dcba_thousandths");
	assert_true(registers_expect_parse("42949672..42949673", &expect));
	assert_true(registers_is_likely(&expect, FORM_UINT32_HUNDREDTHS_ABCD, large));
}

static void
what_is_expected_is_two_numbers(void **state)
{
	static const char *const wrong[] = {
	    "", "20", "20-230", "20..", "..230", "230..20", "a..b", "1..2..3"};
	struct registers_expect expect;

	(void)state;
	for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++)
		assert_false(registers_expect_parse(wrong[i], &expect));
	assert_true(registers_expect_parse("-1.5..2.5", &expect));
	assert_true(expect.given);
	assert_near(expect.low, -1.5, 0);
	assert_near(expect.high, 2.5, 0);
	assert_true(registers_expect_parse("7..7", &expect));
}

/* Modbus Application Protocol V1.1b3, 4.4: register 1 is addressed as 0; the leading digit
 * of the table is common practice, no source. */
static void
a_document_counts_from_one_after_the_digit_of_its_table(void **state)
{
	static const struct {
		const char *text;
		enum register_table table;
		uint16_t address;
	} rows[] = {
	    {"40001", TABLE_HOLDING, 0},
	    {"40101", TABLE_HOLDING, 100},
	    {"49999", TABLE_HOLDING, 9998},
	    {"410000", TABLE_HOLDING, 9999},
	    {"465536", TABLE_HOLDING, 65535},
	    {"30021", TABLE_INPUT, 20},
	    {"10001", TABLE_DISCRETE, 0},
	    {"00017", TABLE_COIL, 16},
	};
	static const char *const wrong[] = {"", "101", "4001", "20001", "40000",
	    "465537", "4000001", "4 001", "-40001", "50001", "x0001"};
	enum register_table table;
	uint16_t address;

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		char text[REGISTERS_DOCUMENT];
		assert_true(registers_document_parse(rows[i].text, &table, &address));
		assert_int_equal(table, rows[i].table);
		assert_int_equal(address, rows[i].address);
		registers_document(table, address, text);
		assert_string_equal(text, rows[i].text);
	}
	assert_true(registers_document_parse("400101", &table, &address));
	assert_int_equal(address, 100);
	for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++)
		assert_false(registers_document_parse(wrong[i], &table, &address));
}

static void
a_channel_has_the_lines_that_read_it(void **state)
{
	struct text text;

	(void)state;
	text_init(&text, 1024);
	registers_channel_lines(&text, TABLE_HOLDING, 100, FORM_TENTHS);
	assert_string_equal(
	    text.bytes, "table = holding\naddress = 100\ntype = int16\nscale = 0.1\n");
	text_clear(&text);
	registers_channel_lines(&text, TABLE_INPUT, 7, FORM_FLOAT_CDAB);
	assert_string_equal(text.bytes,
	    "table = input\naddress = 7\ntype = float32\nword_order = cdab\n");
	text_release(&text);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_float_stands_in_one_of_four_orders),
	    cmocka_unit_test(whole_numbers_of_32_bits_stand_in_four_orders),
	    cmocka_unit_test(one_register_is_unsigned_signed_and_scaled),
	    cmocka_unit_test(values_are_written_for_people),
	    cmocka_unit_test(what_nobody_described_is_likely_by_rule_of_thumb),
	    cmocka_unit_test(what_the_display_shows_decides_where_it_is_told),
	    cmocka_unit_test(a_scaled_whole_number_is_found_where_it_is_expected),
	    cmocka_unit_test(what_is_expected_is_two_numbers),
	    cmocka_unit_test(a_document_counts_from_one_after_the_digit_of_its_table),
	    cmocka_unit_test(a_channel_has_the_lines_that_read_it),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
