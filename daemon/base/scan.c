/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/base/scan.h"

#include <assert.h>

const char *
quality_text(enum quality quality)
{
	switch (quality) {
	case QUALITY_GOOD:
		return "good";
	case QUALITY_STALE:
		return "stale";
	case QUALITY_SENSOR_FAULT:
		return "sensor_fault";
	case QUALITY_COMM_FAULT:
		return "comm_fault";
	case QUALITY_OUT_OF_RANGE:
		return "out_of_range";
	case QUALITY_FROZEN:
		return "frozen";
	}
	assert(!"a quality that is none");
	return "";
}

size_t
scan_bytes(uint32_t count)
{
	return sizeof(struct scan) + count * sizeof(struct reading);
}
