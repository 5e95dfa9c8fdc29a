/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Sheets moved on by edges: a ring's frames together, a shuttle's frame by itself. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdlib.h>

#include "conf/settings.h"
#include "daemon/shot/freeze.h"
#include "daemon/shot/shot.h"
#include "daemon/shot/stations.h"
#include "tests/unit/near.h"

static const struct line_settings ring_of_four = {
    .machine = MACHINE_ROTARY,
    .station_count = 4,
    .stations = {{"load", STATION_LOAD}, {"oven-a", STATION_OVEN},
	{"oven-b", STATION_OVEN}, {"form", STATION_FORM}},
    .form_limit_s = 30,
};
static const struct line_settings ring_with_unload = {
    .machine = MACHINE_ROTARY,
    .station_count = 4,
    .stations = {{"load", STATION_LOAD}, {"oven", STATION_OVEN}, {"form", STATION_FORM},
	{"unload", STATION_UNLOAD}},
    .form_limit_s = 30,
};
static const struct line_settings shuttle = {
    .machine = MACHINE_SHUTTLE,
    .station_count = 3,
    .stations = {{"load", STATION_LOAD}, {"oven", STATION_OVEN},
	{"form", STATION_FORM}},
    .form_limit_s = 30,
};
static const struct intake plain = {.recipe = 7};

/* Seen between `s` and a poll of half a second later. */
static struct edge
at(double s)
{
	return (struct edge){.known = true,
	    .before = {(int64_t)(s * 1e9)},
	    .at = {(int64_t)((s + 0.5) * 1e9)},
	    .wall = {(int64_t)(s * 1e9) + 1}};
}

static void
index_at(
    struct stations *stations, double s, bool load_empty, bool form_empty, bool eye)
{
	struct edge starts = at(s), done = at(s + 8.0);

	stations_index_starts(stations, &starts, load_empty, form_empty);
	stations_index_done(stations, &done, &plain, eye);
}

static void
form_at(struct stations *stations, double s)
{
	struct edge closes = at(s), opens = at(s + 60.0);

	stations_form_closes(stations, &closes, 5);
	stations_form_opens(stations, &opens);
}

/* The one sheet that has left. */
static struct sheet
one_left(struct stations *stations)
{
	assert_int_equal(stations->leaving_count, 1);
	stations->leaving_count = 0;
	return stations->leaving[0];
}

static void
begin(struct stations *stations, const struct line_settings *line)
{
	stations_init(stations, line);
	if (line->machine == MACHINE_ROTARY)
		stations_await(stations, (struct mono){0});
}

static void
two_ovens_make_one_heat_with_the_index_in_it(void **state)
{
	struct stations stations;
	struct sheet sheet;

	(void)state;
	begin(&stations, &ring_of_four);
	index_at(&stations, 100.0, false, false, false);
	index_at(&stations, 200.0, true, false, false);
	struct edge sag = at(290.0);
	stations_sag(&stations, &sag);
	index_at(&stations, 300.0, true, false, false);
	form_at(&stations, 311.0);
	stations.leaving_count = 0;
	index_at(&stations, 400.0, true, false, false);
	sheet = one_left(&stations);
	assert_int_equal(sheet.number, 1);
	assert_int_equal(sheet.stay_count, 2);
	assert_int_equal(sheet.stays[1].oven, 1);
	assert_near(
	    edge_span_s(sheet_heat_start(&sheet), sheet_heat_end(&sheet)), 192.0, 1e-9);
	assert_near(sheet_heat_gap_s(&sheet), 8.0, 1e-9);
	assert_near(edge_span_s(&sheet.stays[1].in, &sheet.sag), 82.0, 1e-9);
	assert_near(edge_span_s(&sheet.form_start, &sheet.form_end), 60.0, 1e-9);
	assert_false(sheet_reheated(&sheet));
	assert_int_equal(sheet.flags, 0);
}

static void
a_part_leaves_the_record_at_the_form_station_not_at_unloading(void **state)
{
	struct stations stations;

	(void)state;
	begin(&stations, &ring_with_unload);
	index_at(&stations, 100.0, false, false, true);
	index_at(&stations, 200.0, false, false, true);
	form_at(&stations, 211.0);
	stations.leaving_count = 0;
	index_at(&stations, 300.0, false, false, true);
	assert_int_equal(one_left(&stations).number, 1);
	form_at(&stations, 311.0);
	index_at(&stations, 400.0, false, false, true);
	assert_int_equal(one_left(&stations).number, 2);
}

static void
an_unformed_sheet_that_is_not_taken_off_goes_round_again(void **state)
{
	struct stations stations;
	struct sheet sheet;

	(void)state;
	begin(&stations, &ring_with_unload);
	index_at(&stations, 100.0, false, false, true);
	index_at(&stations, 200.0, true, false, true); /* to form, not formed */
	stations.leaving_count = 0;
	index_at(&stations, 300.0, true, false, true);  /* to unload */
	index_at(&stations, 400.0, true, false, true);  /* to load */
	stations.leaving_count = 0;                     /* the empty ones */
	index_at(&stations, 500.0, false, false, true); /* into the oven again */
	index_at(&stations, 600.0, true, false, true);
	form_at(&stations, 611.0);
	stations.leaving_count = 0;
	index_at(&stations, 700.0, true, false, true);
	sheet = one_left(&stations);
	assert_int_equal(sheet.number, 1);
	assert_true(sheet_reheated(&sheet));
	assert_int_equal(sheet.stay_count, 2);
	assert_true(sheet.flags & SHOT_FLAG_REHEAT);
	assert_near(sheet_heat_gap_s(&sheet), 308.0, 1e-9);
}

static void
an_unformed_sheet_that_is_taken_off_is_a_record_of_its_own(void **state)
{
	struct stations stations;
	struct sheet sheet;

	(void)state;
	begin(&stations, &ring_with_unload);
	index_at(&stations, 100.0, false, false, true);
	index_at(&stations, 200.0, true, false, true);
	stations.leaving_count = 0;
	index_at(&stations, 300.0, true, false, true);
	index_at(&stations, 400.0, true, false, true);
	stations.leaving_count = 0;
	stations_load_clear(
	    &stations, (struct mono){410000000000}, (struct wall){410000000000});
	sheet = one_left(&stations);
	assert_int_equal(sheet.number, 1);
	assert_false(sheet.form_start.known);
	stations_load_clear(&stations, (struct mono){1}, (struct wall){1});
	assert_int_equal(stations.leaving_count, 0);
}

/* --- a frame of its own ---------------------------------------------------------------- */

static void
clamp_at(struct stations *stations, double s, bool closes)
{
	struct edge edge = at(s);

	if (closes)
		stations_clamp_closes(stations, &edge);
	else
		stations_clamp_opens(stations, &edge);
}

static void
heat_at(struct stations *stations, double s, double heat_s)
{
	struct edge in = at(s), out = at(s + heat_s);

	stations_oven_takes(stations, &in, &plain, false, true);
	stations_oven_gives(stations, &out);
}

static void
a_shuttles_sheet_goes_its_way_alone(void **state)
{
	struct stations stations;
	struct sheet sheet;

	(void)state;
	begin(&stations, &shuttle);
	for (int n = 1; n <= 3; n++) {
		double s = 1000.0 * n;

		clamp_at(&stations, s, true);
		heat_at(&stations, s + 20.0, 150.0);
		form_at(&stations, s + 175.0);
		clamp_at(&stations, s + 250.0, false);
		sheet = one_left(&stations);
		assert_int_equal(sheet.number, n);
		assert_near(
		    edge_span_s(&sheet.loaded, sheet_heat_start(&sheet)), 20.0, 1e-9);
		assert_near(edge_span_s(&sheet.arrived, &sheet.form_start), 5.0, 1e-9);
		assert_int_equal(sheet.flags, 0);
		if (n > 1)
			assert_near(
			    edge_span_s(&sheet.last_form_start, &sheet.form_start),
			    1000.0, 1e-9);
	}
}

static void
a_shuttles_unformed_sheet_goes_in_again_while_it_is_clamped(void **state)
{
	struct stations stations;
	struct sheet sheet;

	(void)state;
	begin(&stations, &shuttle);
	clamp_at(&stations, 100.0, true);
	heat_at(&stations, 120.0, 150.0);
	heat_at(&stations, 320.0, 60.0);
	form_at(&stations, 385.0);
	clamp_at(&stations, 460.0, false);
	sheet = one_left(&stations);
	assert_int_equal(sheet.stay_count, 2);
	assert_true(sheet.flags & SHOT_FLAG_REHEAT);
}

static void
a_part_that_never_left_the_clamp_puts_what_goes_in_next_in_doubt(void **state)
{
	struct stations stations;

	(void)state;
	begin(&stations, &shuttle);
	clamp_at(&stations, 100.0, true);
	heat_at(&stations, 120.0, 150.0);
	form_at(&stations, 275.0);
	heat_at(&stations, 420.0, 150.0);
	assert_false(one_left(&stations).unseen);
	clamp_at(&stations, 600.0, false);
	struct sheet next = one_left(&stations);
	assert_true(next.unseen);
	assert_true(next.flags & SHOT_FLAG_SEQUENCE);
}

static void
a_sheet_that_is_clamped_and_let_go_is_nobody(void **state)
{
	struct stations stations;

	(void)state;
	begin(&stations, &shuttle);
	clamp_at(&stations, 100.0, true);
	clamp_at(&stations, 110.0, false);
	assert_int_equal(stations.leaving_count, 0);
}

static void
a_frame_that_loses_its_sheet_is_scrapped_but_not_one_that_is_unloaded(void **state)
{
	struct stations stations;
	struct edge lost = at(280.0);

	(void)state;
	begin(&stations, &shuttle);
	clamp_at(&stations, 100.0, true);
	heat_at(&stations, 120.0, 150.0);
	stations_frame_empties(&stations, &lost);
	clamp_at(&stations, 300.0, false);
	assert_true(one_left(&stations).gone);
	clamp_at(&stations, 400.0, true);
	heat_at(&stations, 420.0, 150.0);
	lost = at(600.0);
	stations_frame_empties(&stations, &lost);
	clamp_at(&stations, 600.5, false);
	assert_false(one_left(&stations).gone);
}

static void
platens_that_close_on_nothing_make_a_record_in_doubt(void **state)
{
	struct stations stations;
	struct sheet sheet;

	(void)state;
	begin(&stations, &shuttle);
	form_at(&stations, 100.0);
	clamp_at(&stations, 200.0, false);
	sheet = one_left(&stations);
	assert_true(sheet.unseen);
	assert_true(sheet.flags & SHOT_FLAG_SEQUENCE);
}

/* --- keeping ------------------------------------------------------------------------- */

static void
what_is_frozen_thaws_to_the_same(void **state)
{
	static unsigned char bytes[65536], again[65536];
	struct stations stations, thawed;

	(void)state;
	begin(&stations, &ring_of_four);
	index_at(&stations, 100.0, false, false, true);
	index_at(&stations, 200.0, false, false, true);
	index_at(&stations, 300.0, false, false, true);
	form_at(&stations, 311.0);
	struct freeze freeze = freeze_into(bytes, sizeof(bytes));
	stations_freeze(&stations, &freeze);
	assert_false(freeze.failed);
	stations_init(&thawed, &ring_of_four);
	struct freeze thaw = freeze_from(bytes, freeze.length);
	stations_freeze(&thawed, &thaw);
	assert_false(thaw.failed);
	struct freeze second = freeze_into(again, sizeof(again));
	stations_freeze(&thawed, &second);
	assert_int_equal(second.length, freeze.length);
	assert_memory_equal(bytes, again, freeze.length);
	for (size_t length = 0; length < freeze.length; length++) {
		struct freeze cut = freeze_from(bytes, length);

		stations_init(&thawed, &ring_of_four);
		stations_freeze(&thawed, &cut);
		assert_true(cut.failed);
	}
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(two_ovens_make_one_heat_with_the_index_in_it),
	    cmocka_unit_test(
		a_part_leaves_the_record_at_the_form_station_not_at_unloading),
	    cmocka_unit_test(an_unformed_sheet_that_is_not_taken_off_goes_round_again),
	    cmocka_unit_test(
		an_unformed_sheet_that_is_taken_off_is_a_record_of_its_own),
	    cmocka_unit_test(a_shuttles_sheet_goes_its_way_alone),
	    cmocka_unit_test(
		a_shuttles_unformed_sheet_goes_in_again_while_it_is_clamped),
	    cmocka_unit_test(
		a_part_that_never_left_the_clamp_puts_what_goes_in_next_in_doubt),
	    cmocka_unit_test(a_sheet_that_is_clamped_and_let_go_is_nobody),
	    cmocka_unit_test(
		a_frame_that_loses_its_sheet_is_scrapped_but_not_one_that_is_unloaded),
	    cmocka_unit_test(platens_that_close_on_nothing_make_a_record_in_doubt),
	    cmocka_unit_test(what_is_frozen_thaws_to_the_same),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
