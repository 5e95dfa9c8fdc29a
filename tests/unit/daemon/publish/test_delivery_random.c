/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Faults, restarts, settings back, corrections and readings at random. */
#include "tests/unit/daemon/publish/delivery_scene.h"

/* --- all of it at random ------------------------------------------------------------------ */

static unsigned short dice[3];

static int
under(int bound)
{
	return (int)(nrand48(dice) % bound);
}

static struct reply
now_and_then_trouble(void *arg, int request, const char *lines)
{
	static const struct reply replies[] = {
	    {MANNER_ANSWER_ONLY, 503, 0, "down"},
	    {MANNER_ANSWER_ONLY, 429, 1, "slower"},
	    {MANNER_CLOSE, 0, 0, NULL},
	    {MANNER_CUT, 204, 0, NULL},
	    {MANNER_ANSWER_ONLY, 401, 0, "who"},
	    {MANNER_ANSWER_ONLY, 500, 0, NULL},
	    {MANNER_ANSWER_ONLY, 413, 0, "large"},
	    {MANNER_LAST, 204, 0, NULL},
	    {MANNER_DIE, 0, 0, NULL},
	};
	unsigned short *own = arg;
	(void)request;

	/* Of one line alone no store says that it is too large. */
	if (nrand48(own) % 4 != 0)
		return (struct reply){MANNER_ANSWER, 204, 0, NULL};
	struct reply reply =
	    replies[(size_t)nrand48(own) % (sizeof(replies) / sizeof(replies[0]))];
	const char *end = strchr(lines, '\n');
	if (reply.status == 413 && (end == NULL || end[1] == '\0'))
		reply = (struct reply){MANNER_ANSWER, 204, 0, NULL};
	return reply;
}

static void
relabel(struct scene *scene)
{
	char tool[16];
	int64_t relabelled;
	const struct ledger_entry entry = {"line-3", CONTEXT_TOOL, tool,
	    (struct wall){
		FILLED_START_NS + (int64_t)(under(40) * FILLED_PERIOD_S * 1e9)},
	    (struct wall){FILLED_START_NS}};

	snprintf(tool, sizeof(tool), "T-%d", under(100));
	assert_int_equal(ledger_put_context(
			     scene->filled.ledger, &entry, &relabelled, &scene->error),
	    0);
}

static void
set_back(struct scene *scene)
{
	int64_t shots, events;
	struct wall from = {
	    FILLED_START_NS + (int64_t)(under(40) * FILLED_PERIOD_S * 1e9)};

	assert_int_equal(ledger_set_back(scene->filled.ledger, "plant", from, &shots,
			     &events, &scene->error),
	    0);
}

static void
do_something(struct scene *scene)
{
	switch (under(40)) {
	case 0:
		filled_add_shots(&scene->filled, 1 + under(6));
		break;
	case 1:
		filled_add_event(&scene->filled, "note", "something");
		break;
	case 2:
	case 3:
		add_reading(scene, (struct wall){0});
		break;
	case 4:
		restart(scene);
		break;
	case 5:
		kill_store(scene);
		break;
	case 6:
		set_back(scene);
		break;
	case 7:
		relabel(scene);
		break;
	case 8:
		usleep((useconds_t)under(200000));
		break;
	default:
		step(scene);
	}
}

static void
whatever_happens_the_store_is_as_the_ledger(void **state)
{
	unsigned seed = seed_take(1);
	(void)state;

	for (unsigned round = 0; round < 10; round++) {
		struct scene scene;
		unsigned short own[3] = {
		    (unsigned short)(seed + round), (unsigned short)round, 7};
		memcpy(dice, own, sizeof(dice));
		dice[2] = 9;
		scene_open(&scene, under(10), round % 2 == 0 ? 0 : SETTLE_S);
		scene.settings->reading_period_s = 10;
		scene.settings->batch_lines = 100 + under(400);
		scene.settings->timeout_s = 2;
		scene.store.arg = own;
		scene.store.script = now_and_then_trouble;
		for (int i = 0; i < 150; i++)
			do_something(&scene);
		/* On a slow machine a quarter of trouble would go on for ever. */
		for (int i = 0; i < 2000 && step(&scene) != DELIVERY_DONE; i++)
			;
		scene.store.script = NULL;
		settle_all(&scene);
		if (round % 2 != 0)
			kill_store(&scene);
		assert_all_there(&scene, true);
		assert_int_equal(delivery_counts(scene.delivery)->refused, 0);
		scene_close(&scene);
	}
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(whatever_happens_the_store_is_as_the_ledger),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
