/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the buses count of their devices, and what to do where requests fail.
 */
#ifndef CLI_COMMAND_STATUS_DEVICES_H
#define CLI_COMMAND_STATUS_DEVICES_H

#include <stdbool.h>

struct error;
struct ledger_read;
struct page;

/* The table of them: people see the columns in which there is something. */
int status_devices_put(
    struct page *page, struct ledger_read *ledger, bool running, struct error *error);

/* A sentence for each device that answers but often fails, and one for each way of
 * failing that there is: what it comes from. */
int status_devices_advise(
    struct page *page, struct ledger_read *ledger, struct error *error);

#endif
