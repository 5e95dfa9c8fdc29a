/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A page written to memory. */
#ifndef TESTS_UNIT_CLI_PAGE_WRITTEN_H
#define TESTS_UNIT_CLI_PAGE_WRITTEN_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include <cmocka.h>

#include "cli/page/page.h"

/* The last page, until the next begins. */
static char *written;
static size_t length;
static FILE *out;

static inline struct page *
written_begin(enum page_format format)
{
	free(written);
	written = NULL;
	out = open_memstream(&written, &length);
	struct page *page = page_new(out, format, false, NULL);
	assert_non_null(page);
	return page;
}

static inline void
written_end(struct page *page)
{
	assert_int_equal(page_end(page), 0);
	assert_int_equal(fclose(out), 0);
}

#endif
