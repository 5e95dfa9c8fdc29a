/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/picture/canvas.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "cli/picture/picture.h"

struct drawn {
	char *bytes;
	size_t length;
};

typedef void putting(struct canvas *canvas);

static struct drawn
draw(enum canvas_format format, putting *put)
{
	struct drawn drawn = {0};
	FILE *out = open_memstream(&drawn.bytes, &drawn.length);
	struct canvas *canvas = canvas_new(
	    out, format, (struct canvas_point){60, 40.25}, "A title", "Words");

	assert_non_null(canvas);
	put(canvas);
	assert_int_equal(canvas_end(canvas), 0);
	assert_int_equal(fclose(out), 0);
	return drawn;
}

static void
put_nothing(struct canvas *canvas)
{
	(void)canvas;
}

static bool
is_same(enum canvas_format format, putting *one, putting *other)
{
	struct drawn a = draw(format, one), b = draw(format, other);
	bool same = a.length == b.length && memcmp(a.bytes, b.bytes, a.length) == 0;

	free(a.bytes);
	free(b.bytes);
	return same;
}

/* How often the words stand in it. */
static int
count_of(const struct drawn *drawn, const char *words)
{
	const char *at = drawn->bytes, *end = drawn->bytes + drawn->length;
	int count = 0;

	while ((at = memmem(at, (size_t)(end - at), words, strlen(words)))) {
		at++;
		count++;
	}
	return count;
}

static unsigned
big_endian(const char *bytes)
{
	unsigned value = 0;

	for (int i = 0; i < 4; i++)
		value = value << 8 | (unsigned char)bytes[i];
	return value;
}

static void
a_png_has_two_pixels_a_point(void **state)
{
	struct drawn drawn = draw(CANVAS_PNG, put_nothing);

	(void)state;
	/* PNG, ISO/IEC 15948, 5.2 and 11.2.2: signature, then IHDR with width, height */
	assert_memory_equal(drawn.bytes, "\x89PNG\r\n\x1a\n", 8);
	assert_memory_equal(drawn.bytes + 12, "IHDR", 4);
	assert_int_equal(big_endian(drawn.bytes + 16), 120);
	assert_int_equal(big_endian(drawn.bytes + 20), 81);
	free(drawn.bytes);
}

static const struct canvas_pen pen = {0x0072b2, 2, DASH_LONG};

static void
put_directly(struct canvas *canvas)
{
	const struct canvas_pen twice = {0x0072b2, 4, DASH_SOLID};

	canvas_fill(canvas, (struct canvas_box){12, 14, 22, 30}, 0xd55e00);
	canvas_line(canvas, (struct canvas_point){10, 10},
	    (struct canvas_point){50, 26}, &twice);
}

static void
put_entered(struct canvas *canvas)
{
	const struct canvas_pen once = {0x0072b2, 2, DASH_SOLID};

	canvas_enter(canvas, (struct canvas_point){10, 10}, 2);
	canvas_fill(canvas, (struct canvas_box){1, 2, 6, 10}, 0xd55e00);
	canvas_line(
	    canvas, (struct canvas_point){0, 0}, (struct canvas_point){20, 8}, &once);
	canvas_leave(canvas);
}

static void
what_is_entered_is_moved_and_scaled(void **state)
{
	(void)state;
	assert_true(is_same(CANVAS_PNG, put_directly, put_entered));
	assert_false(is_same(CANVAS_PNG, put_directly, put_nothing));
}

static void
put_whole_box(struct canvas *canvas)
{
	canvas_fill(canvas, (struct canvas_box){10, 10, 30, 20}, 0x009e73);
}

static void
put_clipped_box(struct canvas *canvas)
{
	canvas_clip(canvas, (struct canvas_box){10, 10, 30, 20});
	canvas_fill(canvas, (struct canvas_box){-100, -100, 300, 200}, 0x009e73);
	canvas_unclip(canvas);
}

static void
put_two_boxes(struct canvas *canvas)
{
	put_clipped_box(canvas);
	canvas_fill(canvas, (struct canvas_box){40, 10, 50, 20}, 0);
}

static void
put_box_and_box(struct canvas *canvas)
{
	put_whole_box(canvas);
	canvas_fill(canvas, (struct canvas_box){40, 10, 50, 20}, 0);
}

static void
a_clip_cuts_until_it_is_left(void **state)
{
	(void)state;
	assert_true(is_same(CANVAS_PNG, put_whole_box, put_clipped_box));
	assert_true(is_same(CANVAS_PNG, put_box_and_box, put_two_boxes));
}

static const struct canvas_letters letters = {.size = 9, .rgb = 0x303030};

static void
put_bad_bytes(struct canvas *canvas)
{
	canvas_text(canvas, (struct canvas_point){5, 20}, &letters,
	    "a\xff"
	    "b\a\n\xef\xb7\x90\xf0\x9f\xbf\xbe\x7f"); /* U+FDD0, U+1FFFE */
	canvas_line(
	    canvas, (struct canvas_point){0, 0}, (struct canvas_point){9, 9}, &pen);
}

static void
put_their_stand_ins(struct canvas *canvas)
{
	canvas_text(canvas, (struct canvas_point){5, 20}, &letters,
	    "a\xef\xbf\xbd"
	    "b\xef\xbf\xbd \xef\xbf\xbd\xef\xbf\xbd\xef\xbf\xbd");
	canvas_line(
	    canvas, (struct canvas_point){0, 0}, (struct canvas_point){9, 9}, &pen);
}

static void
bytes_that_are_no_text_spoil_nothing_that_follows(void **state)
{
	(void)state;
	assert_true(is_same(CANVAS_PNG, put_bad_bytes, put_their_stand_ins));
	assert_true(is_same(CANVAS_PDF, put_bad_bytes, put_their_stand_ins));
	assert_false(is_same(CANVAS_PNG, put_bad_bytes, put_nothing));
}

static void
put_anchored(struct canvas *canvas)
{
	struct canvas_letters anchored = letters;

	anchored.anchor = ANCHOR_END;
	canvas_text(canvas, (struct canvas_point){50, 20}, &anchored, "Wide 12");
}

static void
put_measured(struct canvas *canvas)
{
	double width = canvas_measure(canvas, &letters, "Wide 12");

	assert_true(width > 20 && width < 50);
	canvas_text(canvas, (struct canvas_point){50 - width, 20}, &letters, "Wide 12");
}

static void
text_is_as_wide_as_it_is_measured(void **state)
{
	(void)state;
	assert_true(is_same(CANVAS_PNG, put_anchored, put_measured));
}

static void
put_widths(struct canvas *canvas)
{
	struct canvas_letters large = letters, bold = letters;

	large.size = 18;
	bold.bold = true;
	double once = canvas_measure(canvas, &letters, "exit top");
	double twice = canvas_measure(canvas, &large, "exit top");
	assert_true(twice > 1.999 * once && twice < 2.001 * once);
	assert_true(canvas_measure(canvas, &bold, "exit top") >= once);
	assert_true(canvas_measure(canvas, &letters, "") <= 0);
}

static void
letters_of_twice_the_size_are_twice_as_wide(void **state)
{
	(void)state;
	free(draw(CANVAS_PDF, put_widths).bytes);
	free(draw(CANVAS_PNG, put_widths).bytes);
}

/* --- sheets ------------------------------------------------------------------------ */

static size_t feet[8], feet_of[8];
static int foot_count;

static void
put_foot(struct canvas *canvas, const void *what, size_t sheet, size_t count)
{
	assert_ptr_equal(what, &feet);
	feet[foot_count] = sheet;
	feet_of[foot_count++] = count;
	canvas_text(canvas, (struct canvas_point){5, 35}, &letters, "foot");
}

static void
put_sheets(struct canvas *canvas)
{
	canvas_set_foot(canvas, put_foot, &feet);
	canvas_mark(canvas, 0, 10, "First");
	canvas_text(canvas, (struct canvas_point){5, 20}, &letters, "text");
	canvas_next_sheet(canvas);
	canvas_mark(canvas, 1, 10, "Second");
	canvas_mark(canvas, 40, 10, "deep");
	canvas_mark(canvas, -3, 10, "high");
	canvas_next_sheet(canvas);
	canvas_enter(canvas, (struct canvas_point){1, 1}, 0.5);
	put_clipped_box(canvas);
	canvas_leave(canvas);
}

static void
each_sheet_has_its_foot_and_knows_their_count(void **state)
{
	struct drawn drawn = draw(CANVAS_PDF, put_sheets);

	(void)state;
	assert_memory_equal(drawn.bytes, "%PDF-1.", 7);
	assert_int_equal(count_of(&drawn, "/Type /Page %"), 3);
	assert_int_equal(foot_count, 3);
	for (size_t i = 0; i < 3; i++) {
		assert_int_equal(feet[i], i + 1);
		assert_int_equal(feet_of[i], 3);
	}
	free(drawn.bytes);
	foot_count = 0;
}

static void
text_of_a_pdf_stays_text(void **state)
{
	struct drawn with = draw(CANVAS_PDF, put_anchored),
		     without = draw(CANVAS_PDF, put_nothing);

	(void)state;
	/* a font with the characters of its glyphs, no image */
	assert_true(count_of(&with, "/ToUnicode") > 0);
	assert_int_equal(count_of(&with, "/Subtype /Image"), 0);
	assert_int_equal(count_of(&without, "/ToUnicode"), 0);
	free(with.bytes);
	free(without.bytes);
}

static void
a_pdf_has_a_title_and_no_date(void **state)
{
	struct drawn drawn = draw(CANVAS_PDF, put_anchored);

	(void)state;
	assert_int_equal(count_of(&drawn, "/Title (A title)"), 1);
	assert_int_equal(count_of(&drawn, "/Subject (Words)"), 1);
	assert_int_equal(count_of(&drawn, "Date"), 0);
	free(drawn.bytes);
	assert_true(is_same(CANVAS_PDF, put_anchored, put_anchored));
}

/* --- pictures ------------------------------------------------------------------------ */

static void
draw_box(struct canvas *canvas, const void *what)
{
	const uint32_t *rgb = what;

	canvas_fill(canvas, (struct canvas_box){2, 3, 10, 12}, *rgb);
}

static const uint32_t orange = 0xe69f00;
static const struct picture box = {.name = "box",
    .title = "A title",
    .description = "Words",
    .size = {60, 40.25},
    .draw = draw_box,
    .what = &orange};

static void
put_box_twice_as_large(struct canvas *canvas)
{
	picture_put(&box, canvas, (struct canvas_point){5, 6}, 2);
}

static void
put_large_box(struct canvas *canvas)
{
	canvas_fill(canvas, (struct canvas_box){9, 12, 25, 30}, orange);
}

static void
put_box(struct canvas *canvas)
{
	draw_box(canvas, &orange);
}

static void
a_picture_is_the_same_alone_and_among_others(void **state)
{
	struct drawn alone = {0}, canvas = draw(CANVAS_PNG, put_box);
	FILE *out = open_memstream(&alone.bytes, &alone.length);

	(void)state;
	assert_int_equal(picture_write(&box, CANVAS_PNG, out), 0);
	fclose(out);
	assert_int_equal(alone.length, canvas.length);
	assert_memory_equal(alone.bytes, canvas.bytes, alone.length);
	free(alone.bytes);
	free(canvas.bytes);
	assert_true(is_same(CANVAS_PNG, put_box_twice_as_large, put_large_box));
}

static void
a_sheet_that_no_memory_could_hold_is_told(void **state)
{
	struct drawn drawn = {0};
	FILE *out = open_memstream(&drawn.bytes, &drawn.length);
	struct canvas *canvas =
	    canvas_new(out, CANVAS_PNG, (struct canvas_point){1e6, 1e6}, NULL, NULL);

	(void)state;
	if (canvas) {
		put_directly(canvas);
		assert_int_not_equal(canvas_end(canvas), 0);
	}
	fclose(out);
	free(drawn.bytes);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_png_has_two_pixels_a_point),
	    cmocka_unit_test(what_is_entered_is_moved_and_scaled),
	    cmocka_unit_test(a_clip_cuts_until_it_is_left),
	    cmocka_unit_test(bytes_that_are_no_text_spoil_nothing_that_follows),
	    cmocka_unit_test(text_is_as_wide_as_it_is_measured),
	    cmocka_unit_test(letters_of_twice_the_size_are_twice_as_wide),
	    cmocka_unit_test(each_sheet_has_its_foot_and_knows_their_count),
	    cmocka_unit_test(text_of_a_pdf_stays_text),
	    cmocka_unit_test(a_pdf_has_a_title_and_no_date),
	    cmocka_unit_test(a_picture_is_the_same_alone_and_among_others),
	    cmocka_unit_test(a_sheet_that_no_memory_could_hold_is_told),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
