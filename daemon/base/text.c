/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/base/text.h"

#include <assert.h>
#include <errno.h>
#include <locale.h>
#include <math.h>
#include <pthread.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

static const char blanks[] = " \t";

static locale_t c_locale;

static void
make_c_locale(void)
{
	c_locale = newlocale(LC_ALL_MASK, "C", (locale_t)0);
	assert(c_locale != (locale_t)0); /* the one locale that is always there */
}

/* The calling thread's numbers are the C locale's until uselocale(the result). */
static locale_t
enter_c_locale(void)
{
	static pthread_once_t once = PTHREAD_ONCE_INIT;

	pthread_once(&once, make_c_locale);
	return uselocale(c_locale);
}

void
text_init(struct text *text, size_t maximum)
{
	*text = (struct text){.maximum = maximum};
}

void
text_release(struct text *text)
{
	free(text->bytes);
	text_init(text, text->maximum);
}

void
text_clear(struct text *text)
{
	text->length = 0;
	text->failed = false;
	if (text->bytes)
		text->bytes[0] = '\0';
}

/* Makes room for `length` more bytes and the NUL; false, and failed, otherwise. */
static bool
make_room(struct text *text, size_t length)
{
	size_t needed = text->length + length + 1;
	size_t room = text->room ? text->room : 64;
	char *bytes;

	if (text->failed || needed <= length || needed > text->maximum) {
		text->failed = true;
		return false;
	}
	if (needed <= text->room)
		return true;
	while (room < needed)
		room *= 2;
	if (room > text->maximum)
		room = text->maximum;
	bytes = realloc(text->bytes, room);
	if (!bytes) {
		text->failed = true;
		return false;
	}
	text->bytes = bytes;
	text->room = room;
	return true;
}

void
text_add(struct text *text, const char *bytes, size_t length)
{
	if (!make_room(text, length))
		return;
	if (length)
		memcpy(text->bytes + text->length, bytes, length);
	text->length += length;
	text->bytes[text->length] = '\0';
}

void
text_puts(struct text *text, const char *string)
{
	text_add(text, string, strlen(string));
}

static void __attribute__((format(printf, 2, 0)))
add_formatted(struct text *text, const char *format, va_list arguments)
{
	size_t left = text->room - text->length;
	va_list again;
	int length;

	va_copy(again, arguments);
	length = vsnprintf(
	    text->bytes ? text->bytes + text->length : NULL, left, format, arguments);
	if (length < 0)
		text->failed = true;
	else if (make_room(text, (size_t)length)) {
		if ((size_t)length >= left)
			vsnprintf(text->bytes + text->length, (size_t)length + 1,
			    format, again);
		text->length += (size_t)length;
	}
	if (text->failed && text->bytes)
		text->bytes[text->length] = '\0';
	va_end(again);
}

void
text_printf(struct text *text, const char *format, ...)
{
	locale_t before = enter_c_locale();
	va_list arguments;

	va_start(arguments, format);
	add_formatted(text, format, arguments);
	va_end(arguments);
	uselocale(before);
}

bool
text_copy(char *to, size_t room, const char *from)
{
	size_t length = strnlen(from, room);

	assert(room > 0);
	if (length < room) {
		memcpy(to, from, length + 1);
		return true;
	}
	memcpy(to, from, room - 1);
	to[room - 1] = '\0';
	return false;
}

/* The one word of `string` without the blanks around it, made of `letters` only. */
static const char *
only_word(const char *string, const char *letters, size_t *length)
{
	const char *word = string + strspn(string, blanks);

	*length = strspn(word, letters);
	return word[*length + strspn(word + *length, blanks)] == '\0' ? word : NULL;
}

bool
text_number(const char *string, double *value)
{
	size_t length;
	const char *word = only_word(string, "+-.0123456789eE", &length);
	locale_t before;
	double number;
	char *end;

	if (!word || length == 0)
		return false;
	before = enter_c_locale();
	number = strtod(word, &end);
	uselocale(before);
	if (end != word + length || !isfinite(number))
		return false;
	*value = number;
	return true;
}

bool
text_integer(const char *string, int64_t *value)
{
	size_t length;
	const char *word = only_word(string, "+-0123456789", &length);
	long long number;
	char *end;

	if (!word || length == 0)
		return false;
	errno = 0;
	number = strtoll(word, &end, 10);
	if (end != word + length || errno)
		return false;
	*value = number;
	return true;
}

/*
 * `magnitude`, below 1e15, as digits / 10^places with 15 digits and 9 places at most; false
 * when it has more.  Digits and power are exact, so their quotient is the double that such
 * a text is read as; and no two texts of 15 digits are read as one double.
 */
static bool
find_decimal(double magnitude, uint64_t *digits, int *places)
{
	double bound = 1e6, power = 1e9;

	for (*places = 9; magnitude >= bound; --*places) {
		bound *= 10;
		power /= 10;
	}
	*digits = (uint64_t)(magnitude * power + 0.5);
	double back = (double)*digits / power;
	if (back < magnitude || back > magnitude)
		return false;
	for (; *places > 0 && *digits % 10 == 0; --*places)
		*digits /= 10;
	return true;
}

/* As printf's %g: with an exponent below 1e-4. */
static size_t
write_decimal(bool negative, uint64_t digits, int places, char *to, size_t room)
{
	char buffer[32], *at = buffer + sizeof(buffer) - 1;
	int length = 1;

	for (uint64_t left = digits; left >= 10; left /= 10)
		length++;
	*at = '\0';
	if (places - length >= 4 && digits > 0) {
		*--at = (char)('0' + places - length + 1);
		at -= 3;
		memcpy(at, "e-0", 3);
		places = length - 1;
	}
	for (int i = 0; digits > 0 || i <= places; i++, digits /= 10) {
		if (i == places && places > 0)
			*--at = '.';
		*--at = (char)('0' + digits % 10);
	}
	if (negative)
		*--at = '-';
	size_t bytes = (size_t)(buffer + sizeof(buffer) - 1 - at);
	if (bytes >= room)
		bytes = room - 1;
	memcpy(to, at, bytes);
	to[bytes] = '\0';
	return bytes;
}

/* 15 digits always survive, 17 always suffice. */
static size_t
print_number(double value, char *to, size_t room)
{
	locale_t before = enter_c_locale();

	for (int digits = 15; digits <= 17; digits++) {
		double back;

		snprintf(to, room, "%.*g", digits, value);
		back = strtod(to, NULL);
		if (!(back < value || back > value))
			break;
	}
	uselocale(before);
	return strlen(to);
}

size_t
text_from_number(double value, char *to, size_t room)
{
	double magnitude = fabs(value);
	uint64_t digits;
	int places;

	if (magnitude < 1e15 && find_decimal(magnitude, &digits, &places))
		return write_decimal(signbit(value) != 0, digits, places, to, room);
	return print_number(value, to, room);
}

void
text_from_duration(int64_t ns, char to[static TEXT_DURATION])
{
	int64_t s = ns / 1000000000;

	if (s >= 3600)
		snprintf(to, TEXT_DURATION, "%lld h %lld min", (long long)s / 3600,
		    (long long)s / 60 % 60);
	else if (s >= 60)
		snprintf(to, TEXT_DURATION, "%lld min %lld s", (long long)s / 60,
		    (long long)s % 60);
	else
		snprintf(to, TEXT_DURATION, "%.1f s", 1e-9 * (double)ns);
}

enum { LETTERS = 64, NEAR = 2 };

/* Levenshtein's distance, row by row; both at most LETTERS long. */
static size_t
distance(const char *a, size_t a_length, const char *b, size_t b_length)
{
	size_t row[LETTERS + 1];

	for (size_t j = 0; j <= b_length; j++)
		row[j] = j;
	for (size_t i = 1; i <= a_length; i++) {
		size_t diagonal = row[0];

		row[0] = i;
		for (size_t j = 1; j <= b_length; j++) {
			size_t best = diagonal + (a[i - 1] != b[j - 1]);

			diagonal = row[j];
			if (row[j] + 1 < best)
				best = row[j] + 1;
			if (row[j - 1] + 1 < best)
				best = row[j - 1] + 1;
			row[j] = best;
		}
	}
	return row[b_length];
}

const char *
text_nearest(const char *wrong, const char *const *names, size_t count)
{
	size_t length = strlen(wrong);
	size_t nearest = length <= NEAR ? length : NEAR + 1;
	const char *found = NULL;

	if (length > LETTERS)
		return NULL;
	for (size_t i = 0; i < count; i++)
		if (*wrong && strcasecmp(names[i], wrong) == 0)
			return names[i];
	for (size_t i = 0; i < count; i++) {
		size_t name_length = strlen(names[i]), far;

		if (length >= 3 && strncmp(names[i], wrong, length) == 0)
			return names[i];
		if (name_length > LETTERS)
			continue;
		far = distance(wrong, length, names[i], name_length);
		if (far < nearest) {
			nearest = far;
			found = names[i];
		}
	}
	return found;
}

uint64_t
text_hash(const char *bytes, size_t length)
{
	uint64_t hash = UINT64_C(0xcbf29ce484222325);

	for (size_t i = 0; i < length; i++) {
		hash ^= (unsigned char)bytes[i];
		hash *= UINT64_C(0x100000001b3);
	}
	return hash;
}
