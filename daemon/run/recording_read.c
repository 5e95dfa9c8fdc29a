/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/run/recording.h"

#include <errno.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/error.h"
#include "daemon/base/log.h"

struct recording_reader {
	const char *path; /* lent */
	FILE *file;
	unsigned char *bytes;
	size_t room;
};

static int
no_recording(const struct recording_reader *reader, struct error *error)
{
	return error_set(error, ERROR_INVALID, "'%s' is no recording", reader->path);
}

/* The first line, to the letter. */
static int
read_head(struct recording_reader *reader, struct error *error)
{
	char first[sizeof(RECORDING_HEAD) - 1];

	if (fread(first, 1, sizeof(first), reader->file) != sizeof(first))
		return no_recording(reader, error);
	if (memcmp(first, RECORDING_HEAD, sizeof(first)) == 0)
		return 0;
	/* all but the version's digit and the line's end */
	if (memcmp(first, RECORDING_HEAD, sizeof(first) - 2) == 0)
		return error_set(error, ERROR_TOO_NEW,
		    "'%s' was recorded by a later version", reader->path);
	return no_recording(reader, error);
}

struct recording_reader *
recording_reader_open(const char *path, struct error *error)
{
	struct recording_reader *reader = calloc(1, sizeof(*reader));

	if (reader == NULL) {
		error_set(error, ERROR_MEMORY, "out of memory");
		return NULL;
	}
	reader->path = path;
	reader->file = strcmp(path, "-") == 0 ? stdin : fopen(path, "rbe");
	if (reader->file == NULL)
		error_set(error, ERROR_IO, "cannot read '%s': %s", path,
		    strerrordesc_np(errno));
	if (reader->file == NULL || read_head(reader, error) != 0) {
		recording_reader_close(reader);
		return NULL;
	}
	return reader;
}

void
recording_reader_close(struct recording_reader *reader)
{
	if (reader->file != NULL && reader->file != stdin)
		fclose(reader->file);
	free(reader->bytes);
	free(reader);
}

/* Room for `length` bytes and a NUL. */
static bool
make_room(struct recording_reader *reader, size_t length)
{
	unsigned char *grown;

	if (length < reader->room)
		return true;
	grown = realloc(reader->bytes, length + 1);
	if (grown == NULL)
		return false;
	reader->bytes = grown;
	reader->room = length + 1;
	return true;
}

/* The file ends, or cannot be read, after `got` bytes of a block. */
static int
ended(const struct recording_reader *reader, size_t got, struct error *error)
{
	if (ferror(reader->file))
		return error_set(error, ERROR_IO, "cannot read '%s': %s", reader->path,
		    strerrordesc_np(errno));
	if (got > 0)
		log_warnx("'%s' is cut off within a block: that block is left out",
		    reader->path);
	return 0;
}

int
recording_next(
    struct recording_reader *reader, struct recording_block *block, struct error *error)
{
	unsigned char head[RECORDING_BLOCK_HEAD];
	size_t got = fread(head, 1, sizeof(head), reader->file), length = 0;

	if (got < sizeof(head))
		return ended(reader, got, error);
	for (int i = 1; i < RECORDING_BLOCK_HEAD; i++)
		length |= (size_t)head[i] << 8 * (i - 1);
	if ((head[0] != RECORDING_SETTINGS && head[0] != RECORDING_SCANS) ||
	    length > RECORDING_BLOCK_MAX)
		return error_set(error, ERROR_INVALID,
		    "'%s' is damaged: no block of a "
		    "recording begins where one should",
		    reader->path);
	if (!make_room(reader, length))
		return error_set(error, ERROR_MEMORY, "out of memory");
	got = fread(reader->bytes, 1, length, reader->file);
	if (got < length)
		return ended(reader, sizeof(head), error);
	reader->bytes[length] = '\0';
	*block = (struct recording_block){
	    .kind = head[0], .bytes = reader->bytes, .length = length};
	return 1;
}
