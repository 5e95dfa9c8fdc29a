/* SPDX-License-Identifier: GPL-3.0-or-later */
/* manual TEMPLATE: the manual page that the template and the tables make, on stdout. */
#include <stdio.h>

#include "contrib/man/template.h"
#include "daemon/base/error.h"

int
main(int argc, char *argv[])
{
	struct error error;
	FILE *in = argc == 2 ? fopen(argv[1], "r") : NULL;
	int code;

	if (!in) {
		fputs("usage: manual TEMPLATE > PAGE\n", stderr);
		return 2;
	}
	code = template_fill(in, stdout, argv[1], &error);
	if (code != 0)
		fprintf(stderr, "%s\n", error.text);
	if (ferror(in) || fclose(in) != 0 || ferror(stdout) || fclose(stdout) != 0) {
		fputs("manual: cannot read or write\n", stderr);
		return 3;
	}
	return code == 0 ? 0 : 1;
}
