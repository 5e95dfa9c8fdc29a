/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/registers_decode.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "conf/register.h"
#include "conf/words.h"
#include "daemon/base/text.h"
#include "daemon/fieldbus/decode.h"

/* Common practice, no source. */
#define TENTHS_LOW (-50.0)
#define TENTHS_HIGH 1500.0
#define FLOAT_LEAST 0.01
#define FLOAT_MOST 10000.0
#define FLOAT_NONE 1e-6  /* nearer to 0, though not 0: no float that anybody meant */
#define FLOAT_SHORT 1e-3 /* is written with an exponent below ... */
#define FLOAT_LONG 1e7   /* ... and from here on */

#define IN_FOUR_ORDERS(form, type, how, encoding, scale, digits)                      \
	[form##_ABCD] = {type "_abcd" how, encoding, WORD_ORDER_ABCD, scale, digits}, \
	[form##_BADC] = {type "_badc" how, encoding, WORD_ORDER_BADC, scale, digits}, \
	[form##_CDAB] = {type "_cdab" how, encoding, WORD_ORDER_CDAB, scale, digits}, \
	[form##_DCBA] = {type "_dcba" how, encoding, WORD_ORDER_DCBA, scale, digits}

const struct registers_form_traits registers_forms[FORM_COUNT] = {
    [FORM_UINT16] = {"uint16", ENCODING_UINT16, WORD_ORDER_ABCD, 1, 0},
    [FORM_INT16] = {"int16", ENCODING_INT16, WORD_ORDER_ABCD, 1, 0},
    [FORM_TENTHS] = {"tenths", ENCODING_INT16, WORD_ORDER_ABCD, 0.1, 1},
    [FORM_HUNDREDTHS] = {"hundredths", ENCODING_INT16, WORD_ORDER_ABCD, 0.01, 2},
    IN_FOUR_ORDERS(FORM_FLOAT, "float32", "", ENCODING_FLOAT32, 1, 0),
    IN_FOUR_ORDERS(FORM_UINT32, "uint32", "", ENCODING_UINT32, 1, 0),
    IN_FOUR_ORDERS(FORM_INT32, "int32", "", ENCODING_INT32, 1, 0),
    IN_FOUR_ORDERS(FORM_UINT32_TENTHS, "uint32", "_tenths", ENCODING_UINT32, 0.1, 1),
    IN_FOUR_ORDERS(FORM_INT32_TENTHS, "int32", "_tenths", ENCODING_INT32, 0.1, 1),
    IN_FOUR_ORDERS(
	FORM_UINT32_HUNDREDTHS, "uint32", "_hundredths", ENCODING_UINT32, 0.01, 2),
    IN_FOUR_ORDERS(
	FORM_INT32_HUNDREDTHS, "int32", "_hundredths", ENCODING_INT32, 0.01, 2),
    IN_FOUR_ORDERS(
	FORM_UINT32_THOUSANDTHS, "uint32", "_thousandths", ENCODING_UINT32, 0.001, 3),
    IN_FOUR_ORDERS(
	FORM_INT32_THOUSANDTHS, "int32", "_thousandths", ENCODING_INT32, 0.001, 3),
};

/* The first digit of a document's number, by table; there is no 2. */
static const char document_digit[] = {
    [TABLE_COIL] = '0',
    [TABLE_DISCRETE] = '1',
    [TABLE_HOLDING] = '4',
    [TABLE_INPUT] = '3',
};

/* --- values --------------------------------------------------------------------------- */

int
registers_form_width(enum registers_form form)
{
	return register_width(registers_forms[form].encoding);
}

double
registers_decode(enum registers_form form, const uint16_t *words)
{
	const struct registers_form_traits *traits = &registers_forms[form];
	const struct channel_settings channel = {
	    .table = TABLE_HOLDING,
	    .encoding = traits->encoding,
	    .order = traits->order,
	    .bit = -1,
	    .scale = traits->scale,
	    .unit = UNIT_ONE,
	    .dimension = DIMENSION_NONE,
	    .min_si = -INFINITY,
	    .max_si = INFINITY,
	};

	double power = pow(10, traits->digits);
	double value = decode_reading(&channel, words).value;

	return traits->digits > 0 ? round(value * power) / power : value;
}

static bool
is_float(enum registers_form form)
{
	return registers_forms[form].encoding == ENCODING_FLOAT32;
}

void
registers_form_text(
    enum registers_form form, const uint16_t *words, char text[static REGISTERS_TEXT])
{
	double value = registers_decode(form, words), size = fabs(value);

	if (isnan(value))
		snprintf(text, REGISTERS_TEXT, "nan");
	else if (!is_float(form))
		snprintf(
		    text, REGISTERS_TEXT, "%.*f", registers_forms[form].digits, value);
	else if (size > 0 && (size < FLOAT_SHORT || size >= FLOAT_LONG))
		snprintf(text, REGISTERS_TEXT, "%.0e", value);
	else
		snprintf(text, REGISTERS_TEXT, "%.7g", value);
}

void
registers_bits_text(uint16_t word, char text[static REGISTERS_TEXT])
{
	size_t at = 0;

	for (int bit = 15; bit >= 0; bit--) {
		text[at++] = word >> bit & 1 ? '1' : '0';
		if (bit % 4 == 0 && bit > 0)
			text[at++] = ' ';
	}
	text[at] = '\0';
}

const char *
registers_oddity(uint16_t word)
{
	switch (word) {
	case 0x7FFF:
		return "32767; often 'no value'";
	case 0x8000:
		return "-32768; often 'no value'";
	case 0xFFFF:
		return "-1 or 65535; often 'no value'";
	case 9999:
		return "9999; often 'no value'";
	case (uint16_t)-9999:
		return "-9999; often 'no value'";
	default:
		return "";
	}
}

bool
registers_is_worth_showing(const uint16_t *words, enum registers_form first)
{
	for (int i = 0; i < 4; i++) {
		enum registers_form form = (enum registers_form)((int)first + i);
		double size = fabs(registers_decode(form, words));
		if (size >= FLOAT_SHORT && size < FLOAT_LONG)
			return true;
	}
	return false;
}

/* --- what is likely ------------------------------------------------------------------- */

bool
registers_expect_parse(const char *text, struct registers_expect *expect)
{
	const char *dots = strstr(text, "..");
	char low[REGISTERS_TEXT];
	double from, to;

	if (!dots || (size_t)(dots - text) >= sizeof low)
		return false;
	snprintf(low, sizeof low, "%.*s", (int)(dots - text), text);
	if (!text_number(low, &from) || !text_number(dots + 2, &to) || from > to)
		return false;
	*expect = (struct registers_expect){.given = true, .low = from, .high = to};
	return true;
}

/* An unsigned value that has the same sign as a signed one is the same. */
static bool
is_told_as_signed(enum registers_form form, double value)
{
	double raw = value / registers_forms[form].scale;

	switch (registers_forms[form].encoding) {
	case ENCODING_UINT16:
		return raw < INT16_MAX + 0.5;
	case ENCODING_UINT32:
		return raw < INT32_MAX + 0.5;
	case ENCODING_BIT:
	case ENCODING_INT16:
	case ENCODING_INT32:
	case ENCODING_FLOAT32:
		return false;
	}
	return false;
}

/* Tenths that are no sentinel; 0 among them. */
static bool
is_like_tenths(uint16_t word)
{
	double value = registers_decode(FORM_TENTHS, &word);

	return value >= TENTHS_LOW && value <= TENTHS_HIGH &&
	       *registers_oddity(word) == '\0';
}

bool
registers_is_likely(const struct registers_expect *expect, enum registers_form form,
    const uint16_t *words)
{
	bool pair = registers_form_width(form) == 2;
	double value = registers_decode(form, words), size = fabs(value);

	if (isnan(value) || (words[0] == 0 && (!pair || words[1] == 0)))
		return false;
	if (is_float(form) && size < FLOAT_NONE)
		return false;
	if (expect->given)
		return value >= expect->low && value <= expect->high &&
		       !is_told_as_signed(form, value);
	if (is_float(form))
		return size >= FLOAT_LEAST && size <= FLOAT_MOST &&
		       !(is_like_tenths(words[0]) && is_like_tenths(words[1]));
	return form == FORM_TENTHS && is_like_tenths(words[0]);
}

void
registers_rule_text(
    const struct registers_expect *expect, char text[static REGISTERS_RULE])
{
	if (expect->given)
		snprintf(text, REGISTERS_RULE,
		    "* lies in the %.10g..%.10g expected; what is 0 never is marked",
		    expect->low, expect->high);
	else
		snprintf(text, REGISTERS_RULE,
		    "* is likely, by a rule of thumb: tenths from %.0f to %.0f, floats "
		    "from %g to %g either sign unless both registers would do as "
		    "tenths, 0 never. Say what the display shows, such as --expect "
		    "20..230, for a sharper one",
		    TENTHS_LOW, TENTHS_HIGH, FLOAT_LEAST, FLOAT_MOST);
}

/* --- addresses ------------------------------------------------------------------------ */

void
registers_document(
    enum register_table table, uint32_t address, char text[static REGISTERS_DOCUMENT])
{
	int digits = address < 9999 ? 4 : 5;

	snprintf(text, REGISTERS_DOCUMENT, "%c%0*u", document_digit[table], digits,
	    (unsigned)address + 1);
}

bool
registers_document_parse(
    const char *text, enum register_table *table, uint16_t *address)
{
	size_t length = strlen(text);
	int64_t number;

	if ((length != 5 && length != 6) || strspn(text, "0123456789") != length ||
	    !text_integer(text + 1, &number) || number < 1 || number > 65536)
		return false;
	for (int i = TABLE_COIL; i <= TABLE_INPUT; i++)
		if (document_digit[i] == text[0]) {
			*table = (enum register_table)i;
			*address = (uint16_t)(number - 1);
			return true;
		}
	return false;
}

void
registers_channel_lines(struct text *text, enum register_table table, uint16_t address,
    enum registers_form form)
{
	const struct registers_form_traits *traits = &registers_forms[form];

	text_printf(text, "table = %s\naddress = %u\ntype = %s\n",
	    words_table.list[table], (unsigned)address,
	    words_encoding.list[traits->encoding]);
	if (registers_form_width(form) == 2)
		text_printf(text, "word_order = %s\n", words_order.list[traits->order]);
	if (traits->digits > 0)
		text_printf(text, "scale = %.*f\n", traits->digits, traits->scale);
}
