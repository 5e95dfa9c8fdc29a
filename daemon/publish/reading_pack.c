/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/publish/reading_pack.h"

#include <endian.h>
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

enum {
	FORM = 1,
	HEAD_BYTES = 5,
	NUMBER_BYTES = 9, /* of a channel, behind its names */
	PLAIN_MAX = SETTINGS_CHANNELS * (3 * SETTINGS_NAME + NUMBER_BYTES),
};

static void
add_float(struct text *plain, double value)
{
	float number = (float)value;
	uint32_t bits;

	memcpy(&bits, &number, sizeof(bits));
	bits = htole32(bits);
	text_add(plain, (const char *)&bits, sizeof(bits));
}

static double
take_float(const char *from)
{
	uint32_t bits;
	float number;

	memcpy(&bits, from, sizeof(bits));
	bits = le32toh(bits);
	memcpy(&number, &bits, sizeof(number));
	return (double)number;
}

static void
add_channel(struct text *plain, const struct reading_channel *channel)
{
	double percent = round(100 * fmin(fmax(channel->quality, 0), 1));

	text_add(plain, channel->device, strlen(channel->device) + 1);
	text_add(plain, channel->channel, strlen(channel->channel) + 1);
	text_add(plain, channel->role, strlen(channel->role) + 1);
	add_float(plain, channel->mean);
	add_float(plain, channel->last);
	text_add(plain, &(char){(char)percent}, 1);
}

/* The head and what zlib makes of the rest. */
static int
compress_plain(const struct text *plain, unsigned char **bytes, size_t *byte_count,
    struct error *error)
{
	const char *from = plain->bytes != NULL ? plain->bytes : "";
	uint32_t length = htole32((uint32_t)plain->length);
	uLongf room = compressBound(plain->length);
	unsigned char *to = malloc(HEAD_BYTES + room);

	if (to == NULL)
		return error_set(error, ERROR_MEMORY, "out of memory");
	to[0] = FORM;
	memcpy(to + 1, &length, sizeof(length));
	if (compress2(to + HEAD_BYTES, &room, (const Bytef *)from, plain->length,
		Z_BEST_SPEED) != Z_OK) {
		free(to);
		return error_set(error, ERROR_MEMORY, "zlib: out of memory");
	}
	*bytes = to;
	*byte_count = HEAD_BYTES + room;
	return 0;
}

int
reading_pack(const struct reading_channel *channels, size_t count,
    unsigned char **bytes, size_t *byte_count, struct error *error)
{
	struct text plain;
	int code;

	text_init(&plain, PLAIN_MAX + 1);
	for (size_t i = 0; i < count; i++)
		add_channel(&plain, &channels[i]);
	code =
	    plain.failed
		? error_set(error, ERROR_INVALID,
		      "pack the readings of %zu channels: too many, or out of memory",
		      count)
		: compress_plain(&plain, bytes, byte_count, error);
	text_release(&plain);
	return code;
}

static int
not_readings(struct error *error)
{
	return error_set(error, ERROR_INVALID, "these bytes are no packed readings");
}

/* The text at `*from`, which is moved behind it; NULL when it does not end in time. */
static const char *
take_text(const char **from, const char *end)
{
	const char *text = *from;
	const char *nul = memchr(text, '\0', (size_t)(end - text));

	if (nul == NULL)
		return NULL;
	*from = nul + 1;
	return text;
}

static int
give_channels(const char *from, const char *end,
    int (*take)(void *arg, const struct reading_channel *channel), void *arg,
    struct error *error)
{
	while (from < end) {
		struct reading_channel channel = {.device = take_text(&from, end)};

		if (channel.device != NULL)
			channel.channel = take_text(&from, end);
		if (channel.channel != NULL)
			channel.role = take_text(&from, end);
		if (channel.role == NULL || end - from < NUMBER_BYTES)
			return not_readings(error);
		channel.mean = take_float(from);
		channel.last = take_float(from + 4);
		channel.quality = fmin((unsigned char)from[8], 100) / 100;
		from += NUMBER_BYTES;
		if (take(arg, &channel) != 0)
			return 0;
	}
	return 0;
}

int
reading_unpack(const void *bytes, size_t byte_count,
    int (*take)(void *arg, const struct reading_channel *channel), void *arg,
    struct error *error)
{
	const unsigned char *from = bytes;
	uint32_t length;
	uLongf got;
	char *plain;
	int code;

	if (byte_count < HEAD_BYTES || from[0] != FORM)
		return not_readings(error);
	memcpy(&length, from + 1, sizeof(length));
	got = length = le32toh(length);
	if (length > PLAIN_MAX)
		return not_readings(error);
	plain = malloc(length + 1);
	if (plain == NULL)
		return error_set(error, ERROR_MEMORY, "out of memory");
	code = uncompress(
	    (Bytef *)plain, &got, from + HEAD_BYTES, byte_count - HEAD_BYTES);
	code = code == Z_MEM_ERROR ? error_set(error, ERROR_MEMORY, "out of memory")
	       : code != Z_OK || got != length
	           ? not_readings(error)
	           : give_channels(plain, plain + length, take, arg, error);
	free(plain);
	return code;
}
