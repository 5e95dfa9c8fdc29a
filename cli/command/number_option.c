/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/number_option.h"

#include "daemon/base/text.h"

enum command_exit
number_option(
    const struct call *call, enum option_id id, double low, double high, double *value)
{
	const char *given = call->option[id], *name = option_table[id].name;
	double number;

	if (!given)
		return COMMAND_DONE;
	if (!text_number(given, &number))
		return command_usage(
		    call, "'--%s' is '%s', must be a number", name, given);
	if (number < low || number > high)
		return command_usage(
		    call, "'--%s' is %s, must be %g..%g", name, given, low, high);
	*value = number;
	return COMMAND_DONE;
}
