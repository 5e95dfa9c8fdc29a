/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The machine: a ring of three frames that stand at the load, oven and form
 * stations and move on together, the operator, the platens, the sag eye, and the
 * rule by which the line goes on.  It knows nothing of heat: whoever steps it looks
 * after the sheets.
 *
 * Times are steps of TRUTH_STEP_S.  One object belongs to one thread.
 */
#ifndef CONTRIB_LINESIM_MACHINE_H
#define CONTRIB_LINESIM_MACHINE_H

#include "contrib/linesim/random.h"
#include "contrib/linesim/script.h"

enum station { STATION_LOAD, STATION_OVEN, STATION_FORM };
enum { STATION_COUNT = 3 };

/* Where a frame is on its way. */
enum phase {
	PHASE_LOADING,
	PHASE_HEATING,
	PHASE_TRANSFER, /* from the oven until the platens close */
	PHASE_FORMING,
	PHASE_FORMED,
};

struct frame {
	enum phase phase;
	bool has_sheet;
	bool keep_empty, pull_out,
	    keep_open;          /* what the script ordered for this way round */
	double ordered_start_c; /* NAN: as the stack is */
	struct sheet sheet;
	struct passage passage;
};

/* What happened in a step; or-ed. */
enum machine_edge {
	EDGE_LOADED = 1 << 0, /* the operator clamped a sheet: at[STATION_LOAD] */
	EDGE_INDEX_STARTED = 1 << 1, /* the heat of at[STATION_OVEN] is over */
	EDGE_INDEX_DONE = 1 << 2,    /* the frames have moved on; `left` is complete */
	EDGE_FORM_CLOSED = 1 << 3,
	EDGE_FORM_OPENED = 1 << 4,
};

struct machine {
	struct frame frames[STATION_COUNT];
	struct frame *at[STATION_COUNT];
	struct passage left; /* of the frame that came off the form station last */
	struct random random;
	int64_t now, numbers_given, form_before;

	bool rotating, form_closed, form_done;
	bool sheet_at_load,
	    sheet_at_form; /* the bits: moved on when an index is done */
	int64_t index_started, index_done, operator_ready, form_due, form_until;
	bool double_ordered;
	enum eye_state eye_state;
	int64_t eye_since; /* the machine's own filter; TRUTH_NEVER while dark */
	int64_t fault_wanted, fault_until, manual_wanted, manual_until, jog_at;
	uint32_t cycle_count;
};

/* Three empty frames, the operator beginning with the first sheet. */
void machine_init(struct machine *machine, uint64_t seed);

/* One step; returns the edges. */
unsigned machine_step(struct machine *machine);

bool machine_in_fault(const struct machine *machine);
bool machine_in_manual(const struct machine *machine);

/* The sag eye's bit: true when the sheet hangs into the beam, or so it seems. */
bool machine_eye(const struct machine *machine);

/*
 * The frame whose sheet stands where the oven's pyrometers look: also while it
 * begins to leave or has nearly come.  NULL when there is none.
 */
const struct frame *machine_in_view(const struct machine *machine);

#endif
