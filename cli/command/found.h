/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the shots of the ledger say against a reference run: the usual shots of one kind,
 * read, judged, and shown.
 */
#ifndef CLI_COMMAND_FOUND_H
#define CLI_COMMAND_FOUND_H

#include "cli/command/calibrate_state.h"
#include "cli/command/reference_known.h"
#include "cli/command/session.h"
#include "cli/findings/findings.h"

struct error;

/* One kind of shots, judged. */
struct found {
	struct kind kind;
	struct reference_known reference; /* id 0: there is none */
	size_t shots;                     /* usual ones that were looked at */
	char trouble[1024];               /* why nothing was judged; "" */
	/* Sensors calibrated between the reference's shots and these; "". */
	char calibrated_since[CALIBRATE_WORDS];
	size_t count;
	struct finding list[FINDINGS_MAX];
};

enum { FOUND_KINDS = 32 };
struct found_all {
	struct found *list; /* in the order of their first shots */
	size_t count;
	bool more; /* kinds than are judged */
};

/* Whether the run that --reference names is there; COMMAND_USAGE after telling. */
enum command_exit found_check(const struct call *call, const struct session *session);

/* Which shots, and what they are held against. */
struct found_asked {
	int line;
	struct wall from, to;  /* of a span */
	const char *reference; /* the run's name; NULL: the newest of their kind */
};

/* The usual shots of a line in a span, by kind.  Release in either case. */
int found_read_span(struct found_all *all, const struct session *session,
    const struct found_asked *asked, struct error *error);

/* The same of one shot: of the usual ones of its kind up to and with it, at most
 * FOUND_BEFORE; what no longer showed at it is left out. */
enum { FOUND_BEFORE = 60 };
int found_read_shot(struct found_all *all, const struct session *session,
    const struct found_asked *asked, const struct ledger_shot *shot,
    struct error *error);

void found_release(struct found_all *all);

/* The findings and against what: "findings" and "references" for machines. */
void found_put(struct page *page, const struct session *session,
    const struct found_all *all, bool of_one_shot);

#endif
