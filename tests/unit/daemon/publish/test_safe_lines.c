/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Whatever stands in the ledger, what is made of it is lines that every store takes. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <math.h>
#include <stdio.h>

#include "conf/feature.h"
#include "daemon/publish/line_protocol.h"
#include "tests/unit/daemon/publish/safe_line.h"
#include "tests/unit/seed.h"

enum { ROUNDS = 3000, KINDS = 8 };

static unsigned short state_[3];

/* The tag keys of each measurement as its first point had them. */
static struct keys {
	char measurement[32], keys[512];
} keys[KINDS + 2];

static int
under(int bound)
{
	return (int)(nrand48(state_) % bound);
}

/* Bytes of every sort, more of those that mean something than by chance. */
static void
hostile(char *to, size_t room)
{
	static const char *const pieces[] = {"\\", "\"", ",", "=", " ", "\n", "\r",
	    "\t", "#", "\x7f", "\x01", "\xc3\xa4", "\xe2\x82\xac", "\xff", "\xc3", "a",
	    "Z9", "\\\"", "\\,", "time", "=\"", ",x=1 ", "\xf0\x9f\x94\xa5", "'", "0",
	    "i"};
	size_t length = 0, most = (size_t)under((int)room);

	while (length < most) {
		const char *piece =
		    pieces[under((int)(sizeof(pieces) / sizeof(pieces[0])))];
		char any[2] = {(char)(1 + under(255)), '\0'};
		if (under(8) == 0)
			piece = any;
		for (; *piece != '\0' && length < most; piece++)
			to[length++] = *piece;
	}
	to[length] = '\0';
}

static double
number(void)
{
	uint64_t bits = (uint64_t)jrand48(state_) << 32 ^ (uint32_t)jrand48(state_);
	double value;

	switch (under(6)) {
	case 0:
		return NAN;
	case 1:
		return under(2) == 0 ? INFINITY : -INFINITY;
	case 2:
		return (double)(under(100001) - 50000) * 0.001;
	case 3:
		return (double)(under(2001) - 1000);
	case 4:
		return ldexp(1, under(2000) - 1000);
	default:
		memcpy(&value, &bits, sizeof(value));
		return value;
	}
}

static struct wall
instant(void)
{
	switch (under(8)) {
	case 0:
		return (struct wall){0};
	case 1:
		return (struct wall){(int64_t)under(2000000000) - 1000000000};
	default:
		return (struct wall){
		    (INT64_C(1600000000) + under(300000000)) * 1000000000 +
		    under(1000000) * 1000};
	}
}

static struct ledger_shot
any_shot(void)
{
	struct ledger_shot shot = {
	    .shot_no = 1 + under(2000000000),
	    .revision = under(4),
	    .cycle_count = under(3) - 1,
	    .outcome = (enum shot_outcome)under(SHOT_OUTCOME_COUNT),
	    .flags = (uint32_t)under(1 << SHOT_FLAG_BITS),
	    .set_points = under(2) == 0 ? 0 : (uint64_t)jrand48(state_),
	    .uncertainty_s = number(),
	    .filed_at = instant(),
	    .loaded_at = instant(),
	    .heat_start_at = instant(),
	    .heat_end_at = instant(),
	    .form_start_at = instant(),
	    .form_end_at = instant(),
	    .closed_at = instant(),
	};

	hostile(shot.line, sizeof(shot.line));
	hostile(shot.recipe, sizeof(shot.recipe));
	hostile(shot.tool, sizeof(shot.tool));
	hostile(shot.lot, sizeof(shot.lot));
	hostile(shot.material, sizeof(shot.material));
	hostile(shot.reason, sizeof(shot.reason));
	hostile(shot.side, sizeof(shot.side));
	hostile(shot.properties, sizeof(shot.properties));
	for (int id = 0; id < FEATURE_COUNT; id++) {
		shot.value[id] = number();
		shot.absent[id] = isfinite(shot.value[id])
		                      ? ABSENT_NOT
		                      : (unsigned char)under(ABSENT_NOT_CONFIGURED + 1);
	}
	return shot;
}

static struct ledger_channel
any_channel(void)
{
	struct ledger_channel channel = {.min = number(),
	    .mean = number(),
	    .max = number(),
	    .sd = number(),
	    .last = number(),
	    .coverage = number()};

	hostile(channel.device, sizeof(channel.device));
	hostile(channel.channel, sizeof(channel.channel));
	hostile(channel.role, sizeof(channel.role));
	return channel;
}

static void
add_shot(struct text *text, const struct line_protocol_form *form)
{
	const struct ledger_shot shot = any_shot();
	const struct ledger_channel channel = any_channel();
	struct ledger_superseded earlier = {.revision = under(1000),
	    .outcome = (enum shot_outcome)under(SHOT_OUTCOME_COUNT)};
	char set_up[17];

	hostile(set_up, sizeof(set_up));
	hostile(earlier.recipe, sizeof(earlier.recipe));
	hostile(earlier.tool, sizeof(earlier.tool));
	hostile(earlier.material, sizeof(earlier.material));
	line_protocol_shot(text, form, &shot, set_up);
	line_protocol_words(text, form, &shot, set_up);
	line_protocol_absent(text, form, &shot);
	line_protocol_channel(text, form, &shot, &channel);
	line_protocol_mark(text, form, &shot, &earlier);
	line_protocol_channel_mark(text, form, &shot, &earlier, &channel);
}

static void
add_others(struct text *text, const struct line_protocol_form *form)
{
	struct ledger_event event = {.at = instant(), .change = under(2000000000)};
	char names[4][64], text_of[40];
	for (int i = 0; i < 4; i++)
		hostile(names[i], sizeof(names[i]));
	const struct reading_channel reading = {
	    names[0], names[1], names[2], number(), number(), 0.5};
	const struct ledger_device device = {.device = names[0],
	    .line = names[1],
	    .state = under(2) == 0 ? "ok" : "silent",
	    .at = instant(),
	    .late_p99_s = number(),
	    .late_worst_s = number()};
	struct ledger_logger logger = {.at = instant(), .started = instant()};

	hostile(event.line, sizeof(event.line));
	hostile(event.kind, sizeof(event.kind));
	hostile(event.text, sizeof(event.text));
	hostile(logger.host, sizeof(logger.host));
	hostile(text_of, sizeof(logger.version));
	memcpy(logger.version, text_of, sizeof(logger.version));
	line_protocol_event(text, form, &event);
	line_protocol_reading(text, form, names[3], instant(), &reading);
	line_protocol_device(text, form, &device, number());
	line_protocol_logger(text, form, &logger, &(struct line_protocol_standing){0});
}

/* The same keys in the same order as any other point of its measurement. */
static void
assert_same_keys(const struct safe_line *line)
{
	char all[512] = "";
	size_t i = 0;

	if (strcmp(line->measurement, "shot_words") == 0)
		return; /* of stores alone that do not mind */
	for (int tag = 0; tag < line->tag_count; tag++) {
		strncat(all, line->tag_names[tag], 64);
		strncat(all, " ", 2);
	}
	while (keys[i].measurement[0] != '\0' &&
	       strcmp(keys[i].measurement, line->measurement) != 0)
		i++;
	assert_true(i < KINDS);
	if (keys[i].measurement[0] == '\0') {
		memcpy(keys[i].measurement, line->measurement, 32);
		memcpy(keys[i].keys, all, sizeof(all));
	}
	assert_string_equal(keys[i].keys, all);
}

static void
every_line_is_one_that_every_store_takes(void **state)
{
	static struct safe_line line;
	struct text text;
	size_t count = 0, strings = 0;
	(void)state;

	state_[0] = (unsigned short)seed_take(1);
	text_init(&text, 4 << 20);
	for (int i = 0; i < ROUNDS; i++) {
		char site[48];
		hostile(site, sizeof(site));
		const struct line_protocol_form form =
		    line_protocol_form(site, (enum store_kind)(i % STORE_KIND_COUNT));
		text_clear(&text);
		add_shot(&text, &form);
		add_others(&text, &form);
		assert_false(text.failed);
		for (const char *at = text.length > 0 ? text.bytes : ""; *at != '\0';) {
			at = safe_line_read(&line, at);
			assert_true(form.strings || line.string_count == 0);
			assert_same_keys(&line);
			strings += (size_t)line.string_count;
			count++;
		}
	}
	assert_true(count > 10 * ROUNDS && strings > ROUNDS);
	text_release(&text);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(every_line_is_one_that_every_store_takes),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
