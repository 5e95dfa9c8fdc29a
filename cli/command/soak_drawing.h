/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The picture of a computed sheet. */
#ifndef CLI_COMMAND_SOAK_DRAWING_H
#define CLI_COMMAND_SOAK_DRAWING_H

#include "cli/command/soak_course.h"
#include "cli/command/soak_input.h"
#include "cli/page/page.h"
#include "daemon/base/unit.h"

/* What people say of it: "6.35 mm ABS", and the core with its band. */
struct soak_words {
	char sheet[160], core[160];
};

/* On the page. */
void soak_drawing_put(const struct soak_input *input, const struct soak_course *course,
    const struct soak_result *result, const struct soak_words *words, enum unit unit,
    struct page *page);

#endif
