/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Everything that one register, or it and the next one, could mean; and which of it is
 * what somebody expects.  Values are decoded as the daemon decodes them.
 * Pure; any thread.
 */
#ifndef CLI_COMMAND_REGISTERS_DECODE_H
#define CLI_COMMAND_REGISTERS_DECODE_H

#include "conf/settings.h"

#include <stdbool.h>
#include <stdint.h>

struct text;

enum registers_form {
	FORM_UINT16,
	FORM_INT16,
	FORM_TENTHS,     /* of int16, as are hundredths */
	FORM_HUNDREDTHS, /* the last of one register */
	FORM_FLOAT_ABCD,
	FORM_FLOAT_BADC,
	FORM_FLOAT_CDAB,
	FORM_FLOAT_DCBA,
	FORM_UINT32_ABCD,
	FORM_UINT32_BADC,
	FORM_UINT32_CDAB,
	FORM_UINT32_DCBA,
	FORM_INT32_ABCD,
	FORM_INT32_BADC,
	FORM_INT32_CDAB,
	FORM_INT32_DCBA,
	FORM_PLAIN_COUNT,
	/* 32 bits scaled: only where somebody has said what to expect */
	FORM_UINT32_TENTHS_ABCD = FORM_PLAIN_COUNT,
	FORM_UINT32_TENTHS_BADC,
	FORM_UINT32_TENTHS_CDAB,
	FORM_UINT32_TENTHS_DCBA,
	FORM_INT32_TENTHS_ABCD,
	FORM_INT32_TENTHS_BADC,
	FORM_INT32_TENTHS_CDAB,
	FORM_INT32_TENTHS_DCBA,
	FORM_UINT32_HUNDREDTHS_ABCD,
	FORM_UINT32_HUNDREDTHS_BADC,
	FORM_UINT32_HUNDREDTHS_CDAB,
	FORM_UINT32_HUNDREDTHS_DCBA,
	FORM_INT32_HUNDREDTHS_ABCD,
	FORM_INT32_HUNDREDTHS_BADC,
	FORM_INT32_HUNDREDTHS_CDAB,
	FORM_INT32_HUNDREDTHS_DCBA,
	FORM_UINT32_THOUSANDTHS_ABCD,
	FORM_UINT32_THOUSANDTHS_BADC,
	FORM_UINT32_THOUSANDTHS_CDAB,
	FORM_UINT32_THOUSANDTHS_DCBA,
	FORM_INT32_THOUSANDTHS_ABCD,
	FORM_INT32_THOUSANDTHS_BADC,
	FORM_INT32_THOUSANDTHS_CDAB,
	FORM_INT32_THOUSANDTHS_DCBA,
	FORM_COUNT
};

struct registers_form_traits {
	const char *key; /* for machines: "float32_cdab" */
	enum encoding encoding;
	enum word_order order; /* of 32 bits */
	double scale;
	int digits; /* after the point */
};

extern const struct registers_form_traits registers_forms[FORM_COUNT];

/* 1, or 2 registers. */
int registers_form_width(enum registers_form form);

/* Of `words` as they come on the wire; NAN: a float that is no finite number. */
double registers_decode(enum registers_form form, const uint16_t *words);

/* For people: seven digits of a float; "nan" where it is no finite number. */
enum { REGISTERS_TEXT = 32 };
void registers_form_text(
    enum registers_form form, const uint16_t *words, char text[static REGISTERS_TEXT]);

/* Whether any of the four orders of a form (`first` is its abcd) gives a number from 0.001
 * to 10 million, either sign: others are hardly what two registers mean. */
bool registers_is_worth_showing(const uint16_t *words, enum registers_form first);

/* "0000 0000 1100 1000", bit 15 first. */
void registers_bits_text(uint16_t word, char text[static REGISTERS_TEXT]);

/* What a register often is when a sensor has no value ("32767; often 'no value'"); "" for
 * others.  Common practice, no source. */
const char *registers_oddity(uint16_t word);

/* What a display would show; `given` false: nobody has said. */
struct registers_expect {
	bool given;
	double low, high;
};

/* Reads "20..230"; false when it is none. */
bool registers_expect_parse(const char *text, struct registers_expect *expect);

/*
 * Whether this is likely what the registers mean.  Where somebody has said what to expect:
 * a value within it, of a scaled form too.  Else tenths from -50.0 to 1500.0 and floats of magnitude 0.01 to
 * 10000 unless both registers would do as tenths (common practice, no source).  Registers that are 0 fit everything: never.  An
 * unsigned value that is the same as the signed one: the signed one alone.
 */
bool registers_is_likely(const struct registers_expect *expect,
    enum registers_form form, const uint16_t *words);

/* That rule as a sentence. */
enum { REGISTERS_RULE = 320 };
void registers_rule_text(
    const struct registers_expect *expect, char text[static REGISTERS_RULE]);

/* The number that a document may give it: "40101" of holding 100, with six digits past
 * the 9999th; coils "00101", discrete inputs "10101", input registers "30101". */
enum { REGISTERS_DOCUMENT = 12 };
void registers_document(
    enum register_table table, uint32_t address, char text[static REGISTERS_DOCUMENT]);

/* Reads such a number of five or six digits; false when it is none. */
bool registers_document_parse(
    const char *text, enum register_table *table, uint16_t *address);

/* The lines of a channel that is read so: "table = holding\naddress = 100\n...". */
void registers_channel_lines(struct text *text, enum register_table table,
    uint16_t address, enum registers_form form);

#endif
