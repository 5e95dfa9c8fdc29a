/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/run/recording.h"

#include <errno.h>
#include <fcntl.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/base/log.h"
#include "daemon/base/scan.h"
#include "daemon/base/text.h"
#include "daemon/shot/gather.h"

struct recording {
	char path[SETTINGS_PATH];
	int fd;                /* -1: it has ended */
	off_t size;            /* up to the last whole block */
	struct gather *gather; /* scans for the next pack */
};

/* --- the file ------------------------------------------------------------------------- */

static bool
write_all(int fd, const void *bytes, size_t length)
{
	const unsigned char *at = bytes;

	while (length > 0) {
		ssize_t wrote = write(fd, at, length);

		if (wrote < 0 && errno == EINTR)
			continue;
		if (wrote <= 0)
			return false;
		at += wrote;
		length -= (size_t)wrote;
	}
	return true;
}

/* Nothing more is written; what is there remains a recording. */
static void
give_up(struct recording *recording)
{
	log_warn("recording to '%s' ends; logging goes on", recording->path);
	if (ftruncate(recording->fd, recording->size) != 0)
		log_debug("'%s' ends within a block", recording->path);
	close(recording->fd);
	recording->fd = -1;
}

static void
put_block(struct recording *recording, int kind, const void *bytes, size_t length)
{
	unsigned char head[RECORDING_BLOCK_HEAD] = {(unsigned char)kind};

	if (recording->fd < 0)
		return;
	for (int i = 1; i < RECORDING_BLOCK_HEAD; i++)
		head[i] = (unsigned char)(length >> 8 * (i - 1));
	if (write_all(recording->fd, head, sizeof(head)) &&
	    write_all(recording->fd, bytes, length))
		recording->size += (off_t)(sizeof(head) + length);
	else
		give_up(recording);
}

/* Whether a power cut may have left the end so: the file had grown, its bytes were not
 * written. */
static bool
is_blank(int fd, off_t from)
{
	unsigned char bytes[4096];
	ssize_t got;

	while ((got = pread(fd, bytes, sizeof(bytes), from)) > 0) {
		for (ssize_t i = 0; i < got; i++)
			if (bytes[i] != 0)
				return false;
		from += got;
	}
	return got == 0;
}

enum { NO_RECORDING = -1, DAMAGED = -2 };

/* Where the last whole block ends, or one of the above. */
static off_t
whole_size(int fd, off_t size)
{
	char first[sizeof(RECORDING_HEAD) - 1];
	unsigned char head[RECORDING_BLOCK_HEAD];
	off_t end = sizeof(first);

	if (pread(fd, first, sizeof(first), 0) != sizeof(first) ||
	    memcmp(first, RECORDING_HEAD, sizeof(first)) != 0)
		return NO_RECORDING;
	while (pread(fd, head, sizeof(head), end) == sizeof(head)) {
		off_t length = 0;

		for (int i = 1; i < RECORDING_BLOCK_HEAD; i++)
			length |= (off_t)head[i] << 8 * (i - 1);
		if ((head[0] != RECORDING_SETTINGS && head[0] != RECORDING_SCANS) ||
		    length > RECORDING_BLOCK_MAX)
			return is_blank(fd, end) ? end : DAMAGED;
		if (length > size - end - RECORDING_BLOCK_HEAD)
			break;
		end += RECORDING_BLOCK_HEAD + length;
	}
	return end;
}

/* Makes an empty file a recording, or finds the end of one. */
static int
find_end(struct recording *recording, struct error *error)
{
	struct stat stat;

	if (fstat(recording->fd, &stat) != 0)
		return error_set(error, ERROR_IO, "cannot record to '%s': %s",
		    recording->path, strerrordesc_np(errno));
	if (stat.st_size == 0) {
		recording->size = sizeof(RECORDING_HEAD) - 1;
		if (write_all(recording->fd, RECORDING_HEAD, (size_t)recording->size))
			return 0;
		return error_set(error, ERROR_IO, "cannot record to '%s': %s",
		    recording->path, strerrordesc_np(errno));
	}
	recording->size = whole_size(recording->fd, stat.st_size);
	if (recording->size < 0)
		return error_set(error, ERROR_INVALID,
		    "cannot record to '%s': the file is there and is %s",
		    recording->path,
		    recording->size == DAMAGED ? "damaged; move it away"
					       : "no recording");
	if (ftruncate(recording->fd, recording->size) != 0 ||
	    lseek(recording->fd, 0, SEEK_END) < 0)
		return error_set(error, ERROR_IO, "cannot record to '%s': %s",
		    recording->path, strerrordesc_np(errno));
	return 0;
}

struct recording *
recording_open(const char *path, struct error *error)
{
	struct recording *recording = calloc(1, sizeof(*recording));

	if (recording != NULL)
		recording->gather = gather_new();
	if (recording == NULL || recording->gather == NULL) {
		free(recording);
		error_set(error, ERROR_MEMORY, "out of memory");
		return NULL;
	}
	text_copy(recording->path, sizeof(recording->path), path);
	recording->fd = open(path, O_RDWR | O_CREAT | O_CLOEXEC, 0640);
	if (recording->fd < 0)
		error_set(error, ERROR_IO, "cannot record to '%s': %s", path,
		    strerrordesc_np(errno));
	if (recording->fd < 0 || find_end(recording, error) != 0) {
		if (recording->fd >= 0)
			close(recording->fd);
		gather_free(recording->gather);
		free(recording);
		return NULL;
	}
	return recording;
}

/* --- scans -------------------------------------------------------------------------- */

static void
put_pack(struct recording *recording)
{
	size_t length;
	unsigned char *pack;

	if (gather_first(recording->gather) == NULL)
		return;
	pack = gather_pack(recording->gather, &length);
	if (pack != NULL)
		put_block(recording, RECORDING_SCANS, pack, length);
	else
		log_error(
		    "recording to '%s' misses scans: out of memory", recording->path);
	free(pack);
}

void
recording_begin(struct recording *recording, const struct settings *settings)
{
	put_pack(recording);
	put_block(
	    recording, RECORDING_SETTINGS, settings->text, strlen(settings->text));
}

void
recording_put(struct recording *recording, const struct scan *scan)
{
	const struct scan *first = gather_first(recording->gather);

	if (recording->fd < 0)
		return;
	if (first != NULL &&
	    scan->at.ns - first->at.ns > RECORDING_PACK_S * CLOCK_SECOND_NS)
		put_pack(recording);
	if (gather_add(recording->gather, scan) != NULL)
		return;
	put_pack(recording);
	(void)gather_add(recording->gather, scan);
}

void
recording_close(struct recording *recording)
{
	if (recording == NULL)
		return;
	put_pack(recording);
	if (recording->fd >= 0)
		close(recording->fd);
	gather_free(recording->gather);
	free(recording);
}
