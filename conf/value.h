/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * One value of a configuration, from its words to its place in a part.  Pure but
 * for looking into the zone data base; any thread.
 */
#ifndef CONF_VALUE_H
#define CONF_VALUE_H

#include "conf/settings_sizes.h"
#include "daemon/base/unit.h"

#include <stdbool.h>

struct error;
struct setting;
struct words;

/*
 * Reads `text` into `place`, which has the type that the table gives the setting.
 * ERROR_INVALID with a sentence that says what to write, and `place` as it was.
 * TYPE_PATH, TYPE_RAW and TYPE_MEASURE wait for what only others know: the first is
 * copied as it stands, the others lend `text`.
 */
int value_read(
    const struct setting *setting, const char *text, void *place, struct error *error);

/* Puts what stands for "nothing" there: NAN, -1, "", NULL. */
void value_clear(const struct setting *setting, void *place);

/* Whether a name is one: letters, digits, '-', '_' and, if `dots`, '.'; 1 to
 * SETTINGS_NAME - 1 bytes.  Letters are those of any language. */
bool value_is_name(const char *text, bool dots);

/* A value as it may be shown: what stands before the '@' of a URL may be a password. */
const char *value_shown(const char *value, char shown[static SETTINGS_PATH]);

/* What to say before "write ..." about a text that is no name; "" when nothing. */
const char *value_name_advice(const char *text);

/* ERROR_INVALID with the word that may be meant, or all that there are. */
int value_refuse_word(const struct words *words, const char *text, struct error *error);

/* Reads "2.0 F" as SI; a sentence that says what to write otherwise. */
int value_measure(
    const char *text, enum dimension dimension, double *si, struct error *error);

#endif
