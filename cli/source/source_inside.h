/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The inside of struct source, shared by the files of this folder; nobody else includes
 * this.
 */
#ifndef CLI_SOURCE_SOURCE_INSIDE_H
#define CLI_SOURCE_SOURCE_INSIDE_H

#include "cli/source/source.h"
#include "conf/settings.h"

/* What a kind of source does; see source.h. */
struct source_ops {
	void (*close)(struct source *source);
	int (*lines)(struct source *source, int (*take)(void *arg, const char *line),
	    void *arg, struct error *error);
	int (*shots)(struct source *source, const struct ledger_filter *filter,
	    bool reasons, int (*take)(void *arg, const struct ledger_shot *shot),
	    void *arg, struct error *error);
	int (*events)(struct source *source, const struct ledger_filter *filter,
	    int (*take)(void *arg, const struct ledger_event *event), void *arg,
	    struct error *error);
	/* Of stores alone; NULL: a ledger's. */
	int (*shifts)(struct source *source, const struct ledger_filter *filter,
	    int (*take)(void *arg, const struct ledger_event *shift), void *arg,
	    struct error *error);
	int (*channels)(struct source *source, const struct ledger_shot *shot,
	    int (*take)(void *arg, const struct ledger_channel *channel), void *arg,
	    struct error *error);
	int (*setup_hash)(struct source *source, int64_t setup, char hash[static 17],
	    struct error *error);
};

/* The first member of every kind of source. */
struct source {
	const struct source_ops *ops;
	struct ledger_read *ledger; /* lent; NULL: it is none */
	size_t twice;               /* points of shots that came more than once */
	char name[SETTINGS_PATH + 16];
};

#endif
