/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The value of a channel as it was read, for people: with the digits of its unit, and
 * without a unit with all that a float32 has to tell.  Pure; any thread.
 */
#ifndef CLI_COMMAND_CHANNEL_VALUE_H
#define CLI_COMMAND_CHANNEL_VALUE_H

#include "cli/page/page.h"
#include "conf/settings.h"

enum { CHANNEL_VALUE = 48 };

/* "800.0", "123.456", "472980522"; "" of what is not finite. */
void channel_value_text(const struct settings *settings, enum dimension dimension,
    double value_si, char text[static CHANNEL_VALUE]);

/* The same in a table; `text` must live until the row is written. */
struct cell channel_value_cell(const struct settings *settings,
    enum dimension dimension, double value_si, char text[static CHANNEL_VALUE]);

#endif
