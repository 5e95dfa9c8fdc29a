/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A layer under SQLite that notes in memory every write, fsync and deletion of a ledger's
 * files, so that a test can lay out the files as a loss of power at any point leaves them:
 * what was synced is there; of the rest anything may be there or not, in pieces of a
 * sector or a page, later writes without earlier ones too.
 *
 * A sector of 512 bytes is written whole or not at all.  The first fsync of a new file also
 * takes the folder to disk, as SQLite does it: its name, and that others are gone.
 */
#ifndef TESTS_UNIT_DAEMON_LEDGER_POWER_VFS_H
#define TESTS_UNIT_DAEMON_LEDGER_POWER_VFS_H

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include "tests/unit/daemon/ledger/layer_vfs.h"

enum power_file { POWER_MAIN, POWER_WAL, POWER_JOURNAL, POWER_FILES };
static const char *const power_suffix[POWER_FILES] = {"", "-wal", "-journal"};

enum power_kind { POWER_WRITE, POWER_TRUNCATE, POWER_SYNC, POWER_DELETE };

struct power_step {
	enum power_kind kind;
	enum power_file file;
	int64_t
	    at; /* of a truncation: the size; of a deletion: 1, the folder is synced */
	size_t count;
	unsigned char *bytes;
};

enum { POWER_STEPS_MAX = 20000 };
static struct {
	bool on;
	size_t count;
	struct power_step steps[POWER_STEPS_MAX];
} power;

static inline void
power_note(enum power_kind kind, int file, int64_t at, const void *bytes, size_t count)
{
	if (!power.on || file < 0)
		return;
	if (power.count == POWER_STEPS_MAX)
		abort();
	struct power_step *step = &power.steps[power.count++];
	*step = (struct power_step){kind, (enum power_file)file, at, count, NULL};
	if (count == 0)
		return;
	step->bytes = malloc(count);
	if (step->bytes == NULL)
		abort();
	memcpy(step->bytes, bytes, count);
}

static inline void
power_release(void)
{
	for (size_t i = 0; i < power.count; i++)
		free(power.steps[i].bytes);
	power.count = 0;
}

/* --- noting ---------------------------------------------------------------------- */

/* -1: of no ledger */
static inline int
power_file_of(sqlite3_file *file)
{
	int flags = ((struct layer_file *)file)->flags;

	return flags & SQLITE_OPEN_MAIN_DB        ? POWER_MAIN
	       : flags & SQLITE_OPEN_WAL          ? POWER_WAL
	       : flags & SQLITE_OPEN_MAIN_JOURNAL ? POWER_JOURNAL
	                                          : -1;
}

static inline int
power_write(sqlite3_file *file, const void *from, int bytes, sqlite3_int64 at)
{
	power_note(POWER_WRITE, power_file_of(file), at, from, (size_t)bytes);
	return layer_write(file, from, bytes, at);
}

static inline int
power_truncate(sqlite3_file *file, sqlite3_int64 size)
{
	power_note(POWER_TRUNCATE, power_file_of(file), size, NULL, 0);
	return layer_truncate(file, size);
}

/* The real one is not waited for. */
static inline int
power_sync(sqlite3_file *file, int flags)
{
	(void)flags;
	power_note(POWER_SYNC, power_file_of(file), 0, NULL, 0);
	return SQLITE_OK;
}

static inline int
power_delete(sqlite3_vfs *vfs, const char *name, int sync)
{
	sqlite3_vfs *real = vfs->pAppData;
	size_t length = strlen(name);

	for (int file = POWER_WAL; file < POWER_FILES; file++) {
		size_t suffix = strlen(power_suffix[file]);
		if (length > suffix &&
		    strcmp(name + length - suffix, power_suffix[file]) == 0)
			power_note(POWER_DELETE, file, sync != 0, NULL, 0);
	}
	return real->xDelete(real, name, sync);
}

static inline void
power_change(sqlite3_vfs *vfs)
{
	vfs->xDelete = power_delete;
	layer_methods.xWrite = power_write;
	layer_methods.xTruncate = power_truncate;
	layer_methods.xSync = power_sync;
}

static inline int
power_vfs_register(void)
{
	return layer_register("power", power_change);
}

/* --- losing ------------------------------------------------------------------------ */

/* What becomes of writes that nobody has waited for. */
enum power_loss {
	LOSS_ALL,     /* none is there */
	LOSS_NONE,    /* as after a kill */
	LOSS_WRITES,  /* each is there whole or not */
	LOSS_PAGES,   /* each page of 2048 bytes */
	LOSS_SECTORS, /* each sector of 512 bytes */
	LOSS_EARLIER, /* only the latest are there */
	LOSS_LATER,   /* only the earliest, and the first sector of the next */
	LOSSES
};

struct power_image {
	unsigned char *bytes;
	size_t count, room;
	bool there;
	size_t pending[POWER_STEPS_MAX], pending_count; /* steps not synced */
};
static struct power_image power_images[POWER_FILES];
static uint64_t power_dice;

/* 0 to below `sides` (xorshift64*). */
static inline uint64_t
power_throw(uint64_t sides)
{
	power_dice ^= power_dice >> 12;
	power_dice ^= power_dice << 25;
	power_dice ^= power_dice >> 27;
	return ((power_dice * UINT64_C(2685821657736338717)) >> 33) % sides;
}

/* What lies between the old end and a write behind it is anything. */
static inline void
power_reach(struct power_image *image, size_t count)
{
	if (count > image->room) {
		image->room = 2 * count;
		image->bytes = realloc(image->bytes, image->room);
		if (image->bytes == NULL)
			abort();
	}
	if (count > image->count) {
		memset(image->bytes + image->count, power_throw(2) ? 0 : 0xa5,
		    count - image->count);
		image->count = count;
	}
	image->there = true;
}

static inline void
power_put(
    struct power_image *image, const struct power_step *step, size_t from, size_t count)
{
	power_reach(image, (size_t)step->at + from + count);
	memcpy(image->bytes + step->at + from, step->bytes + from, count);
}

static inline void
power_apply(struct power_image *image, const struct power_step *step)
{
	switch (step->kind) {
	case POWER_WRITE:
		power_put(image, step, 0, step->count);
		break;
	case POWER_TRUNCATE:
		if (image->count > (size_t)step->at)
			image->count = (size_t)step->at;
		break;
	case POWER_DELETE:
		image->there = false;
		image->count = 0;
		break;
	case POWER_SYNC:
		break;
	}
}

static inline void
power_put_pieces(struct power_image *image, const struct power_step *step, size_t piece)
{
	for (size_t from = 0; from < step->count;) {
		size_t at = (size_t)step->at + from;
		size_t count = piece - at % piece;
		if (count > step->count - from)
			count = step->count - from;
		if (power_throw(2))
			power_put(image, step, from, count);
		from += count;
	}
}

/* What is left of step `number` of those that nobody waited for. */
static inline void
power_lose_one(
    struct power_image *image, size_t number, enum power_loss loss, size_t turn)
{
	const struct power_step *step = &power.steps[image->pending[number]];
	bool torn = step->kind == POWER_WRITE;

	switch (loss) {
	case LOSS_ALL:
		break;
	case LOSS_NONE:
		power_apply(image, step);
		break;
	case LOSS_WRITES:
		if (power_throw(2))
			power_apply(image, step);
		break;
	case LOSS_PAGES:
	case LOSS_SECTORS:
		if (torn)
			power_put_pieces(image, step, loss == LOSS_PAGES ? 2048 : 512);
		else if (power_throw(2))
			power_apply(image, step);
		break;
	case LOSS_EARLIER:
		if (number >= turn)
			power_apply(image, step);
		break;
	case LOSS_LATER:
		if (number < turn)
			power_apply(image, step);
		else if (number == turn && torn)
			power_put(
			    image, step, 0, step->count < 512 ? step->count : 512);
		break;
	case LOSSES:
		break;
	}
}

/* The folder is on disk: names that went are gone for good. */
static inline void
power_sync_folder(void)
{
	for (int i = 0; i < POWER_FILES; i++) {
		struct power_image *image = &power_images[i];
		size_t gone = image->pending_count;
		while (gone > 0 &&
		       power.steps[image->pending[gone - 1]].kind != POWER_DELETE)
			gone--;
		if (gone == 0)
			continue;
		image->there = false;
		image->count = 0;
		image->pending_count -= gone;
		memmove(image->pending, image->pending + gone,
		    image->pending_count * sizeof image->pending[0]);
	}
}

static inline void
power_take_step(size_t number)
{
	const struct power_step *step = &power.steps[number];
	struct power_image *image = &power_images[step->file];

	image->pending[image->pending_count++] = number;
	if (step->kind == POWER_DELETE && step->at != 0)
		power_sync_folder();
	if (step->kind != POWER_SYNC)
		return;
	if (!image->there) /* SQLite syncs the folder with a new file */
		power_sync_folder();
	for (size_t i = 0; i < image->pending_count; i++)
		power_apply(image, &power.steps[image->pending[i]]);
	image->pending_count = 0;
	image->there = true;
}

/* Lays out at `path` what is left when the power goes after `steps` steps. */
static inline void
power_lay(const char *path, size_t steps, enum power_loss loss, uint64_t seed)
{
	char name[400];

	power_dice = seed * UINT64_C(0x9e3779b97f4a7c15) | 1;
	for (int i = 0; i < POWER_FILES; i++) {
		power_images[i].count = power_images[i].pending_count = 0;
		power_images[i].there = i == POWER_MAIN; /* it was made beforehand */
	}
	for (size_t i = 0; i < steps; i++)
		power_take_step(i);
	for (int i = 0; i < POWER_FILES; i++) {
		struct power_image *image = &power_images[i];
		size_t turn =
		    image->pending_count > 0 ? power_throw(image->pending_count) : 0;
		for (size_t k = 0; k < image->pending_count; k++)
			power_lose_one(image, k, loss, turn);
		snprintf(name, sizeof name, "%s%s", path, power_suffix[i]);
		remove(name);
		FILE *file = image->there ? fopen(name, "wb") : NULL;
		if (file == NULL)
			continue;
		if (image->count > 0 &&
		    fwrite(image->bytes, 1, image->count, file) != image->count)
			abort();
		fclose(file);
	}
	snprintf(name, sizeof name, "%s-shm", path);
	remove(name); /* what it holds is taken for nothing after a start */
}

#endif
