/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the channels of a line read over one interval, packed for the ring in the ledger
 * and unpacked for a store.  Channels go by their names, so that an entry is still read
 * right when the configuration has changed meanwhile.  Pure.
 *
 * The bytes: 1 for this form, the length of what follows once unpacked (32 bits, least
 * first), then compressed by zlib, for each channel device, channel and role, each with
 * its NUL, mean and last as 32-bit floats, and the quality in percent, one byte.
 */
#ifndef DAEMON_PUBLISH_READING_PACK_H
#define DAEMON_PUBLISH_READING_PACK_H

#include <stddef.h>

struct error;

struct reading_channel {
	const char *device, *channel, *role;
	double mean, last; /* SI, of the good readings; NAN: there were none */
	double quality;    /* of all readings in the interval the share that was good */
};

/* `*bytes` is for the caller to free.  ERROR_MEMORY; ERROR_INVALID when it is more than
 * SETTINGS_CHANNELS channels can be. */
int reading_pack(const struct reading_channel *channels, size_t count,
    unsigned char **bytes, size_t *byte_count, struct error *error);

/* Calls `take` for each channel, which is lent; a return other than 0 ends it and is no
 * error.  ERROR_INVALID, for bytes that are not of this form: `take` may have been called
 * before; ERROR_MEMORY. */
int reading_unpack(const void *bytes, size_t byte_count,
    int (*take)(void *arg, const struct reading_channel *channel), void *arg,
    struct error *error);

#endif
