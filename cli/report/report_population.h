/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The figures of each population: one recipe, tool, lot and material. */
#ifndef CLI_REPORT_REPORT_POPULATION_H
#define CLI_REPORT_REPORT_POPULATION_H

#include "cli/page/page.h"
#include "cli/population/judgement.h"
#include "conf/settings.h"

struct report_line;

struct report_part {
	struct page *page;
	const struct settings *settings;
	const char *line;
	const struct population *population;
	const struct judgement *judgement; /* of it; NULL: it has no complete shot */
};

/* What stands in one table: for machines one population, for people the lots of a run. */
struct report_parts {
	struct page *page;
	const struct settings *settings;
	const struct report_part *list;
	size_t count;
	bool people;
};

/* All of a line: their tables and the sentences below them.  Machines get one after the other,
 * people the lots of a recipe and tool side by side, and are spared the thirtieth. */
void report_populations_put(const struct report_line *line);

#endif
