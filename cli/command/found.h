/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the shots of the ledger say against a reference run: the usual shots of one kind,
 * read, judged, and shown.
 */
#ifndef CLI_COMMAND_FOUND_H
#define CLI_COMMAND_FOUND_H

#include "cli/command/found_basis.h"
#include "cli/command/found_series.h"
#include "cli/command/session.h"
#include "cli/findings/findings.h"

struct error;

enum {
	FOUND_KINDS = 32,
	FOUND_MOST = 32, /* findings that are told; of more the number is */
	/* Usual shots that are looked at before those asked about, as many where it
	 * began earlier, and after the one that is; so many tell what begins with it. */
	FOUND_BEFORE = 60,
	FOUND_BEFORE_MOST = 6000,
	FOUND_AFTER = 20,
	FOUND_SETTLED = 4,
};

/* One kind of shots, judged. */
struct found {
	struct kind kind;
	struct reference_known reference; /* id 0: there is none */
	bool by_name;                     /* it was asked for; else it is the newest */
	size_t shots;                     /* usual ones that were asked about */
	size_t before, after;             /* and looked at beside them */
	char trouble[1024];               /* why nothing was judged; "" */
	struct found_basis basis;
	size_t in_all; /* findings, of which FOUND_MOST are told */
	size_t count;
	struct finding list[FOUND_MOST];
	/* Why it is not surer, or what explains it; "". */
	char remark[FOUND_MOST][FOUND_REMARK];
};

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

/* The same of one shot: what shows at it. */
int found_read_shot(struct found_all *all, const struct session *session,
    const struct found_asked *asked, const struct ledger_shot *shot,
    struct error *error);

/* Judges the shots of a kind against found->reference: those of the series without the
 * first found->before and the last found->after. */
int found_judge(struct found *found, const struct session *session, int line,
    struct found_series *series, struct error *error);

void found_release(struct found_all *all);

/* The findings and against what: "findings" and "references" for machines. */
void found_put(struct page *page, const struct session *session,
    const struct found_all *all, int line, bool of_one_shot);

/* The findings as a table "findings_table", for CSV alone. */
void found_put_table(struct page *page, const struct session *session,
    const struct found_all *all, int line);

/* How sure a cause is; absent of a figure that disagrees: it has none. */
struct cell found_sure_cell(const struct finding *finding);

/* What 'sure', 'likely' and 'possible' mean, and a deviation. */
void found_put_words(struct page *page);

/* "top pyrometer 2", "water circuit 3 of side left"; "" for the whole line. */
enum { FOUND_SUBJECT = 128 };
void found_subject(
    const struct finding *finding, const char *machine_side, char *words);

/* The channel "device.channel" that the subject is read by; "" for none. */
void found_channel(const struct settings *settings, int line, const struct found *found,
    const struct finding *finding, char *name);

#endif
