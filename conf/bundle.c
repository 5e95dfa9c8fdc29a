/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/bundle.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Whether the line that begins there is the mark. */
static bool
is_mark(const char *line)
{
	size_t length = strlen(BUNDLE_MARK);

	return strncmp(line, BUNDLE_MARK, length) == 0 &&
	       strchr("\r\n", line[length]) != NULL; /* also its end */
}

bool
bundle_split(struct bundle *bundle, const char *text)
{
	const char *line = text, *end;
	int number = 1;

	*bundle = (struct bundle){0};
	while (*line && !is_mark(line)) {
		end = strchrnul(line, '\n');
		line = *end ? end + 1 : end;
		number++;
	}
	bundle->own = strndup(text, (size_t)(line - text));
	if (!*line)
		return bundle->own != NULL;
	end = strchrnul(line, '\n');
	bundle->along = strdup(*end ? end + 1 : end);
	bundle->mark_line = number;
	return bundle->own && bundle->along;
}

void
bundle_release(struct bundle *bundle)
{
	free(bundle->own);
	free(bundle->along);
	*bundle = (struct bundle){0};
}

char *
bundle_join(const struct bundle *bundle)
{
	size_t length = strlen(bundle->own);
	const char *between = length > 0 && bundle->own[length - 1] == '\n' ? "" : "\n";
	char *text;

	if (!bundle->along)
		return strdup(bundle->own);
	return asprintf(&text, "%s%s%s\n%s", bundle->own, between, BUNDLE_MARK,
		   bundle->along) < 0
	           ? NULL
	           : text;
}
