/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A configuration with the file of materials that it names, as one text: the ledger keeps
 * that, and it is read again without any file.
 *
 * The configuration comes first, as it is; then a line that is BUNDLE_MARK, a comment to
 * everybody else; then the file of materials, as it is.  Without the mark a text is a
 * configuration alone.  For any thread.
 */
#ifndef CONF_BUNDLE_H
#define CONF_BUNDLE_H

#include <stdbool.h>

#define BUNDLE_MARK "; ===== materials read along: 'materials' of [site] ====="

struct bundle {
	char *own;     /* the configuration */
	char *along;   /* the materials; NULL: none */
	int mark_line; /* of the mark in the whole text, from 1; 0: there is none */
};

/* False when memory is short.  bundle_release either way. */
bool bundle_split(struct bundle *bundle, const char *text);
void bundle_release(struct bundle *bundle);

/* The whole text; the caller frees it.  NULL when memory is short.  Split and joined
 * again a text is the same. */
char *bundle_join(const struct bundle *bundle);

#endif
