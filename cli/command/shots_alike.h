/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is the same for all shots of a list: people read it once, above. */
#ifndef CLI_COMMAND_SHOTS_ALIKE_H
#define CLI_COMMAND_SHOTS_ALIKE_H

#include "cli/page/page.h"
#include "conf/settings.h"
#include "daemon/ledger/ledger_read.h"

#include <stdbool.h>
#include <stddef.h>

struct shots_alike {
	bool line, day, recipe, tool, lot;
	bool side; /* no machine of theirs has any */
};

/* Of one shot at least. */
struct shots_alike shots_alike_find(const struct ledger_shot *shots, size_t count);

/* "line-3, 2026-03-02, recipe 12 (pond-basin), tool T-117, lot A-0412"; `shot` is any. */
void shots_alike_put(struct page *page, const struct settings *settings,
    const struct shots_alike *alike, const struct ledger_shot *shot);

#endif
