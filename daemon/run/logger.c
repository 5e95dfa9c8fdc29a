/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/run/logger.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/statvfs.h>
#include <unistd.h>

#include "conf/settings_sizes.h"
#include "daemon/base/text.h"
#include "daemon/fieldbus/poller.h"
#include "daemon/run/recorder.h"

void
logger_init(struct logger *logger, const char *ledger)
{
	*logger = (struct logger){.ledger = ledger};
	if (gethostname(logger->row.host, sizeof(logger->row.host)) != 0)
		text_copy(logger->row.host, sizeof(logger->row.host), "unknown");
	logger->row.host[sizeof(logger->row.host) - 1] = '\0';
	text_copy(logger->row.version, sizeof(logger->row.version), EVENSOAK_VERSION);
	logger->row.started = clock_wall();
}

void
logger_begin(struct logger *logger)
{
	logger->row.polls = logger->before.polls;
	logger->row.failures = logger->before.failures;
	logger->row.late = logger->before.late;
}

void
logger_add_device(struct logger *logger, const struct device_status *device)
{
	logger->row.polls += device->scans;
	logger->row.failures += device->failures;
	logger->row.late += device->late;
}

void
logger_put_recorder(struct logger *logger, const struct recorder_status *status)
{
	const struct ledger_logger *before = &logger->before;
	struct ledger_logger *row = &logger->row;
	int64_t most = (int64_t)status->queued_most;

	row->queue = (int64_t)status->queued;
	row->queue_most = most > before->queue_most ? most : before->queue_most;
	row->dropped = before->dropped + status->dropped;
	row->waiting = (int64_t)status->filing.waiting;
	row->lost = before->lost + status->filing.lost;
	row->filed = before->filed + status->filing.filed;
}

void
logger_carry(struct logger *logger, const struct recorder_status *last)
{
	logger_put_recorder(logger, last);
	/* What still waited then is given up. */
	logger->row.lost += logger->row.waiting;
	logger->before = logger->row;
}

/* --- memory and disk ----------------------------------------------------------------- */

/* 0 where the system does not tell. */
static int64_t
resident_bytes(void)
{
	FILE *file = fopen("/proc/self/statm", "re");
	char line[128] = "";
	const char *resident; /* the second number, in pages */

	if (file == NULL)
		return 0;
	if (fgets(line, sizeof(line), file) == NULL)
		line[0] = '\0';
	fclose(file);
	resident = strchr(line, ' ');
	if (resident == NULL)
		return 0;
	return strtoll(resident, NULL, 10) * sysconf(_SC_PAGESIZE);
}

static int64_t
file_bytes(const char *path)
{
	struct stat status;

	return stat(path, &status) == 0 ? (int64_t)status.st_size : 0;
}

/* Of the disk that the ledger's folder is on; the ledger's own file is never opened. */
static void
look_at_disk(struct logger *logger)
{
	char folder[SETTINGS_PATH];
	char *slash;
	struct statvfs disk;

	text_copy(folder, sizeof(folder), logger->ledger);
	slash = strrchr(folder, '/');
	if (slash == NULL)
		text_copy(folder, sizeof(folder), ".");
	else
		slash[slash == folder] = '\0';
	if (statvfs(folder, &disk) != 0)
		return;
	logger->row.free_bytes = (int64_t)(disk.f_bavail * disk.f_frsize);
	logger->disk_bytes = (int64_t)(disk.f_blocks * disk.f_frsize);
}

void
logger_look(struct logger *logger)
{
	char wal[SETTINGS_PATH + 8];

	snprintf(wal, sizeof(wal), "%s-wal", logger->ledger);
	logger->row.at = clock_wall();
	logger->row.memory_bytes = resident_bytes();
	logger->row.ledger_bytes = file_bytes(logger->ledger) + file_bytes(wal);
	look_at_disk(logger);
}
