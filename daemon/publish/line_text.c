/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/publish/line_text.h"

#include <math.h>
#include <string.h>

#include "daemon/base/utf8.h"

enum {
	NAME_BYTES = 64,   /* of a field or tag: all are ours, and shorter */
	NUMBER_BYTES = 32, /* of any number */
	PIECE_BYTES = NAME_BYTES + NUMBER_BYTES + 8,
};

/* Bytes of the UTF-8 character at `s`, which is not empty; 0 when it is none, or steers. */
static size_t
character_length(const char *s)
{
	const char *next = s;
	bool steers = utf8_steers(utf8_next(&next));

	return !steers && utf8_is_valid(s, (size_t)(next - s)) ? (size_t)(next - s) : 0;
}

/* Whether a character stands for itself wherever it is. */
static bool
is_plain(unsigned char c)
{
	return c > ' ' && c < 0x7f && c != '\\' && c != '"' && c != ',' && c != '=';
}

/* The bytes at `value` that can stay as they are. */
static size_t
plain_length(const char *value)
{
	size_t length = 0;

	while (is_plain((unsigned char)value[length]))
		length++;
	if (length == 0 && (unsigned char)*value >= 0x80)
		length = character_length(value);
	return length;
}

static const char TAG_ESCAPED[] = ", =";

/* Adds `value` with a backslash before each of the characters `escaped`. */
static void
add_escaped(struct text *text, const char *value, const char *escaped)
{
	while (*value != '\0') {
		size_t length = plain_length(value);
		if (length > 0) {
			text_add(text, value, length);
			value += length;
			continue;
		}
		unsigned char c = (unsigned char)*value++;
		if (c < ' ' || c == 0x7f)
			c = ' ';
		else if (c >= 0x80)
			c = '?';
		if (strchr(escaped, c) != NULL)
			text_add(text, "\\", 1);
		else if (c == '\\')
			c = '/';
		text_add(text, &(char){(char)c}, 1);
	}
}

/* A separator, a name and a short value, which are added at once. */
struct piece {
	char bytes[PIECE_BYTES];
	size_t length;
};

static void
begin(struct piece *piece, char separator, const char *name)
{
	size_t length = strnlen(name, NAME_BYTES);

	piece->bytes[0] = separator;
	memcpy(piece->bytes + 1, name, length);
	piece->bytes[length + 1] = '=';
	piece->length = length + 2;
}

static void
put_integer(struct piece *piece, int64_t value)
{
	char digits[24], *end = digits + sizeof(digits), *at = end;
	uint64_t left = value < 0 ? -(uint64_t)value : (uint64_t)value;

	do
		*--at = (char)('0' + left % 10);
	while ((left /= 10) > 0);
	if (value < 0)
		*--at = '-';
	memcpy(piece->bytes + piece->length, at, (size_t)(end - at));
	piece->length += (size_t)(end - at);
}

static void
put_letter(struct piece *piece, char letter)
{
	piece->bytes[piece->length++] = letter;
}

static void
end(struct text *text, const struct piece *piece)
{
	text_add(text, piece->bytes, piece->length);
}

void
line_text_tag(struct text *text, const char *name, const char *value)
{
	struct piece piece;

	begin(&piece, ',', name);
	end(text, &piece);
	add_escaped(text, *value != '\0' ? value : "unknown", TAG_ESCAPED);
}

void
line_text_channel_tag(struct text *text, const char *device, const char *channel)
{
	line_text_tag(text, "channel", device);
	text_add(text, ".", 1);
	add_escaped(text, channel, TAG_ESCAPED);
}

void
line_text_integer_tag(struct text *text, const char *name, int64_t value)
{
	line_text_whole(text, ',', name, value);
}

bool
line_text_number(struct text *text, char separator, const char *name, double value)
{
	struct piece piece;

	if (!isfinite(value))
		return false;
	begin(&piece, separator, name);
	piece.length +=
	    text_from_number(value, piece.bytes + piece.length, NUMBER_BYTES);
	end(text, &piece);
	return true;
}

/* The number of the fewest digits that is the same 32-bit float. */
static double
shortest(float value)
{
	int magnitude = (int)floor(log10(fabs((double)value)));

	for (int digits = 6; digits < 9; digits++) {
		double power = pow(10, digits - 1 - magnitude);
		double number = round((double)value * power) / power;
		float back = (float)number;
		if (!(back < value || back > value))
			return number;
	}
	return (double)value;
}

bool
line_text_float(struct text *text, char separator, const char *name, double value)
{
	bool plain = isfinite(value) && fpclassify((float)value) == FP_NORMAL;

	return line_text_number(
	    text, separator, name, plain ? shortest((float)value) : value);
}

void
line_text_integer(struct text *text, char separator, const char *name, int64_t value)
{
	struct piece piece;

	begin(&piece, separator, name);
	put_integer(&piece, value);
	put_letter(&piece, 'i');
	end(text, &piece);
}

void
line_text_whole(struct text *text, char separator, const char *name, int64_t value)
{
	struct piece piece;

	begin(&piece, separator, name);
	put_integer(&piece, value);
	end(text, &piece);
}

void
line_text_string(struct text *text, char separator, const char *name, const char *value)
{
	struct piece piece;

	begin(&piece, separator, name);
	put_letter(&piece, '"');
	end(text, &piece);
	add_escaped(text, value, "\"\\");
	text_add(text, "\"", 1);
}

void
line_text_time(struct text *text, int64_t ns)
{
	struct piece piece = {.bytes = " ", .length = 1};

	put_integer(&piece, ns);
	put_letter(&piece, '\n');
	end(text, &piece);
}
