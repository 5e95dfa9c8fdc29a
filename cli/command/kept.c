/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/kept.h"

#include <stdlib.h>
#include <string.h>

#include "daemon/base/error.h"
#include "daemon/shot/trace.h"

int
kept_read(struct kept *kept, struct ledger_read *ledger, struct filed_setups *setups,
    const struct ledger_shot *shot, struct error *error)
{
	int64_t taken = 0;
	int code;

	*kept = (struct kept){0};
	if ((code = ledger_read_trace(
		 ledger, shot->id, &kept->bytes, &kept->byte_count, error)) != 0 ||
	    !kept->bytes)
		return code;
	if ((code = ledger_read_trace_setup(ledger, shot->id, &taken, error)) != 0)
		return code;
	kept->taken = filed_setups_get(setups, taken, error);
	kept->made = filed_setups_get(setups, shot->setup, error);
	if (!kept->taken || !kept->made)
		return ERROR_INVALID;
	return trace_sheet(kept->bytes, kept->byte_count, &kept->sheet, error);
}

void
kept_release(struct kept *kept)
{
	free(kept->bytes);
	*kept = (struct kept){0};
}

int
kept_side(const struct line_settings *line, const struct ledger_shot *shot)
{
	if (!*shot->side)
		return line->side_count > 1 ? -2 : -1;
	for (int i = 0; i < line->side_count; i++)
		if (strcmp(line->sides[i], shot->side) == 0)
			return line->side_count > 1 ? i : -1;
	return -2;
}
