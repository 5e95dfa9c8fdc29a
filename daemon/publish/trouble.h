/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Why a store does not get what it lacks, as a word: the state of its row of health, which
 * `evensoak status` tells what to do about.  Pure; any thread.
 */
#ifndef DAEMON_PUBLISH_TROUBLE_H
#define DAEMON_PUBLISH_TROUBLE_H

#include <stdbool.h>

enum trouble {
	TROUBLE_NONE,
	/* It is tried again by and by, and goes on by itself. */
	TROUBLE_UNREACHABLE, /* no connection, or it was lost */
	TROUBLE_SILENT,      /* no answer in time */
	TROUBLE_BUSY,        /* 408, 429, 503: it asks for time */
	TROUBLE_FAILING,     /* any other 5xx: it has trouble of its own */
	TROUBLE_LEDGER,      /* on our side: the ledger, or memory */
	TROUBLE_UNKEPT,      /* it took shots, and does not have them: it goes on */
	/* Somebody has to do something: everything is kept, and tried now and then. */
	TROUBLE_LOGIN,       /* 401: who we are */
	TROUBLE_RIGHTS,      /* 403: what we may */
	TROUBLE_MISSING,     /* 404: data base, bucket, organization or path */
	TROUBLE_CERTIFICATE, /* TLS: it is not vouched for */
	TROUBLE_SECRET,      /* on our side: the file of the password or token */
	TROUBLE_ADDRESS,     /* any other answer that is no store's: 3xx, 4xx */
	TROUBLE_FULL,        /* it takes no new series: a limit of its own */
	TROUBLE_REFUSES,     /* one line after another, with the same words */
	TROUBLE_COUNT
};

/* "ok", "unreachable", "silent" ...: one word. */
const char *trouble_word(enum trouble trouble);

/* The one of that word; TROUBLE_COUNT: none. */
enum trouble trouble_of_word(const char *word);

/* What an answer that does not take the lines means. */
enum trouble trouble_of_status(int status);

/* Whether it goes on only once somebody has done something. */
bool trouble_holds(enum trouble trouble);

#endif
