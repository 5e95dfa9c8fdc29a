/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/status_logger.h"

#include <inttypes.h>

#include "cli/page/page.h"
#include "daemon/base/error.h"

int
status_logger_read(struct ledger_read *ledger, struct ledger_logger *logger,
    bool *known, struct error *error)
{
	int code = ledger_read_logger(ledger, logger, error);

	*known = code == 0;
	return code == ERROR_NOT_FOUND ? 0 : code;
}

static struct cell
megabytes(int64_t bytes)
{
	return cell_shown((double)bytes, (double)bytes / 1e6, 0);
}

void
status_logger_put(struct page *page, const struct ledger_logger *logger)
{
	const struct {
		const char *key;
		int64_t count;
	} counts[] = {
	    {"polls", logger->polls},
	    {"failures", logger->failures},
	    {"late", logger->late},
	    {"queue", logger->queue},
	    {"queue_most", logger->queue_most},
	    {"dropped", logger->dropped},
	    {"waiting", logger->waiting},
	    {"lost", logger->lost},
	    {"filed", logger->filed},
	    {"clock_steps", logger->clock_steps},
	};
	struct cell free_disk = megabytes(logger->free_bytes);

	free_disk.tone =
	    logger->free_bytes < STATUS_DISK_LOW_BYTES ? TONE_BAD : TONE_PLAIN;
	page_open(page, GROUP_OBJECT, "logger", NULL);
	page_field(page, "host", "host", cell_words(logger->host));
	page_field(page, "version", "version", cell_words(logger->version));
	page_field(page, "started", "started", cell_time(logger->started));
	page_field(page, "at", NULL, cell_time(logger->at));
	for (size_t i = 0; i < sizeof counts / sizeof counts[0]; i++)
		page_field(page, counts[i].key, NULL, cell_count(counts[i].count));
	page_field(page, "memory_bytes", "memory MB", megabytes(logger->memory_bytes));
	page_field(page, "ledger_bytes", NULL, megabytes(logger->ledger_bytes));
	page_field(page, "free_bytes", "free disk MB", free_disk);
	page_close(page);
}

/* A daemon that could not ask tells 0 of all of it. */
static int
disk_wrong(struct page *page, const struct ledger_logger *logger)
{
	bool wrong = logger->free_bytes < STATUS_DISK_WRONG_BYTES;

	if (logger->ledger_bytes == 0 || logger->free_bytes >= STATUS_DISK_LOW_BYTES)
		return 0;
	page_note(page, NULL, TONE_BAD,
	    "%s%" PRId64
	    " MB are left on the disk of the ledger: once it is full, shots "
	    "wait in memory for a while and are then lost; make room, or keep less "
	    "('keep_traces_days', 'keep_channels_days')",
	    wrong ? "wrong: disk: " : "", logger->free_bytes / 1000000);
	return wrong;
}

static int
lost_wrong(struct page *page, const struct ledger_logger *logger)
{
	int wrong = 0;

	if (logger->dropped > 0) {
		page_note(page, NULL, TONE_BAD,
		    "wrong: %" PRId64 " readings were lost since the start: this "
		    "computer is too slow, or its disk was; at most %" PRId64
		    " waited to be looked at",
		    logger->dropped, logger->queue_most);
		wrong++;
	}
	if (logger->lost > 0) {
		page_note(page, NULL, TONE_BAD,
		    "wrong: %" PRId64
		    " shots were lost since the start: the ledger could "
		    "not be written for longer than memory holds them",
		    logger->lost);
		wrong++;
	}
	return wrong;
}

int
status_logger_wrong(struct page *page, const struct ledger_logger *logger)
{
	if (logger->clock_steps > 0)
		page_note(page, NULL, TONE_PLAIN,
		    "the system's clock was set %" PRId64 " time%s since the start: "
		    "shots across such a step are flagged; a time service keeps it "
		    "from jumping",
		    logger->clock_steps, logger->clock_steps == 1 ? "" : "s");
	return disk_wrong(page, logger) + lost_wrong(page, logger);
}
