/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the stores of a draft must have, each for its kind, and may not have together.
 * For one thread; only within conf/.
 */
#ifndef CONF_STORES_H
#define CONF_STORES_H

#include <stdbool.h>

struct draft;
struct store_settings;

void stores_check(struct draft *draft);

/* Whether a URL is https. */
bool stores_is_https(const char *url);

#endif
