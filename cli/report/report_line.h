/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the parts of a line's report share: its shots, judged.  One thread. */
#ifndef CLI_REPORT_REPORT_LINE_H
#define CLI_REPORT_REPORT_LINE_H

#include "cli/page/page.h"
#include "cli/population/judgement.h"
#include "cli/source/source.h"
#include "conf/settings.h"

struct error;

/* The reference run that a run is held against. */
struct report_reference {
	int64_t id; /* 0: there is none */
	char name[LEDGER_NAME];
};

struct report_line {
	struct page *page;
	const struct settings *settings;
	struct source *source;
	const char *line;
	const struct line_settings *layout; /* NULL: the set-up has no such line */
	size_t number;                      /* of the report's lines, from 0 */
	struct wall from, to;
	bool pictures; /* the format shows some */
	bool machine;  /* it is read by programs that take whatever there is */
	bool people;   /* it is read by people, who are spared the thousandth row */
	struct population_chosen chosen; /* these alone */
	int characteristic;              /* this one alone; -1: all */
	const struct populations *all;

	/* made by report_line_judge */
	struct judgement **judgements; /* of the populations; NULL: no complete shot */
	struct runs runs;
	struct judgement **over; /* of the runs over their lots; NULL: for text */
};

/* Judges; 0, or ERROR_MEMORY.  Release in either case. */
int report_line_judge(struct report_line *line, struct error *error);
void report_line_release(struct report_line *line);

/* Of a population of the run: its judgement, by the place among all. */
const struct judgement *report_line_judgement(
    const struct report_line *line, const struct population *population);

/* How many characteristics of a run have limits: in all of its lots the same. */
size_t report_line_limited(const struct report_line *line, const struct run *run);

/* Whether the population is of the run. */
bool report_line_is_of(const struct run *run, const struct population *population);

#endif
