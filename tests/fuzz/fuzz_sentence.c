/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What is put into sentences for people: names, and what stores and devices say.  Whatever
 * it is, one line of text comes out that steers no terminal, and plain text stays as it is.
 *
 * Input: two strings.
 */
#include "tests/fuzz/words.h"

#include "conf/mistakes.h"
#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/base/utf8.h"

static void
check_plain(const char *words)
{
	char plain[WORDS_MOST];
	unsigned char byte;
	bool was = is_text(words, strlen(words), "");

	strcpy(plain, words);
	MUST(utf8_is_plain(words, &byte) == was);
	MUST(
	    utf8_is_valid(words, strlen(words)) == is_text(words, strlen(words), NULL));
	utf8_make_plain(plain);
	MUST(is_text(plain, strlen(plain), ""));
	MUST(strlen(plain) <= strlen(words));
	MUST(!was || strcmp(plain, words) == 0);
}

static void
check_error(const char *a, const char *b)
{
	struct error error;

	MUST(error_set(&error, ERROR_IO, "cannot read '%s'", a) == ERROR_IO);
	MUST(is_text(error.text, strlen(error.text), ""));
	MUST(is_sentence(error.text, sizeof error.text));
	MUST(error_prefix(&error, ERROR_REFUSED, "store '%s'", b) == ERROR_REFUSED);
	MUST(is_text(error.text, strlen(error.text), ""));
	MUST(is_sentence(error.text, sizeof error.text));
}

static void
check_mistake(const char *a, const char *b)
{
	static struct problems problems;
	struct mistakes mistakes = {.path = b, .problems = &problems};

	problems.count = 0;
	mistakes_add(&mistakes, 7, "'%s' is no section", a);
	MUST(problems.count == 1);
	MUST(is_text(problems.list[0].text, strlen(problems.list[0].text), ""));
	MUST(is_sentence(problems.list[0].text, sizeof problems.list[0].text));
}

int
LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length)
{
	struct input input = {bytes, length};
	char a[WORDS_MOST], b[WORDS_MOST];

	input_words(&input, a);
	input_words(&input, b);
	check_plain(a);
	check_error(a, b);
	check_mistake(a, b);
	return 0;
}
