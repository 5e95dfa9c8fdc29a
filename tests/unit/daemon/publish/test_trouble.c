/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <string.h>

#include "daemon/publish/trouble.h"

static void
every_trouble_has_a_word_of_its_own_that_reads_back(void **state)
{
	(void)state;
	for (int i = 0; i < TROUBLE_COUNT; i++) {
		const char *word = trouble_word((enum trouble)i);
		assert_non_null(word);
		assert_null(strchr(word, ' '));
		assert_int_equal(trouble_of_word(word), i);
	}
	assert_int_equal(trouble_of_word("nonsense"), TROUBLE_COUNT);
	assert_int_equal(trouble_of_word(""), TROUBLE_COUNT);
}

static void
only_what_a_person_must_mend_holds(void **state)
{
	static const struct {
		int status;
		enum trouble trouble;
		bool holds;
	} cases[] = {
	    {401, TROUBLE_LOGIN, true},
	    {403, TROUBLE_RIGHTS, true},
	    {404, TROUBLE_MISSING, true},
	    {301, TROUBLE_ADDRESS, true},
	    {405, TROUBLE_ADDRESS, true},
	    {408, TROUBLE_BUSY, false},
	    {429, TROUBLE_BUSY, false},
	    {503, TROUBLE_BUSY, false},
	    {500, TROUBLE_FAILING, false},
	    {502, TROUBLE_FAILING, false},
	    {504, TROUBLE_FAILING, false},
	};

	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		enum trouble trouble = trouble_of_status(cases[i].status);
		assert_int_equal(trouble, cases[i].trouble);
		assert_int_equal(trouble_holds(trouble), cases[i].holds);
	}
	assert_true(trouble_holds(TROUBLE_CERTIFICATE));
	assert_true(trouble_holds(TROUBLE_SECRET));
	assert_true(trouble_holds(TROUBLE_FULL));
	assert_true(trouble_holds(TROUBLE_REFUSES));
	assert_false(trouble_holds(TROUBLE_UNKEPT));
	assert_false(trouble_holds(TROUBLE_NONE));
	assert_false(trouble_holds(TROUBLE_LEDGER));
	assert_false(trouble_holds(TROUBLE_COUNT));
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(every_trouble_has_a_word_of_its_own_that_reads_back),
	    cmocka_unit_test(only_what_a_person_must_mend_holds),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
