/* SPDX-License-Identifier: GPL-3.0-or-later */
/* manual TEMPLATE: the manual page that the template and the tables make, on stdout. */
#include <stddef.h>

#include "contrib/man/parts.h"

static const struct template_part parts[] = {
    {"command-list", part_command_list},
    {"commands", part_commands},
    {"common-options", part_common_options},
    {"daemon-options", part_daemon_options},
    {"settings", part_settings},
    {"roles", part_roles},
    {"machines", part_machines},
    {"units", part_units},
    {"ledger-tables", part_ledger_tables},
    {"features", part_features},
    {"features-end", part_features_end},
    {NULL, NULL},
};

int
main(int argc, char *argv[])
{
	return template_main(argc, argv, parts);
}
