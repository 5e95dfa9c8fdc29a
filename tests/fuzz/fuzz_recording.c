/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A recording that was damaged or cut off.  Its blocks are those that a walk of our own
 * finds, the reader ends where that ends, and a daemon that goes on with the recording
 * keeps every whole block and nothing behind them, or leaves the file as it is; what it
 * goes on with can be read to its end.
 *
 * Input: the file; with 'h' in front, what stands behind its first line.
 */
#include "tests/fuzz/target.h"

#include <fcntl.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <unistd.h>

#include "daemon/base/error.h"
#include "daemon/base/log.h"
#include "daemon/run/recording.h"

enum { HEAD = sizeof(RECORDING_HEAD) - 1, FILE_MAX = 1 << 16 };

struct file {
	int fd;
	char path[64];
	uint8_t bytes[FILE_MAX];
	size_t length;
};

static void
make_file(struct file *file, struct input *input)
{
	file->length = 0;
	if (input->left > 0 && input->at[0] == 'h') {
		input_u8(input);
		memcpy(file->bytes, RECORDING_HEAD, HEAD);
		file->length = HEAD;
	}
	if (input->left > 0)
		memcpy(file->bytes + file->length, input->at, input->left);
	file->length += input->left;
	file->fd = memfd_create("recording", MFD_CLOEXEC);
	MUST(file->fd >= 0);
	MUST(write(file->fd, file->bytes, file->length) == (ssize_t)file->length);
	snprintf(file->path, sizeof(file->path), "/proc/self/fd/%d", file->fd);
}

static size_t
length_at(const struct file *file, size_t at)
{
	const uint8_t *bytes = file->bytes + at + 1;

	return bytes[0] + (bytes[1] + (bytes[2] + bytes[3] * (size_t)256) * 256) * 256;
}

/* Whether a whole block begins there. */
static bool
is_whole(const struct file *file, size_t at)
{
	return file->length - at >= RECORDING_BLOCK_HEAD &&
	       length_at(file, at) <= file->length - at - RECORDING_BLOCK_HEAD;
}

static bool
has_head(const struct file *file)
{
	return file->length >= HEAD && memcmp(file->bytes, RECORDING_HEAD, HEAD) == 0;
}

static bool
is_kind(uint8_t kind)
{
	return kind == 'S' || kind == 'P';
}

static void
read_all(const struct file *file)
{
	struct error error = {""};
	struct recording_reader *reader = recording_reader_open(file->path, &error);
	struct recording_block block;
	size_t at = HEAD;
	int rc;

	MUST((reader != NULL) == has_head(file));
	if (reader == NULL) {
		MUST(is_sentence(error.text, sizeof(error.text)));
		return;
	}
	while ((rc = recording_next(reader, &block, &error)) == 1) {
		MUST(is_whole(file, at));
		MUST(block.kind == file->bytes[at] && is_kind(file->bytes[at]));
		MUST(block.length == length_at(file, at));
		at += RECORDING_BLOCK_HEAD;
		MUST(memcmp(block.bytes, file->bytes + at, block.length) == 0);
		MUST(block.bytes[block.length] == '\0');
		at += block.length;
	}
	MUST(rc == 0 || rc == ERROR_INVALID);
	if (rc == 0)
		MUST(at == file->length || !is_whole(file, at));
	else
		MUST(!is_kind(file->bytes[at]) ||
		     length_at(file, at) > RECORDING_BLOCK_MAX);
	recording_reader_close(reader);
}

static bool
is_block(const struct file *file, size_t at)
{
	return is_kind(file->bytes[at]) && length_at(file, at) <= RECORDING_BLOCK_MAX;
}

static bool
is_blank(const struct file *file, size_t at)
{
	while (at < file->length && file->bytes[at] == 0)
		at++;
	return at == file->length;
}

/* How much of the file a daemon keeps that starts with it; none, and it must not touch it. */
static size_t
kept_length(const struct file *file)
{
	size_t end = HEAD;

	if (file->length == 0)
		return HEAD;
	if (!has_head(file))
		return 0;
	while (is_whole(file, end) && is_block(file, end))
		end += RECORDING_BLOCK_HEAD + length_at(file, end);
	if (file->length - end < RECORDING_BLOCK_HEAD || is_block(file, end) ||
	    is_blank(file, end))
		return end;
	return 0;
}

static void
go_on(const struct file *file)
{
	struct error error = {""};
	struct recording *recording = recording_open(file->path, &error);
	struct recording_reader *reader;
	struct recording_block block;
	size_t kept = kept_length(file);
	struct stat stat;
	int rc;

	MUST((recording != NULL) == (kept > 0));
	recording_close(recording);
	MUST(fstat(file->fd, &stat) == 0);
	MUST(stat.st_size == (off_t)(recording != NULL ? kept : file->length));
	if (recording == NULL) {
		MUST(is_sentence(error.text, sizeof(error.text)));
		return;
	}
	reader = recording_reader_open(file->path, &error);
	MUST(reader != NULL);
	while ((rc = recording_next(reader, &block, &error)) == 1)
		;
	MUST(rc == 0);
	recording_reader_close(reader);
}

int
LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length)
{
	static struct file file;
	struct input input = {bytes, length};

	if (length > FILE_MAX / 2)
		return 0;
	log_set_level(LOG_LEVEL_ERROR);
	make_file(&file, &input);
	read_all(&file);
	go_on(&file);
	close(file.fd);
	return 0;
}
