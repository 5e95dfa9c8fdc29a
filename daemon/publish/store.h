/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What differs from one kind of store to the next: where lines are written to, where
 * questions go, how to log in, and what the answers to lines mean.  Pure.
 *
 * The facts behind it, and how well they are known:
 * measured: InfluxDB 1.6.7 and VictoriaMetrics 1.79.5, as Debian 12 has them;
 * published: docs.influxdata.com, the API references of 1.x, 2.x and 3 Core;
 * docs.victoriametrics.com, "Cluster version";
 * from memory, none was run: the statuses of 2.x and 3.x that store.c says so of.
 * A body without lines is no line that could be bad, and yet: 1.x and VictoriaMetrics
 * answer it 204 (measured), a 2.x answers it 400 "writing requires points" (from
 * memory), and of a 3.x it is not known.
 */
#ifndef DAEMON_PUBLISH_STORE_H
#define DAEMON_PUBLISH_STORE_H

#include "conf/settings.h"
#include "daemon/publish/http.h"

#include <stdbool.h>

struct error;
struct text;

/*
 * Adds the whole URL that lines are posted to.  ERROR_INVALID when the one in the
 * settings cannot be meant; a password in it is refused, as URLs are shown.
 */
int store_write_url(
    const struct store_settings *store, struct text *url, struct error *error);

/*
 * Adds the URL that questions go to, behind `query_url` or, without one, `url`.  Of the
 * InfluxDB family that is InfluxQL's /query with db= in it already: a form adds q=.  Of a
 * VictoriaMetrics it is `path`, such as "/api/v1/export"; the others do not look at it.
 * Errors as above.
 */
int store_query_url(const struct store_settings *store, const char *path,
    struct text *url, struct error *error);

/* How to reach the store at `url`, which is lent like the strings of `store`; give_up is
 * left to the caller. */
struct http_settings store_http(const struct store_settings *store, const char *url);

enum store_answer {
	STORE_TAKEN,     /* in its hands; on its disk after settle_s */
	STORE_LATER,     /* not now: the same again in a while */
	STORE_CLOSED,    /* not with these settings: a person has to do something */
	STORE_TOO_LARGE, /* fewer lines at once */
	STORE_BAD_LINES, /* at least one line is refused; any other may be stored */
};

/* Whether it says that it takes no new series: its own state, no fault of the lines. */
bool store_is_full(const struct http_answer *answer);

/* What it means that lines were answered so. */
enum store_answer store_answer(enum store_kind kind, const struct http_answer *answer);

#endif
