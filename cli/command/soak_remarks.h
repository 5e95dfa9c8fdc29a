/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a computed sheet means, in the words of the trade. */
#ifndef CLI_COMMAND_SOAK_REMARKS_H
#define CLI_COMMAND_SOAK_REMARKS_H

#include "cli/command/soak_drawing.h"
#include "cli/command/soak_input.h"

/* A difference between surfaces and core up to which a sheet counts as soaked, and as
 * nearly so.  Common practice, no source. */
#define SOAK_SOAKED_DC 5
#define SOAK_NEARLY_DC 15

enum soak_remark {
	SOAK_REMARK_SOAKED,  /* surfaces and core */
	SOAK_REMARK_WINDOW,  /* the core and the forming window */
	SOAK_REMARK_LIMIT,   /* a face too hot */
	SOAK_REMARK_HELD,    /* "what if": not measured */
	SOAK_REMARK_START,   /* the first reading as the start */
	SOAK_REMARK_SIDE,    /* one face alone was measured */
	SOAK_REMARK_GAPS,    /* bridged */
	SOAK_REMARK_SPIKES,  /* readings that no sheet has */
	SOAK_REMARK_TWICE,   /* more than one heat */
	SOAK_REMARK_BAND,    /* what it is made of */
	SOAK_REMARK_CAUTION, /* what it is not for */
	SOAK_REMARK_COUNT
};

enum { SOAK_REMARK_TEXT = 512 };

/* "" when there is nothing to say.  `tone` is set when there is. */
void soak_remark(enum soak_remark which, const struct soak_input *input,
    const struct soak_result *result, enum unit unit,
    char text[static SOAK_REMARK_TEXT], enum page_tone *tone);

/* The sheet and its core in a line each. */
void soak_words_make(struct soak_words *words, const struct soak_input *input,
    const struct soak_result *result, enum unit unit);

#endif
