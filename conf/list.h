/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Values that are lists with commas.  Each function reads the whole text, or returns
 * ERROR_INVALID with a sentence that says what to write.  Pure; any thread.
 */
#ifndef CONF_LIST_H
#define CONF_LIST_H

#include "daemon/base/calendar.h"

#include <stdbool.h>
#include <stdint.h>

struct calendar_dates;
struct channel_settings;
struct device_settings;
struct error;
struct words;

enum { LIST_ITEM = 64 }; /* bytes of an item, NUL included */

/* Takes the next item off `rest`, without blanks around it; false at the end, when
 * `rest` is NULL.  An item too long is cut, and then is none. */
bool list_next(const char **rest, char item[static LIST_ITEM]);

/* "mon-fri, sun" (also "sat-mon"); bit 0 Monday. */
int list_days(const char *text, unsigned *days, struct error *error);

/* Words of a list of 32 at most, each once: a bit a place in it. */
int list_words(
    const char *text, const struct words *words, uint32_t *bits, struct error *error);

/* "2026-12-24, 2026-12-31": each once. */
int list_dates(const char *text, struct calendar_dates *dates, struct error *error);

bool list_has_date(const struct calendar_dates *dates, struct calendar_date date);

/* "holding 14-19, input 6". */
int list_holes(const char *text, struct device_settings *device, struct error *error);

/* "0x7fff, -9999" for a channel whose encoding is known: bits, or the number that the
 * device means by them. */
int list_sentinels(
    const char *text, struct channel_settings *channel, struct error *error);

#endif
