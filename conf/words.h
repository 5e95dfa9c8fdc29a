/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The words that a configuration uses for a choice among few, and lists of them in
 * a sentence.  Constant data, pure functions; any thread.
 */
#ifndef CONF_WORDS_H
#define CONF_WORDS_H

#include "daemon/base/unit.h"

#include <stddef.h>

/* The place of a word in `list` is the number it stands for. */
struct words {
	const char *const *list;
	size_t count;
};

extern const struct words words_temperature, words_machine, words_station, words_role,
    words_table, words_encoding, words_order, words_parity, words_view, words_structure,
    words_store, words_event;

/* Its place, or -1. */
int words_find(const struct words *words, const char *word);

enum { WORDS_TEXT = 512 };

/* "a, b or c". */
void words_list(const struct words *words, char text[static WORDS_TEXT]);

/* The same of the units that can measure `dimension`, each after `before` ("", "2 "). */
void words_units(
    enum dimension dimension, const char *before, char text[static WORDS_TEXT]);

#endif
