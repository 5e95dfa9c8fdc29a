/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The parts of manual pages that are made from tables: each writes mdoc. */
#ifndef CONTRIB_MAN_PARTS_H
#define CONTRIB_MAN_PARTS_H

#include "contrib/man/template.h"

template_write part_command_list, part_commands, part_common_options;
template_write part_daemon_options; /* "simulated": those for a simulated line */
template_write part_settings, part_roles, part_machines, part_units;
template_write part_ledger_tables;
template_write part_features; /* "heat_s saturated_zones": from the one to the other */
template_write part_features_end; /* refuses where one was in no list, or in two */

#endif
