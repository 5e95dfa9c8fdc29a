/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/clock_options.h"

#include "daemon/base/calendar.h"
#include "daemon/base/clock.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

enum command_exit
clock_options_read(const struct call *call)
{
	const char *rate = call->option[OPTION_CLOCK_RATE];
	const char *start = call->option[OPTION_CLOCK_START];
	const char *origin = call->option[OPTION_CLOCK_ORIGIN];
	double times = 1;
	struct wall at = {0};
	int64_t origin_ns = 0;
	struct error error;

	if (!rate && !start && !origin)
		return COMMAND_DONE;
	if (rate && !text_number(rate, &times))
		return command_usage(call, "'--clock-rate': '%s' is no number", rate);
	if (origin && !text_integer(origin, &origin_ns))
		return command_usage(
		    call, "'--clock-origin': '%s' is no number", origin);
	if ((start && calendar_parse(start, &at, &error) != 0) ||
	    clock_run_at(times, at, origin_ns, &error) != 0)
		return command_usage(call, "%s", error.text);
	return COMMAND_DONE;
}
