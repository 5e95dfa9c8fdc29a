/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/picture/canvas.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static char *written;
static size_t length;

static struct canvas *
begin(FILE **out, const char *title, const char *description)
{
	free(written);
	written = NULL;
	*out = open_memstream(&written, &length);
	assert_non_null(*out);
	struct canvas *canvas = canvas_new(
	    *out, CANVAS_SVG, (struct canvas_point){600, 375}, title, description);
	assert_non_null(canvas);
	return canvas;
}

static void
end(FILE *out, struct canvas *canvas)
{
	assert_int_equal(canvas_end(canvas), 0);
	assert_int_equal(fclose(out), 0);
}

static void
assert_has(const char *part)
{
	if (!strstr(written, part))
		fail_msg("'%s' is not in:\n%s", part, written);
}

static void
a_sheet_has_its_size_its_title_and_its_end(void **state)
{
	FILE *out;
	struct canvas *canvas = begin(&out, "A title", "What it shows");

	(void)state;
	end(out, canvas);
	assert_has("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n");
	assert_has("width=\"600pt\" height=\"375pt\" viewBox=\"0 0 600 375\"");
	assert_has("<title>A title</title>");
	assert_has("<desc>What it shows</desc>");
	assert_string_equal(written + length - 7, "</svg>\n");
}

static void
text_stays_text_and_is_escaped(void **state)
{
	static const struct {
		const char *string, *written;
	} rows[] = {
	    {"a < b & c > d", "a &lt; b &amp; c &gt; d"},
	    {"K\xc3\xa4lte \"\xc3\x98\"", "K\xc3\xa4lte \"\xc3\x98\""},
	    {"bad \xff byte", "bad \xef\xbf\xbd byte"},
	    {"bell \a", "bell \xef\xbf\xbd"},
	    {"</text><script>", "&lt;/text&gt;&lt;script&gt;"},
	};
	const struct canvas_letters letters = {.size = 9, .rgb = 0x123456};

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		FILE *out;
		char wanted[200];
		struct canvas *canvas = begin(&out, NULL, NULL);
		canvas_text(
		    canvas, (struct canvas_point){1, 2}, &letters, rows[i].string);
		end(out, canvas);
		snprintf(wanted, sizeof wanted,
		    "<text x=\"1\" y=\"2\" font-size=\"9\" "
		    "fill=\"#123456\">%s</text>",
		    rows[i].written);
		assert_has(wanted);
	}
}

static void
letters_stand_where_they_are_anchored(void **state)
{
	struct canvas_letters letters = {
	    .size = 8, .anchor = ANCHOR_END, .bold = true, .upwards = true};
	FILE *out;
	struct canvas *canvas = begin(&out, NULL, NULL);

	(void)state;
	canvas_text(canvas, (struct canvas_point){10, 20}, &letters, "up");
	letters = (struct canvas_letters){.size = 8, .anchor = ANCHOR_MIDDLE};
	canvas_text(canvas, (struct canvas_point){30, 40}, &letters, "mid");
	end(out, canvas);
	assert_has("text-anchor=\"end\" font-weight=\"bold\" "
		   "transform=\"rotate(-90 10 20)\">up<");
	assert_has("text-anchor=\"middle\">mid<");
}

static void
shapes_keep_a_hundredth_of_a_point(void **state)
{
	const struct canvas_point points[] = {{0, -0.001}, {1.23456, 2}, {3, 4.005001}};
	const struct canvas_pen pen = {0xff0080, 1.5, DASH_LONG};
	FILE *out;
	struct canvas *canvas = begin(&out, NULL, NULL);

	(void)state;
	canvas_polyline(canvas, points, 3, &pen);
	canvas_polygon(canvas, points, 3, 0x00ff00);
	canvas_polyline(canvas, points, 1, &pen); /* no line */
	end(out, canvas);
	assert_has("<polyline fill=\"none\" stroke=\"#ff0080\" stroke-width=\"1.5\" "
		   "stroke-dasharray=\"7 3\" points=\"0,0 1.23,2 3,4.01\"/>");
	assert_has("<polygon fill=\"#00ff00\" points=\"0,0 1.23,2 3,4.01\"/>");
	assert_null(strstr(strstr(written, "<polyline") + 1, "<polyline"));
}

static void
each_clip_has_a_name_of_its_own(void **state)
{
	const struct canvas_pen pen = {0, 1, DASH_SOLID};
	FILE *out;
	struct canvas *canvas = begin(&out, NULL, NULL);

	(void)state;
	for (int i = 0; i < 2; i++) {
		canvas_clip(canvas, (struct canvas_box){1, 2, 11, 22});
		canvas_line(canvas, (struct canvas_point){0, 0},
		    (struct canvas_point){100, 100}, &pen);
		canvas_unclip(canvas);
	}
	end(out, canvas);
	assert_has("<clipPath id=\"clip1\"><rect x=\"1\" y=\"2\" width=\"10\" "
		   "height=\"20\"/></clipPath>\n<g clip-path=\"url(#clip1)\">");
	assert_has("<g clip-path=\"url(#clip2)\">");
}

static void
what_is_entered_is_moved_and_scaled(void **state)
{
	const struct canvas_pen pen = {0, 1, DASH_SOLID};
	FILE *out;
	struct canvas *canvas = begin(&out, NULL, NULL);

	(void)state;
	canvas_enter(canvas, (struct canvas_point){12.5, 30}, 0.85);
	canvas_clip(canvas, (struct canvas_box){0, 0, 5, 5});
	canvas_line(
	    canvas, (struct canvas_point){0, 0}, (struct canvas_point){1, 1}, &pen);
	canvas_unclip(canvas);
	canvas_leave(canvas);
	end(out, canvas);
	assert_has("<g transform=\"translate(12.5 30) scale(0.85)\">\n<clipPath");
	assert_has("points=\"0,0 1,1\"/>\n</g>\n</g>\n</svg>\n");
}

static void
a_part_of_a_document_keeps_its_ids_to_itself(void **state)
{
	FILE *out;

	(void)state;
	free(written);
	written = NULL;
	out = open_memstream(&written, &length);
	for (int i = 0; i < 2; i++) {
		struct canvas *canvas =
		    canvas_new_part(out, (struct canvas_point){60, 40}, "A < B",
			i == 0 ? "Words" : NULL, i == 0 ? "p1" : "p2");
		canvas_clip(canvas, (struct canvas_box){1, 2, 11, 22});
		canvas_unclip(canvas);
		assert_int_equal(canvas_end(canvas), 0);
	}
	fclose(out);
	assert_null(strstr(written, "<?xml"));
	assert_has("aria-labelledby=\"p1-title\" aria-describedby=\"p1-desc\">\n"
		   "<title id=\"p1-title\">A &lt; B</title>\n"
		   "<desc id=\"p1-desc\">Words</desc>\n");
	assert_has("aria-labelledby=\"p2-title\">\n");
	assert_has("<clipPath id=\"p1-clip1\">");
	assert_has("<clipPath id=\"p2-clip1\">");
	assert_has("<g clip-path=\"url(#p2-clip1)\">");
}

static void
what_could_not_be_drawn_is_told_at_the_end(void **state)
{
	FILE *out;
	struct canvas *canvas = begin(&out, NULL, NULL);

	(void)state;
	canvas_lose(canvas);
	assert_int_not_equal(canvas_end(canvas), 0);
	fclose(out);
}

static void
longer_text_is_wider(void **state)
{
	const struct canvas_letters plain = {.size = 10},
				    bold = {.size = 10, .bold = true};

	(void)state;
	assert_true(canvas_text_width(&plain, "") <= 0);
	assert_true(canvas_text_width(&plain, "abc") > canvas_text_width(&plain, "ab"));
	assert_true(canvas_text_width(&bold, "abc") > canvas_text_width(&plain, "abc"));
	/* a character of two bytes is one */
	assert_true(
	    canvas_text_width(&plain, "\xc3\xa4") <= canvas_text_width(&plain, "a"));
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_sheet_has_its_size_its_title_and_its_end),
	    cmocka_unit_test(text_stays_text_and_is_escaped),
	    cmocka_unit_test(letters_stand_where_they_are_anchored),
	    cmocka_unit_test(shapes_keep_a_hundredth_of_a_point),
	    cmocka_unit_test(each_clip_has_a_name_of_its_own),
	    cmocka_unit_test(what_is_entered_is_moved_and_scaled),
	    cmocka_unit_test(a_part_of_a_document_keeps_its_ids_to_itself),
	    cmocka_unit_test(what_could_not_be_drawn_is_told_at_the_end),
	    cmocka_unit_test(longer_text_is_wider),
	};
	int failed = cmocka_run_group_tests(tests, NULL, NULL);

	free(written);
	return failed;
}
