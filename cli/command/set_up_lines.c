/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/set_up_lines.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

enum { COMPARED_MAX = 4000 }; /* lines of each, between what is common at both ends */

struct line {
	const char *text, *section;
};

struct lines {
	struct line *list;
	size_t count;
};

static void
cut_end(char *line)
{
	size_t length = strlen(line);

	while (length > 0 && strchr(" \t\r", line[length - 1]))
		line[--length] = '\0';
}

static bool
cut_lines(char *text, struct lines *lines)
{
	size_t room = 1;
	const char *section = "";

	for (const char *at = text; *at; at++)
		room += *at == '\n';
	*lines = (struct lines){.list = calloc(room, sizeof *lines->list)};
	for (char *line; lines->list && (line = strsep(&text, "\n")) != NULL;) {
		line += strspn(line, " \t");
		cut_end(line);
		if (*line == '\0' || *line == ';' || *line == '#')
			continue;
		if (*line == '[')
			section = line;
		lines->list[lines->count++] = (struct line){line, section};
	}
	return lines->list != NULL;
}

/* Beside equal lines in other sections nothing is common. */
static bool
is_same(const struct line *one, const struct line *other)
{
	return strcmp(one->text, other->text) == 0 &&
	       strcmp(one->section, other->section) == 0;
}

struct comparing {
	const struct line *earlier, *later; /* without what is common at both ends */
	size_t earlier_count, later_count;
	uint16_t *common; /* [e][l]: the longest common course from there on */
	void (*take)(void *arg, const struct set_up_line *line);
	void *arg;
};

static uint16_t *
common_at(const struct comparing *comparing, size_t e, size_t l)
{
	return &comparing->common[e * (comparing->later_count + 1) + l];
}

static void
tell(const struct comparing *comparing, const struct line *line, bool added)
{
	const struct set_up_line told = {added, line->text, line->section};

	comparing->take(comparing->arg, &told);
}

static void
find_common(const struct comparing *comparing)
{
	for (size_t e = comparing->earlier_count; e-- > 0;)
		for (size_t l = comparing->later_count; l-- > 0;) {
			uint16_t drop = *common_at(comparing, e + 1, l);
			uint16_t add = *common_at(comparing, e, l + 1);
			uint16_t *here = common_at(comparing, e, l);
			if (is_same(&comparing->earlier[e], &comparing->later[l]))
				*here =
				    (uint16_t)(*common_at(comparing, e + 1, l + 1) + 1);
			else
				*here = drop > add ? drop : add;
		}
}

static void
tell_all(const struct comparing *comparing)
{
	size_t e = 0, l = 0;

	while (e < comparing->earlier_count || l < comparing->later_count) {
		bool ended = e == comparing->earlier_count;
		bool both = !ended && l < comparing->later_count;
		if (both && is_same(&comparing->earlier[e], &comparing->later[l])) {
			e++;
			l++;
		} else if (!ended && (!both || *common_at(comparing, e + 1, l) >=
						   *common_at(comparing, e, l + 1))) {
			tell(comparing, &comparing->earlier[e++], false);
		} else {
			tell(comparing, &comparing->later[l++], true);
		}
	}
}

/* Too many to look for what they have in common. */
static void
tell_apart(const struct comparing *comparing)
{
	for (size_t e = 0; e < comparing->earlier_count; e++)
		tell(comparing, &comparing->earlier[e], false);
	for (size_t l = 0; l < comparing->later_count; l++)
		tell(comparing, &comparing->later[l], true);
}

static bool
compare(struct comparing *comparing)
{
	if (comparing->earlier_count > COMPARED_MAX ||
	    comparing->later_count > COMPARED_MAX) {
		tell_apart(comparing);
		return true;
	}
	comparing->common =
	    calloc((comparing->earlier_count + 1) * (comparing->later_count + 1),
		sizeof *comparing->common);
	if (!comparing->common)
		return false;
	find_common(comparing);
	tell_all(comparing);
	free(comparing->common);
	return true;
}

bool
set_up_lines_compare(char *earlier, char *later,
    void (*take)(void *arg, const struct set_up_line *line), void *arg)
{
	struct lines was = {0}, is = {0};
	bool done = cut_lines(earlier, &was) && cut_lines(later, &is);

	if (done) {
		size_t top = 0, was_end = was.count, is_end = is.count;
		while (top < was_end && top < is_end &&
		       is_same(&was.list[top], &is.list[top]))
			top++;
		while (was_end > top && is_end > top &&
		       is_same(&was.list[was_end - 1], &is.list[is_end - 1])) {
			was_end--;
			is_end--;
		}
		struct comparing comparing = {
		    .earlier = was.list + top,
		    .later = is.list + top,
		    .earlier_count = was_end - top,
		    .later_count = is_end - top,
		    .take = take,
		    .arg = arg,
		};
		done = compare(&comparing);
	}
	free(was.list);
	free(is.list);
	return done;
}
