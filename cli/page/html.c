/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/page/html.h"

#include "cli/page/cell.h"
#include "daemon/base/utf8.h"

void
html_put_escaped(FILE *out, const char *words)
{
	const char *const all = words, *from = words;
	uint32_t point;

	while ((point = utf8_next(&words)) != 0) {
		if (point == '&')
			fputs("&amp;", out);
		else if (point == '<')
			fputs("&lt;", out);
		else if (point == '>')
			fputs("&gt;", out);
		else if (point == '"')
			fputs("&quot;", out);
		else if (point == '\'')
			fputs("&#39;", out);
		else if (cell_binds(all, from))
			fputs("\xc2\xa0", out); /* U+00A0: no line ends there */
		else if (point == '\r' || !utf8_is_shown(point))
			fputs("\xef\xbf\xbd", out); /* U+FFFD */
		else
			fwrite(from, 1, (size_t)(words - from), out);
		from = words;
	}
}

const char *
html_class(enum page_tone tone)
{
	switch (tone) {
	case TONE_PLAIN:
		return NULL;
	case TONE_STRONG:
		return "strong";
	case TONE_GOOD:
		return "good";
	case TONE_BAD:
		return "bad";
	case TONE_FAINT:
		return "faint";
	}
	return NULL;
}

void
html_put_element(FILE *out, const char *element, enum page_tone tone, const char *words)
{
	const char *class = html_class(tone);

	fprintf(out, "<%s", element);
	if (class)
		fprintf(out, " class=\"%s\"", class);
	fputc('>', out);
	html_put_escaped(out, words);
	fprintf(out, "</%s>", element);
}
