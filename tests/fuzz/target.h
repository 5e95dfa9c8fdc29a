/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the fuzz targets share: one file is one program, which clang's libFuzzer calls
 * with bytes that it makes up.  A target holds what our code made of them against what
 * it finds out in a way of its own, and ends the process where the two differ.
 */
#ifndef TESTS_FUZZ_TARGET_H
#define TESTS_FUZZ_TARGET_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* libFuzzer calls this; it returns 0. */
int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length);

#define MUST(condition) \
	((condition) ? (void)0 : target_broken(#condition, __FILE__, __LINE__))

_Noreturn static inline void
target_broken(const char *condition, const char *file, int line)
{
	fprintf(stderr, "%s:%d: does not hold: %s\n", file, line, condition);
	abort();
}

/* Bytes still to be used; 0 for those that are not there. */
struct input {
	const uint8_t *at;
	size_t left;
};

static inline uint8_t
input_u8(struct input *input)
{
	if (input->left == 0)
		return 0;
	input->left--;
	return *input->at++;
}

static inline uint16_t
input_u16(struct input *input)
{
	uint16_t high = input_u8(input);

	return (uint16_t)(high << 8 | input_u8(input));
}

static inline uint32_t
input_u32(struct input *input)
{
	uint32_t high = input_u16(input);

	return high << 16 | input_u16(input);
}

static inline int64_t
input_i64(struct input *input)
{
	uint64_t high = input_u32(input);

	return (int64_t)(high << 32 | input_u32(input));
}

static inline double
input_double(struct input *input)
{
	int64_t bits = input_i64(input);
	double value;

	memcpy(&value, &bits, sizeof(value));
	return value;
}

/* A number of 7 bits a byte, the least first, with its sign in the lowest bit: most that
 * is kept of a state is near 0. */
static inline uint64_t
input_number(struct input *input)
{
	uint64_t number = 0;
	uint8_t byte = 0x80;

	for (unsigned shift = 0; shift < 64 && byte >= 0x80; shift += 7) {
		byte = input_u8(input);
		number |= (uint64_t)(byte & 0x7f) << shift;
	}
	return number >> 1 ^ (number & 1 ? UINT64_MAX : 0);
}

/* So many numbers as 8 bytes each, the least first; how many bytes. */
static inline size_t
input_frozen(struct input *input, size_t count, unsigned char *bytes)
{
	for (size_t i = 0; i < count; i++) {
		uint64_t number = input_number(input);

		for (size_t b = 0; b < 8; b++)
			bytes[8 * i + b] = (unsigned char)(number >> 8 * b);
	}
	return 8 * count;
}

/* A sentence for a person: some words in one line. */
static inline bool
is_sentence(const char *text, size_t room)
{
	size_t length = strnlen(text, room);

	for (size_t i = 0; i < length; i++)
		if ((unsigned char)text[i] < ' ' || text[i] == 0x7f)
			return false;
	return length > 0 && length < room;
}

#endif
