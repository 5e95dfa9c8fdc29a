/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/gather.h"

#include <stdalign.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/scan.h"
#include "daemon/shot/pack.h"

enum { ROOM = 1 << 19, SCANS_MAX = 4096 };

struct gather {
	size_t count, length; /* scans, and what they take of the room */
	const struct scan *scans[SCANS_MAX];
	alignas(max_align_t) unsigned char room[ROOM];
};

struct gather *
gather_new(void)
{
	/* Not cleared: pages that are not used are not there. */
	struct gather *gather = malloc(sizeof(*gather));

	if (gather != NULL)
		gather->count = gather->length = 0;
	return gather;
}

void
gather_free(struct gather *gather)
{
	free(gather);
}

struct scan *
gather_add(struct gather *gather, const struct scan *scan)
{
	size_t bytes = scan_bytes(scan->count);
	size_t whole = (bytes + alignof(max_align_t) - 1) / alignof(max_align_t) *
	               alignof(max_align_t);
	struct scan *copy;

	if (gather->count == SCANS_MAX || ROOM - gather->length < whole)
		return NULL;
	copy = memcpy(gather->room + gather->length, scan, bytes);
	gather->length += whole;
	gather->scans[gather->count++] = copy;
	return copy;
}

const struct scan *
gather_first(const struct gather *gather)
{
	return gather->count > 0 ? gather->scans[0] : NULL;
}

unsigned char *
gather_pack(struct gather *gather, size_t *byte_count)
{
	unsigned char *pack = NULL;

	*byte_count = 0;
	if (gather->count > 0)
		pack = pack_scans(gather->scans, gather->count, byte_count);
	gather->count = gather->length = 0;
	return pack;
}
