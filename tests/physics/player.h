/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Plays a simulated line to the daemon's tracker as a bus would, each device at its
 * period, its registers read by the settings; gives out each shot with what truly happened
 * to its sheet.  One object belongs to one thread.
 */
#ifndef TESTS_PHYSICS_PLAYER_H
#define TESTS_PHYSICS_PLAYER_H

#include "conf/settings.h"
#include "daemon/shot/circumstances.h"
#include "daemon/shot/shot.h"
#include "tests/physics/plant_line.h"

struct player;

struct player_setup {
	const struct settings *settings; /* of one rotary line; outlives the player */
	struct plant_line_setup line;
	/* The shot stays the player's; `sheet` NULL: the sheet of the shot is not known.  In
	 * the order of the shots. */
	void (*take)(
	    void *arg, const struct shot *shot, const struct plant_line_sheet *sheet);
	void *arg;
	/* What was told of every sheet; NULL: nothing. */
	void (*tell)(void *arg, struct circumstances *circumstances);
};

/* conf/demo.ini as it is; the caller owns it (settings_free).  Exits when it is wrong. */
struct settings *player_settings(void);

/* NULL when the script has mistakes, which are on stderr. */
struct player *player_new(const struct player_setup *setup);
void player_free(struct player *player);

/* Plays until `count` more usual (complete) shots have been given out. */
void player_run_shots(struct player *player, int count);

/* Plays for so many seconds more. */
void player_run_s(struct player *player, double seconds);

/* All in one: so many complete shots of a new line. */
void player_play(const struct player_setup *setup, int count);

#endif
