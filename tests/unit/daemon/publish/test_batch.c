/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <string.h>

#include "daemon/publish/backoff.h"
#include "daemon/publish/batch.h"

static void
fill(struct batch *batch, size_t count)
{
	struct text lines;

	batch_init(batch, 1 << 20);
	text_init(&lines, 1 << 20);
	for (size_t i = 0; i < count; i++) {
		text_clear(&lines);
		text_printf(&lines, "line %zu\n", i);
		assert_int_equal(batch_add(batch, &lines, (int64_t)(i + 1)), 0);
	}
	text_release(&lines);
}

/* Settles the batch against a store that refuses what `bad` says; the posts it took. */
static int
settle(struct batch *batch, bool (*bad)(size_t line), size_t *set_aside)
{
	int posts = 0;

	*set_aside = 0;
	while (!batch_settled(batch)) {
		bool refused = false;
		for (size_t i = 0; i < batch->span; i++)
			refused = refused || bad(batch->first + i);
		posts++;
		if (!refused) {
			batch_take(batch);
		} else if (!batch_halve(batch)) {
			assert_true(bad(batch->first));
			batch_skip(batch);
			(*set_aside)++;
		}
	}
	return posts;
}

static bool
none(size_t line)
{
	(void)line;
	return false;
}

static bool
every(size_t line)
{
	(void)line;
	return true;
}

static bool
the_37th(size_t line)
{
	return line == 37;
}

static bool
every_third(size_t line)
{
	return line % 3 == 0;
}

static void
only_the_bad_lines_are_set_aside(void **state)
{
	const struct {
		bool (*bad)(size_t line);
		size_t set_aside;
		int posts_max;
	} cases[] = {
	    {none, 0, 1}, {the_37th, 1, 20}, /* 3 log2 100 */
	    {every_third, 34, 200},
	    {every, 100, 106}, /* one each, and the way down to one */
	};
	(void)state;

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		struct batch batch;
		size_t set_aside;
		fill(&batch, 100);
		int posts = settle(&batch, cases[i].bad, &set_aside);
		assert_int_equal(set_aside, cases[i].set_aside);
		assert_in_range(posts, 1, cases[i].posts_max);
		assert_int_equal(batch.change, 100);
		batch_release(&batch);
	}
}

static void
a_span_is_whole_lines(void **state)
{
	struct batch batch;
	size_t length;
	(void)state;

	fill(&batch, 3);
	const char *lines = batch_span(&batch, &length);
	assert_int_equal(length, strlen("line 0\nline 1\nline 2\n"));
	assert_memory_equal(lines, "line 0\nline 1\nline 2\n", length);
	assert_true(batch_halve(&batch));
	batch_take(&batch);
	lines = batch_span(&batch, &length);
	assert_memory_equal(lines, "line 1\nline 2\n", length);
	assert_int_equal(length, strlen("line 1\nline 2\n"));
	batch_release(&batch);
}

/* A shot that gives no line must still move the cursor. */
static void
nothing_to_send_still_moves_the_cursor(void **state)
{
	struct batch batch;
	struct text none_at_all;
	(void)state;

	text_init(&none_at_all, 100);
	batch_init(&batch, 100);
	assert_int_equal(batch_add(&batch, &none_at_all, 9), 0);
	assert_int_equal(batch.change, 9);
	assert_true(batch_settled(&batch));
	batch_release(&batch);
}

static void
a_batch_past_its_maximum_is_refused(void **state)
{
	struct batch batch;
	struct text lines;
	(void)state;

	text_init(&lines, 100);
	text_puts(&lines, "0123456789\n");
	batch_init(&batch, 16);
	assert_int_equal(batch_add(&batch, &lines, 1), 0);
	assert_true(batch_add(&batch, &lines, 2) < 0);
	batch_clear(&batch);
	assert_int_equal(batch_add(&batch, &lines, 2), 0);
	assert_int_equal(batch.count, 1);
	batch_release(&batch);
	text_release(&lines);
}

static void
the_wait_doubles_up_to_the_longest(void **state)
{
	struct backoff backoff;
	const int expected_s[] = {1, 2, 4, 8, 10, 10};
	(void)state;

	backoff_init(&backoff, 1, 10);
	for (size_t i = 0; i < sizeof(expected_s) / sizeof(expected_s[0]); i++)
		assert_int_equal((int)backoff_next_s(&backoff, 0, 0), expected_s[i]);
	backoff_reset(&backoff);
	assert_int_equal((int)backoff_next_s(&backoff, 0, 0), 1);
}

static void
what_the_store_asked_for_is_heeded(void **state)
{
	struct backoff backoff;
	(void)state;

	backoff_init(&backoff, 4, 60);
	assert_int_equal((int)backoff_next_s(&backoff, 20, 1), 20);
	assert_int_equal(
	    (int)backoff_next_s(&backoff, 1, 1), 4); /* 8, less the jitter */
	assert_int_equal((int)backoff_next_s(&backoff, 1e9, 1), 3600);
}

/* However many lines it loses, a change is counted once. */
static void
what_is_dropped_is_counted_by_change(void **state)
{
	struct batch batch;
	struct text lines;
	(void)state;

	text_init(&lines, 100);
	text_puts(&lines, "a\nb\n");
	batch_init(&batch, 1000);
	for (int64_t change = 1; change <= 4; change++)
		assert_int_equal(batch_add(&batch, &lines, change), 0);
	batch_halve(&batch);
	batch_halve(&batch);
	batch_halve(&batch);
	assert_int_equal(batch_drop(&batch), 1); /* the first line of the first */
	assert_int_equal(batch.span, 2);
	assert_int_equal(batch_drop(&batch), 1); /* its second, one of the second */
	assert_int_equal(batch.span, 4);
	assert_int_equal(batch_drop(&batch), 2);
	assert_int_equal(batch_drop(&batch), 0);
	assert_true(batch_settled(&batch));
	batch_release(&batch);
	text_release(&lines);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(only_the_bad_lines_are_set_aside),
	    cmocka_unit_test(a_span_is_whole_lines),
	    cmocka_unit_test(nothing_to_send_still_moves_the_cursor),
	    cmocka_unit_test(a_batch_past_its_maximum_is_refused),
	    cmocka_unit_test(what_is_dropped_is_counted_by_change),
	    cmocka_unit_test(the_wait_doubles_up_to_the_longest),
	    cmocka_unit_test(what_the_store_asked_for_is_heeded),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
