/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * JSON documents, one a line, out of bytes that come in pieces of any size.  One thread.
 */
#ifndef CLI_SOURCE_JSON_LINES_H
#define CLI_SOURCE_JSON_LINES_H

#include <jansson.h>
#include <stddef.h>

#include "daemon/base/text.h"

struct error;

enum { JSON_LINES_MOST = 8 << 20 }; /* bytes of one document */

struct json_lines {
	/* Lent until it returns; other than 0 ends it. */
	int (*take)(void *arg, const json_t *document, struct error *error);
	void *arg;
	struct text text; /* of the document that is not complete */
};

void json_lines_init(struct json_lines *lines,
    int (*take)(void *arg, const json_t *document, struct error *error), void *arg);
void json_lines_release(struct json_lines *lines);

/* 0, or what `take` returned, ERROR_REFUSED: this is no JSON, ERROR_FULL: a document is
 * longer than JSON_LINES_MOST. */
int json_lines_feed(
    struct json_lines *lines, const char *bytes, size_t length, struct error *error);

/* There is no more: the last line needs no end.  The same errors. */
int json_lines_end(struct json_lines *lines, struct error *error);

#endif
