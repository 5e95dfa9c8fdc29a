/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The parts of manual pages that are made from tables.  Each writes mdoc to `out`; what
 * the template says behind the part's name is `argument` ("" for nothing).  Returns 0, or
 * a negative code with the sentence: what the table lacks, and where to say it.
 */
#ifndef CONTRIB_MAN_PARTS_H
#define CONTRIB_MAN_PARTS_H

#include <stdio.h>

struct error;

typedef int part_write(FILE *out, const char *argument, struct error *error);

part_write part_command_list, part_commands, part_common_options;
part_write part_daemon_options; /* "simulated": those for a simulated line */
part_write part_settings, part_roles, part_machines, part_units;
part_write part_ledger_tables;
part_write part_features;     /* "heat_s saturated_zones": from the one to the other */
part_write part_features_end; /* refuses where one was in no list, or in two */

#endif
