/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The stores of a set-up, for `check`: where lines go and questions are asked, and with
 * --live whether each answers.  One thread.
 */
#ifndef CLI_COMMAND_CHECK_STORES_H
#define CLI_COMMAND_CHECK_STORES_H

#include "daemon/base/error.h"
#include "daemon/publish/trouble.h"

#include <stdbool.h>
#include <stddef.h>

struct page;
struct settings;

/* The table of them, and what keeps one of them from being reached (store_files.h). */
void check_stores_put(struct page *page, const struct settings *settings);

/* The notes on their files, as items of a list. */
void check_stores_put_notes(struct page *page, const struct settings *settings);

/* What became of a question to a store. */
struct store_live {
	enum trouble trouble; /* TROUBLE_NONE: it answers */
	struct error error;   /* "" then */
};

/* Asks which lines the store knows.  Blocks for its time-out and six seconds more (libcurl
 * takes speeds over five), and while it goes on answering; writes nothing. */
void check_stores_ask(
    struct store_live *live, const struct settings *settings, size_t store);

/* The part of the page: as many answers as the settings have stores. */
void check_stores_put_live(
    struct page *page, const struct settings *settings, const struct store_live *live);

#endif
