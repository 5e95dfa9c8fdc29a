/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/characteristic.h"

#include "conf/feature.h"

enum command_exit
characteristic_option(const struct call *call, int *feature)
{
	const char *name = call->option[OPTION_CHARACTERISTIC];
	const char *near = NULL;

	*feature = -1;
	if (!name)
		return COMMAND_DONE;
	*feature = feature_find(name);
	if (*feature >= 0)
		return COMMAND_DONE;
	near = feature_nearest(name);
	return command_usage(call,
	    "there is no characteristic '%s'%s%s%s; 'evensoak shot NUMBER' shows the "
	    "names",
	    name, near ? "; did you mean '" : "", near ? near : "", near ? "'?" : "");
}
