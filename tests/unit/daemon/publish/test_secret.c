/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "daemon/base/error.h"
#include "daemon/publish/secret.h"

static char folder[] = "/tmp/evensoak-secret-XXXXXX";
static char path[64];
static char secret[SECRET_BYTES];
static struct error error;

static void
write_secret(const char *bytes, size_t length, unsigned mode)
{
	snprintf(path, sizeof(path), "%s/token", folder);
	(void)unlink(path);
	FILE *file = fopen(path, "w");
	assert_non_null(file);
	assert_int_equal(fwrite(bytes, 1, length, file), length);
	assert_int_equal(fclose(file), 0);
	assert_int_equal(chmod(path, mode), 0);
}

/* Whether nothing of it is there. */
static bool
is_wiped(void)
{
	static const char nothing[SECRET_BYTES];

	return memcmp(secret, nothing, sizeof(secret)) == 0;
}

static void
expect_refused(const char *words)
{
	memset(secret, 'x', sizeof(secret));
	error.text[0] = '\0';
	assert_int_equal(secret_read(path, "", secret, &error), ERROR_REFUSED);
	assert_true(is_wiped());
	if (strstr(error.text, words) == NULL)
		fail_msg("'%s' lacks '%s'", error.text, words);
	assert_null(strstr(error.text, "sesame"));
}

static void
the_first_line_is_the_secret(void **state)
{
	static const char *const files[] = {
	    "open sesame", "open sesame\n", "open sesame\r\n", "open sesame\n\nelse\n"};
	(void)state;

	for (size_t i = 0; i < sizeof(files) / sizeof(files[0]); i++) {
		write_secret(files[i], strlen(files[i]), 0600);
		assert_int_equal(secret_read(path, "", secret, &error), 0);
		assert_string_equal(secret, "open sesame");
	}
}

static void
a_group_may_read_it_and_nobody_else(void **state)
{
	static const unsigned sound[] = {0400, 0600, 0440, 0640, 0660};
	static const unsigned open_modes[] = {0644, 0604, 0602, 0601, 0666, 0777};
	(void)state;

	for (size_t i = 0; i < sizeof(sound) / sizeof(sound[0]); i++) {
		write_secret("sesame\n", 7, sound[i]);
		assert_int_equal(secret_read(path, "", secret, &error), 0);
	}
	for (size_t i = 0; i < sizeof(open_modes) / sizeof(open_modes[0]); i++) {
		write_secret("sesame\n", 7, open_modes[i]);
		expect_refused("is open to everybody");
		expect_refused("chmod it to 600, or to 640");
	}
}

static void
what_is_no_secret_is_refused(void **state)
{
	static char longest[2 * SECRET_BYTES];
	(void)state;

	write_secret("", 0, 0600);
	expect_refused("is empty");
	write_secret("\nsesame\n", 8, 0600);
	expect_refused("is empty");
	write_secret("sesame\0x\n", 9, 0600);
	expect_refused("is not text");
	write_secret("sesame\tx\n", 9, 0600);
	expect_refused("control character");
	memset(longest, 's', sizeof(longest));
	write_secret(longest, SECRET_BYTES - 1, 0600);
	expect_refused("longer than 4094 bytes");
	write_secret(longest, sizeof(longest), 0600);
	expect_refused("longer than 4094 bytes");
	write_secret(longest, SECRET_BYTES - 2, 0600);
	assert_int_equal(secret_read(path, "", secret, &error), 0);
	assert_int_equal(strlen(secret), SECRET_BYTES - 2);
}

static void
only_a_plain_file_is_read(void **state)
{
	(void)state;
	snprintf(path, sizeof(path), "%s", folder);
	expect_refused("is not a plain file");
	snprintf(path, sizeof(path), "%s/nothing", folder);
	expect_refused("No such file");
	snprintf(path, sizeof(path), "%s/pipe", folder);
	assert_int_equal(mkfifo(path, 0600), 0);
	expect_refused("is not a plain file"); /* and nobody waits for a writer */
	unlink(path);
}

static void
a_credential_is_a_file_of_systemds_folder(void **state)
{
	(void)state;
	write_secret("open sesame", 11, 0440);
	setenv("CREDENTIALS_DIRECTORY", folder, 1);
	assert_int_equal(secret_read("", "token", secret, &error), 0);
	assert_string_equal(secret, "open sesame");
	assert_int_equal(secret_read("", "other", secret, &error), ERROR_REFUSED);
	assert_non_null(strstr(error.text, "write LoadCredential=other:PATH"));
	assert_true(is_wiped());
	assert_int_equal(secret_read("", "..", secret, &error), ERROR_REFUSED);
	unsetenv("CREDENTIALS_DIRECTORY");
}

static void
a_credential_outside_of_the_service_is_explained(void **state)
{
	(void)state;
	unsetenv("CREDENTIALS_DIRECTORY");
	assert_int_equal(secret_read("", "token", secret, &error), ERROR_REFUSED);
	assert_non_null(strstr(error.text, "handed to the service alone"));
	assert_non_null(strstr(error.text, "install store-credential.conf"));
	assert_non_null(strstr(error.text, "daemon-reload"));
	assert_non_null(strstr(error.text, "'token_file'"));
	/* the row of health has 255 bytes for it */
	assert_true(strlen(error.text) < 240);
}

static int
make_folder(void **state)
{
	(void)state;
	return mkdtemp(folder) != NULL ? 0 : -1;
}

static int
remove_folder(void **state)
{
	(void)state;
	snprintf(path, sizeof(path), "%s/token", folder);
	(void)unlink(path);
	return rmdir(folder);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(the_first_line_is_the_secret),
	    cmocka_unit_test(a_group_may_read_it_and_nobody_else),
	    cmocka_unit_test(what_is_no_secret_is_refused),
	    cmocka_unit_test(only_a_plain_file_is_read),
	    cmocka_unit_test(a_credential_is_a_file_of_systemds_folder),
	    cmocka_unit_test(a_credential_outside_of_the_service_is_explained),
	};
	return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
