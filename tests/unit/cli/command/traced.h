/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * For tests of what is made of traces: a ledger with the shots of a played line, filed
 * under a set-up that may be wrong about it.  Commands run as those of plant.h do.
 */
#ifndef TESTS_UNIT_CLI_COMMAND_TRACED_H
#define TESTS_UNIT_CLI_COMMAND_TRACED_H

#include "tests/unit/cli/command/plant.h"
#include "tests/unit/daemon/shot/player.h"

struct traced {
	struct plant plant; /* its folder, its ledger, its output */
	struct player player;
	char config[320];
};

/* A text with every `find` replaced; the caller frees. */
static inline char *
traced_ini(const char *text, const char *find, const char *replace)
{
	size_t room = strlen(text) * 2 + 1;
	char *ini = calloc(1, room);
	const char *from = text, *at;

	plant_need(ini != NULL && strstr(text, find) != NULL, "a text to replace");
	while ((at = strstr(from, find)) != NULL) {
		snprintf(ini + strlen(ini), room - strlen(ini), "%.*s%s",
		    (int)(at - from), from, replace);
		from = at + strlen(find);
	}
	snprintf(ini + strlen(ini), room - strlen(ini), "%s", from);
	return ini;
}

/* Writes the text to traced->config. */
static inline void
traced_configure(struct traced *traced, const char *ini)
{
	FILE *file = fopen(traced->config, "w");

	plant_need(file && fputs(ini, file) >= 0 && fclose(file) == 0, "a set-up");
}

/* `count` cycles of the line, read under `ini` and filed. */
static inline void
traced_open(struct traced *traced, const char *ini, int count)
{
	struct plant *plant = &traced->plant;
	struct player *player = &traced->player;
	int64_t setup;

	plant_open(plant);
	snprintf(traced->config, sizeof traced->config, "%s/set-up.ini", plant->folder);
	traced_configure(traced, ini);
	player_init_under(player, ini);
	player_cycles(player, count);
	plant_need(ledger_put_setup(plant->ledger, player->settings,
		       (struct wall){PLANT_SHIFT_NS}, &setup, NULL) == 0,
	    "filing the set-up");
	for (size_t i = 0; i < player->shot_count; i++) {
		player->shots[i]->shot_no = (int64_t)i + 1;
		plant_need(ledger_put_shot(plant->ledger, player->settings,
			       player->shots[i], NULL) == 0,
		    "writing a shot");
	}
}

static inline void
traced_close(struct traced *traced)
{
	unlink(traced->config);
	player_release(&traced->player);
	plant_close(&traced->plant);
}

#define traced_command(traced, ...)                                                   \
	plant_run_command(&(traced)->plant, "--config", (traced)->config, "--ledger", \
	    (traced)->plant.ledger_path, __VA_ARGS__)

#endif
