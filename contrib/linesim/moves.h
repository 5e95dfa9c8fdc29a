/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the kinds of machine share: the operator, the platens, a frame's way through its
 * phases.  For machine.c, ring.c and carriage.c only.
 */
#ifndef CONTRIB_LINESIM_MOVES_H
#define CONTRIB_LINESIM_MOVES_H

#include "contrib/linesim/machine.h"

enum {
	MOVES_IN_VIEW = 15,   /* steps that a sheet still or already covers the spots */
	MOVES_JOG_OPEN = 10,  /* after going to manual the platens open ... */
	MOVES_JOG_START = 20, /* ... and the frames are moved */
};

/* The frame stands at the load station for a new way round; the operator has
 * `unload_steps` of work before the loading. */
void moves_begin(struct machine *machine, struct frame *frame, int64_t unload_steps);

/* The operator of the side at the frame, which stands at the load station. */
void moves_load(struct machine *machine, struct frame *frame);
bool moves_loaded(const struct machine *machine, const struct frame *frame);

/* The same for one that is to go into the oven again. */
void moves_come_back(struct machine *machine, struct frame *frame);

/* Towards the first oven, into one, out of it, with what the passage keeps of it. */
void moves_send(struct machine *machine, struct frame *frame);
void moves_heat(struct machine *machine, struct frame *frame, int oven);
void moves_end_heat(struct machine *machine, struct frame *frame, enum phase next);

/* The machine's own filter of the sag eye. */
bool moves_eye_has_seen(const struct machine *machine);

/* Whether the stay in the last oven may end: sagged, or on the timer. */
bool moves_heated(const struct machine *machine, const struct frame *frame);

/* It has come to the form station; the platens close later on a sheet that had its heat
 * and is to be formed, on nothing else. */
void moves_arrive(struct machine *machine, struct frame *frame);

/* Closes or opens the platens on it when it is time. */
void moves_form(struct machine *machine, struct frame *frame);
void moves_open_form(struct machine *machine, struct frame *frame);

/* It is not to be formed: it waits for being taken off. */
void moves_pass_form(struct machine *machine, struct frame *frame);

/* It came out unformed and is to go in again. */
bool moves_again(const struct frame *frame);

/* Its way round is over. */
void moves_leave(struct machine *machine, struct frame *frame);

/* One step of each kind. */
void ring_step(struct machine *machine);
void carriage_step(struct machine *machine);

/* Whether something is on its way, so that a fault or a jog waits. */
bool carriage_moving(const struct machine *machine);

#endif
