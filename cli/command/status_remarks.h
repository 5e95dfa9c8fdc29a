/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What `status` says of devices and their buses beside the tables: what is wrong, what it
 * comes from, and what to do.  One thread.
 */
#ifndef CLI_COMMAND_STATUS_REMARKS_H
#define CLI_COMMAND_STATUS_REMARKS_H

#include "cli/command/status_devices.h"

#include <stdbool.h>

struct page;

/* A sensor without a value for longer than this is something wrong: a sheet that is out
 * of sight or a restart of a device is over by then; a source there is none. */
enum { STATUS_SENSOR_S = 60 };

/* Whether nobody answers on its bus, and it is not alone there: then the bus is told of,
 * not each of its devices. */
bool status_remarks_bus_is_dead(
    const struct status_devices *devices, const struct status_device *device);

/* A sentence for each bus on which nobody answers, and for each device that answers
 * without all its values; how many of them are wrong. */
int status_remarks_wrong(struct page *page, const struct status_devices *devices);

/* A sentence for each device that answers but has often failed lately, for each bus whose
 * devices are read late because one of them is silent, and for each way of failing that
 * there is: what it comes from.  And whether the silence of one is no event yet. */
void status_remarks_advise(struct page *page, const struct status_devices *devices);

#endif
