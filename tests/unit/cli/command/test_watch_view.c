/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tests/unit/cli/command/plant.h"

#include "cli/command/watch_view.h"

enum { WIDTH = 120 };

/* The demo's line as somebody could see it, without a bus. */
struct scene {
	struct settings *settings;
	struct watch_view view;
	char *out;
	size_t length;
};

static int
channel_of(const struct settings *settings, const char *name)
{
	for (size_t i = 0; i < settings->channel_count; i++)
		if (strcmp(settings->channels[i].name, name) == 0)
			return (int)i;
	abort();
}

static void
set_scene(struct scene *scene)
{
	static struct problems problems;

	*scene = (struct scene){.settings = settings_load("conf/demo.ini", &problems)};
	assert_non_null(scene->settings);
	struct watch_view *view = &scene->view;
	assert_true(watch_view_init(view, scene->settings));
	view->at.ns = PLANT_SHIFT_NS;
	view->watched_s = 34;
	view->line_count = 1;
	for (uint32_t i = 0; i < scene->settings->device_count; i++)
		view->devices[i] =
		    (struct device_status){.device = i, .answering = 1, .scans = 68};
	for (size_t i = 0; i < scene->settings->channel_count; i++)
		view->readings[i] = (struct watch_reading){
		    .heard = true, .last = {1, QUALITY_GOOD, 1}, .age_s = 0.25};

	struct watch_line *line = &view->lines[0];
	line->cycles = 3;
	line->cycles_until.ns = PLANT_SHIFT_NS - 10 * CLOCK_SECOND_NS;
	line->place_count = 3;
	line->places[0] = (struct tracker_place){
	    .station = "load", .side = "", .seen = true, .empty = true, .since_s = NAN};
	line->places[1] = (struct tracker_place){.station = "oven",
	    .side = "",
	    .seen = true,
	    .number = 7,
	    .since_s = 12,
	    .flags = SHOT_FLAG_GAP};
	line->places[2] =
	    (struct tracker_place){.station = "form", .side = "", .since_s = NAN};
	line->bit_count = 2;
	line->bits[0] = (struct duty_bit){
	    .channel = (uint32_t)channel_of(scene->settings, "rotating"),
	    .known = true,
	    .level = true,
	    .on = 0.045,
	    .changes = 2};
	line->bits[1] = (struct duty_bit){
	    .channel = (uint32_t)channel_of(scene->settings, "form_closed"),
	    .on = NAN,
	    .changes = NAN};
}

static void
strike(struct scene *scene)
{
	free(scene->out);
	watch_view_release(&scene->view);
	settings_free(scene->settings);
}

static const char *
draw(struct scene *scene, enum page_format format)
{
	free(scene->out);
	scene->out = NULL;
	FILE *out = open_memstream(&scene->out, &scene->length);
	assert_non_null(out);
	struct page *page = page_new(out, format, false, "channels");
	assert_non_null(page);
	page_set_width(page, WIDTH);
	watch_view_put(page, &scene->view);
	assert_int_equal(page_end(page), 0);
	fclose(out);
	return scene->out;
}

static void
who_stands_where_and_since_when(void **state)
{
	struct scene scene;

	(void)state;
	set_scene(&scene);
	const char *page = draw(&scene, PAGE_TEXT);
	assert_tells(page, "line-3 at 2026-03-02 ");
	assert_tells(page, "watched for 34 s\n");
	assert_tells(page, "  load     none               ");
	assert_tells(page, "  oven     sheet 7            ");
	assert_tells(page, "  polls missing\n");
	assert_tells(page, "  form     not followed yet   ");
	scene.view.lines[0].places[2] = (struct tracker_place){.station = "form",
	    .side = "left",
	    .seen = true,
	    .number = 6,
	    .since_s = 3,
	    .forming = true};
	page = draw(&scene, PAGE_TEXT);
	assert_tells(page, "  left  form     sheet 6, platens closed  ");
	page = draw(&scene, PAGE_JSON);
	assert_tells(page,
	    "{\"side\": \"left\", \"station\": \"form\", \"seen\": true, "
	    "\"sheet\": 6, \"empty\": false, \"forming\": true, "
	    "\"stands_s\": 3, \"flags\": \"\"}");
	strike(&scene);
}

static void
a_bit_that_looks_wrong_is_told(void **state)
{
	struct scene scene;

	(void)state;
	set_scene(&scene);
	const char *page = draw(&scene, PAGE_TEXT);
	assert_tells(page, "Status bits over the last 3 cycles, until ");
	assert_tells(page, "  rotating     rotating       1   4.5              2.0\n");
	assert_tells(page, "  form_closed  form_closed    -     -                -\n");
	assert_false(watch_view_is_odd(&scene.view));
	snprintf(scene.view.lines[0].bits[1].remark, DUTY_TEXT,
	    "looks swapped with 'rotating'");
	page = draw(&scene, PAGE_TEXT);
	assert_tells(page, "  looks swapped with 'rotating'\n");
	assert_true(watch_view_is_odd(&scene.view));
	page = draw(&scene, PAGE_JSON);
	assert_tells(page, "\"on_ratio\": 0.045, \"changes\": 2, \"remark\": null}");
	assert_tells(page, "\"remark\": \"looks swapped with 'rotating'\"}");
	strike(&scene);
}

static void
a_device_that_is_silent_is_told(void **state)
{
	struct scene scene;

	(void)state;
	set_scene(&scene);
	scene.view.devices[2] = (struct device_status){
	    .device = 2, .answering = 0, .failures = 9, .text = "timed out"};
	const char *page = draw(&scene, PAGE_TEXT);
	assert_tells(page, "ovens, unit 5 at 127.0.0.1:1504: does not answer; 0 scans, "
			   "9 failed\n");
	assert_tells(page, "\ntimed out\n");
	assert_true(watch_view_is_odd(&scene.view));
	/* and who says why, once a channel has no value for it */
	assert_tells_not(page, "check --live");
	uint32_t channel = scene.settings->devices[2].first_channel;
	scene.view.readings[channel].last.quality = QUALITY_COMM_FAULT;
	assert_tells(draw(&scene, PAGE_TEXT),
	    "\nwhy, and what to look at: evensoak check --live --device ovens\n");
	scene.view.readings[channel].last.quality = QUALITY_GOOD;
	scene.view.devices[2].answering = -1;
	assert_tells(draw(&scene, PAGE_TEXT), "1504: not asked yet; ");
	/* one block refused */
	scene.view.devices[2] = (struct device_status){.device = 2,
	    .in_part = true,
	    .scans = 40,
	    .failures = 40,
	    .text = "read holding 40012: exception 2"};
	page = draw(&scene, PAGE_TEXT);
	assert_tells(page, "1504: answers in part; 40 scans, 40 failed\n");
	assert_tells(page, "\nread holding 40012: exception 2\n");
	assert_tells_not(page, "does not answer");
	assert_true(watch_view_is_odd(&scene.view));
	assert_tells(draw(&scene, PAGE_JSON), "\"in_part\": true,");
	/* a line that is not watched is no trouble */
	scene.view.line_count = 0;
	assert_false(watch_view_is_odd(&scene.view));
	assert_tells_not(draw(&scene, PAGE_TEXT), "ovens");
	strike(&scene);
}

static void
bits_stand_in_one_table_and_before_a_cycle_say_so(void **state)
{
	struct scene scene;

	(void)state;
	set_scene(&scene);
	const char *page = draw(&scene, PAGE_TEXT);
	const char *bit = strstr(page, "\n  rotating ");
	assert_non_null(bit);
	assert_null(strstr(bit + 1, "\n  rotating "));
	assert_tells(draw(&scene, PAGE_CSV), "controller,rotating,");
	scene.view.lines[0].cycles = 0;
	page = draw(&scene, PAGE_TEXT);
	assert_tells(page, "\nStatus bits: no whole cycle yet\n");
	assert_tells_not(page, "0 cycles");
	strike(&scene);
}

static const char *
draw_piece(struct scene *scene, size_t piece)
{
	free(scene->out);
	scene->out = NULL;
	FILE *out = open_memstream(&scene->out, &scene->length);
	assert_non_null(out);
	struct page *page = page_new(out, PAGE_TEXT, false, NULL);
	assert_non_null(page);
	watch_view_put_piece(page, &scene->view, piece);
	assert_int_equal(page_end(page), 0);
	fclose(out);
	return scene->out;
}

static void
it_comes_in_pieces_or_one_device_alone(void **state)
{
	struct scene scene;

	(void)state;
	set_scene(&scene);
	size_t devices = scene.settings->device_count;
	assert_int_equal(watch_view_pieces(&scene.view), 1 + devices);
	assert_tells(draw_piece(&scene, 0), "Stations");
	assert_tells_not(scene.out, ", unit ");
	for (size_t i = 0; i < devices; i++) {
		const char *piece = draw_piece(&scene, 1 + i);
		const char *name = scene.settings->devices[i].name;
		assert_memory_equal(piece, name, strlen(name));
		assert_tells_not(piece, "Stations");
		assert_null(strstr(strstr(piece, ", unit ") + 1, ", unit "));
	}

	scene.view.device = 0;
	assert_int_equal(watch_view_pieces(&scene.view), 1);
	const char *page = draw(&scene, PAGE_TEXT);
	assert_tells_not(page, "Stations");
	assert_tells_not(page, "ovens, unit");
	assert_tells(page, "  rotating "); /* it has no table of its own here */
	scene.view.devices[2].answering = 0;
	assert_false(watch_view_is_odd(&scene.view));
	strike(&scene);
}

static void
an_empty_frame_that_was_formed_asks_for_the_stations(void **state)
{
	struct scene scene;

	(void)state;
	set_scene(&scene);
	assert_tells_not(draw(&scene, PAGE_TEXT), "as many stations");
	scene.view.lines[0].empty_formed = 1;
	assert_tells(
	    draw(&scene, PAGE_TEXT), "an empty frame was formed: are there as ");
	assert_true(watch_view_is_odd(&scene.view));
	assert_tells(draw(&scene, PAGE_JSON), "\"empty_formed\": 1");
	strike(&scene);
}

static void
positions_of_one_role_share_a_row(void **state)
{
	struct scene scene;

	(void)state;
	set_scene(&scene);
	int first = channel_of(scene.settings, "zone_top_1");
	scene.view.readings[first + 3].last =
	    (struct reading){NAN, QUALITY_SENSOR_FAULT, 0};
	scene.view.readings[first + 5].heard = false;
	scene.view.readings[first + 7].age_s = 2.5;
	const char *page = draw(&scene, PAGE_TEXT);
	assert_tells(page, "  zone_top 1-24 ");
	assert_tells(page, "2.5  22 good, 1 sensor fault, 1 not read yet");
	assert_tells(page, "  100.0 ");
	assert_tells(page, "100.0 - 100.0");
	assert_tells(page, "  tool 1-8 ");
	for (const char *line = page; *line; line = strchr(line, '\n') + 1)
		assert_true(strcspn(line, "\n") <= WIDTH);
	page = draw(&scene, PAGE_CSV);
	assert_tells(page, "device,channel,role,value,unit,quality,age_s,period_s\r\n");
	assert_tells(page, "ovens,zone_top_1,zone_top,1,1,good,0.25,2\r\n");
	assert_tells(page, "ovens,zone_top_4,zone_top,,1,sensor_fault,0.25,2\r\n");
	assert_tells(page, "ovens,zone_top_6,zone_top,,1,not_read_yet,,2\r\n");
	strike(&scene);
}

/* Each with its own age; the settings are the test's own. */
static void
positions_that_are_read_apart_have_rows_of_their_own(void **state)
{
	struct scene scene;

	(void)state;
	set_scene(&scene);
	uint32_t first = (uint32_t)channel_of(scene.settings, "zone_top_1");
	for (uint32_t i = 12; i < 24; i++) {
		scene.settings->channels[first + i].period_s = 60;
		scene.view.readings[first + i].age_s = 41.5;
	}
	const char *page = draw(&scene, PAGE_TEXT);
	assert_tells(page, "  zone_top 1-12 ");
	assert_tells(page, "  zone_top 13-24 ");
	assert_tells(page, " 60.00   41.5  good");
	strike(&scene);
}

static void
a_channel_that_stands_still_is_told(void **state)
{
	struct scene scene;

	(void)state;
	set_scene(&scene);
	int channel = channel_of(scene.settings, "tool_2");
	scene.settings->channels[channel].frozen_after_s = 120;
	assert_tells_not(draw(&scene, PAGE_TEXT), "counts as broken");
	scene.view.readings[channel].last = (struct reading){NAN, QUALITY_FROZEN, 650};
	const char *page = draw(&scene, PAGE_TEXT);
	assert_tells(page, "7 good, 1 frozen");
	assert_tells(page, "'tool_2' has shown the same for over 120 s");
	/* which one reading would not show */
	assert_tells_not(page, "check --live");
	page = draw(&scene, PAGE_CSV);
	assert_tells(page, ",tool_2,tool,,C,frozen,");
	strike(&scene);
}

static void
the_last_shot_and_event_are_told(void **state)
{
	struct scene scene;

	(void)state;
	set_scene(&scene);
	struct watch_line *line = &scene.view.lines[0];
	const char *page = draw(&scene, PAGE_TEXT);
	assert_tells(page, "  shots since then  0\n");
	assert_tells_not(page, "the last  ");
	line->shots = 2;
	line->last_outcome = SHOT_TIMER_RELEASE;
	line->last_flags = SHOT_FLAG_LATE_FORM;
	snprintf(line->last_reason, sizeof line->last_reason, "no sag after 230 s");
	snprintf(line->event, sizeof line->event, "the counter was set");
	page = draw(&scene, PAGE_TEXT);
	assert_tells(page, "timer release: no sag after 230 s; platens closed late\n");
	assert_tells(page, "the counter was set\n");
	strike(&scene);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(who_stands_where_and_since_when),
	    cmocka_unit_test(a_bit_that_looks_wrong_is_told),
	    cmocka_unit_test(a_device_that_is_silent_is_told),
	    cmocka_unit_test(bits_stand_in_one_table_and_before_a_cycle_say_so),
	    cmocka_unit_test(it_comes_in_pieces_or_one_device_alone),
	    cmocka_unit_test(an_empty_frame_that_was_formed_asks_for_the_stations),
	    cmocka_unit_test(positions_of_one_role_share_a_row),
	    cmocka_unit_test(positions_that_are_read_apart_have_rows_of_their_own),
	    cmocka_unit_test(a_channel_that_stands_still_is_told),
	    cmocka_unit_test(the_last_shot_and_event_are_told),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
