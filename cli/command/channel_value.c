/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/channel_value.h"

#include <math.h>
#include <stdio.h>

#include "cli/wording/shown.h"

/* What a double holds as a whole number, and a counter may come to. */
#define WHOLE_MOST 1e15

void
channel_value_text(const struct settings *settings, enum dimension dimension,
    double value_si, char text[static CHANNEL_VALUE])
{
	struct cell cell = shown_channel(settings, dimension, value_si);

	if (!isfinite(value_si))
		text[0] = '\0';
	else if (dimension != DIMENSION_NONE)
		snprintf(text, CHANNEL_VALUE, "%.*f", cell.digits, cell.shown);
	else if (fabs(value_si) < WHOLE_MOST && fabs(value_si - round(value_si)) <= 0)
		snprintf(text, CHANNEL_VALUE, "%.0f", value_si);
	else
		snprintf(text, CHANNEL_VALUE, "%.6g", value_si);
}

struct cell
channel_value_cell(const struct settings *settings, enum dimension dimension,
    double value_si, char text[static CHANNEL_VALUE])
{
	struct cell cell = shown_channel(settings, dimension, value_si);

	channel_value_text(settings, dimension, value_si, text);
	if (*text)
		cell.instead = text;
	return cell;
}
