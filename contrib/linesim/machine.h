/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The machine: frames, stations, the operator, the platens, the sag eye, and the rule
 * by which a line goes on.  Every kind is a row of a table: a ring of frames that move
 * on together from station to station, or frames that each go into the oven and out
 * again by themselves.  It knows nothing of heat: whoever steps it looks after the
 * sheets, their sag, and passage.sagged.
 *
 * Times are steps of TRUTH_STEP_S.  One object belongs to one thread.
 */
#ifndef CONTRIB_LINESIM_MACHINE_H
#define CONTRIB_LINESIM_MACHINE_H

#include "contrib/linesim/random.h"
#include "contrib/linesim/script.h"

enum station { STATION_LOAD, STATION_OVEN, STATION_FORM, STATION_UNLOAD };
enum { STATIONS_MAX = 4, FRAMES_MAX = 4, EVENTS_MAX = 16 }; /* and see registers.h */

/* How long what takes; of a kind, and the caller may change it before the first step. */
struct machine_times {
	int64_t index;  /* a ring turns */
	int64_t travel; /* a frame to or from the oven, or the oven to or from it */
	int64_t
	    closing;  /* from the arrival at the form station to the platens closed */
	int64_t form; /* platens closed */
	int64_t
	    unload;    /* from the arrival of a part, or its forming, until it is off */
	int64_t clamp; /* from the clamped sheet until the frame may go */
	int64_t timer; /* the longest stay in the last oven */
	int64_t heat_min; /* a sheet with a shorter stay is not formed */
	int64_t release;  /* no stay in the last oven is ended by the sag before this */
	double load_s, load_sigma; /* of the operator: median, sigma of the logarithm */
};

struct machine_kind {
	const char *name; /* "rotary" ..., as the option has it */
	bool ring;
	int station_count; /* of a ring: where the frames stand, in their order */
	enum station stations[STATIONS_MAX];
	int sides, ovens;
	struct machine_times times;
};

/* NULL when there is none; the names of all end with NULL. */
const struct machine_kind *machine_kind_find(const char *name);
extern const char *const machine_kind_names[];

/* Where a frame is on its way. */
enum phase {
	PHASE_LOADING, /* or loaded and waiting */
	PHASE_SENT,    /* on its way into the first oven, or into it again */
	PHASE_HEATING,
	PHASE_BETWEEN,  /* on its way from oven to oven */
	PHASE_TRANSFER, /* from the last oven until the platens close */
	PHASE_FORMING,
	PHASE_FORMED, /* or passed the form station unformed */
};

struct frame {
	enum phase phase;
	int64_t phase_since;
	int side; /* 0 but on a machine with two */
	int oven; /* while heating: which, from 0 */
	bool has_sheet;
	bool keep_empty, pull_out, keep_open,
	    once_more;          /* what the script ordered for this way round */
	double ordered_start_c; /* NAN: as the stack is */
	int64_t clear_at,
	    ready_at; /* the operator has taken off the part, has loaded */
	bool clamped; /* also an empty frame, when it is its turn */
	bool arrived; /* at the form station */
	struct sheet sheet;
	struct passage passage;
	struct passage left; /* its way round before this one, once it is complete */
};

/* What happened to a frame in a step. */
enum machine_edge {
	EDGE_BEGUN,      /* it stands at the load station: a new passage */
	EDGE_LOADED,     /* the operator clamped a sheet, not if it is kept empty */
	EDGE_SENT,       /* it sets out for the first oven, or for it again */
	EDGE_HEAT_BEGUN, /* it has come into frame->oven */
	EDGE_HEAT_ENDED, /* it begins to leave frame->oven, whichever it is */
	EDGE_FORM_CLOSED,
	EDGE_FORM_OPENED,
	EDGE_LEFT, /* its way round is over: frame->left */
};

struct machine_event {
	enum machine_edge edge;
	struct frame *frame;
};

/* The platens of a side. */
struct side {
	bool form_closed, form_done;
	int64_t form_due, form_until, form_before;
};

struct machine {
	const struct machine_kind *kind;
	struct machine_times times;
	int frame_count;
	struct frame frames[FRAMES_MAX];
	struct frame *at[STATIONS_MAX]; /* of a ring: who stands at each station */
	struct side sides[SIDES_MAX];   /* a ring has the first only */
	struct random random;
	int64_t now, numbers_given;

	bool rotating;
	bool sheet_at_load,
	    sheet_at_form; /* the bits of a ring: moved on when an index is done */
	int64_t index_started, index_done;
	bool double_ordered;
	enum eye_state eye_state;
	int64_t eye_since; /* the machine's own filter; TRUTH_NEVER while dark */
	int64_t fault_wanted, fault_until, manual_wanted, manual_until, jog_at;
	uint32_t cycle_count; /* of a ring: indexes; otherwise sheets that have left */

	int event_count;
	struct machine_event events[EVENTS_MAX]; /* of the last step, in their order */
};

/* Empty frames, the operator beginning with the first sheets. */
void machine_init(
    struct machine *machine, const struct machine_kind *kind, uint64_t seed);

/* One step; machine->events says what happened. */
void machine_step(struct machine *machine);

bool machine_in_fault(const struct machine *machine);
bool machine_in_manual(const struct machine *machine);

/* The sag eye's bit (in the last oven): true when the sheet hangs into the beam, or so
 * it seems. */
bool machine_eye(const struct machine *machine);

/* The frame that an oven heats, that the platens of a side are closed on, or that stands
 * at a side's load station; NULL when there is none.  A frame may be empty. */
struct frame *machine_heated(struct machine *machine, int oven);
struct frame *machine_forming(struct machine *machine, int side);
struct frame *machine_loading(struct machine *machine, int side);

/* Whether the bits of a side show so; of a machine that is no ring. */
bool machine_clamp_closed(const struct machine *machine, int side);
bool machine_oven_in(const struct machine *machine, int side);
bool machine_sheet_in_frame(const struct machine *machine, int side);

/*
 * The frame whose sheet stands where the pyrometers of an oven look: also while it
 * begins to leave or has nearly come.  NULL when there is none.
 */
const struct frame *machine_in_view(const struct machine *machine, int oven);

#endif
