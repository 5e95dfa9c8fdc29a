/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The devices as their buses see them, for `status`: read once, shown as a table, and
 * looked at by status_remarks.h.  One thread.
 */
#ifndef CLI_COMMAND_STATUS_DEVICES_H
#define CLI_COMMAND_STATUS_DEVICES_H

#include "conf/settings.h"
#include "daemon/ledger/ledger_read.h"

#include <stdbool.h>

struct error;
struct page;

struct status_device {
	struct ledger_device row; /* its strings are those below */
	char device[LEDGER_NAME], line[LEDGER_NAME], bus[LEDGER_NAME * 3];
	char state[LEDGER_NAME], why[LEDGER_NAME];
	char port[SETTINGS_PATH], bad_text[256];
	char text[512]; /* of its row of health: why its last scan failed */
};

struct status_devices {
	size_t count;
	struct status_device list[SETTINGS_DEVICES];
};

/* Those on file; the caller frees.  NULL with the reason. */
struct status_devices *status_devices_read(
    struct ledger_read *ledger, struct error *error);

/* That one whose row of health has this subject; NULL: none. */
struct status_device *status_devices_find(
    struct status_devices *devices, const char *subject);

/* All requests, and those lately. */
int64_t status_devices_requests(const struct status_device *device);
int64_t status_devices_recent(const struct status_device *device);

/* Whether this count is one that people should look at: by what was lately. */
bool status_devices_is_often(
    const struct status_device *device, enum ledger_count count);

/* How people are told what became of a request: "not answered in time"; NULL: of a count
 * that there is nothing to do about. */
const char *status_devices_told(enum ledger_count count);

/* The table of them: people see the columns in which there is something.  `current`: what
 * the daemon that runs tells. */
void status_devices_put(
    struct page *page, const struct status_devices *devices, bool current);

#endif
