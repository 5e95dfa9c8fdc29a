/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/terminal.h"

#include <stdlib.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include "cli/page/page.h"
#include "daemon/base/text.h"

enum { WIDTH_LEAST = 40, WIDTH_MOST = 1000 };

bool
terminal_is(FILE *out)
{
	int fd = fileno(out);

	return fd >= 0 && isatty(fd);
}

bool
terminal_size(FILE *out, int *columns, int *rows)
{
	struct winsize size;

	if (!terminal_is(out) || ioctl(fileno(out), TIOCGWINSZ, &size) != 0 ||
	    size.ws_col == 0 || size.ws_row == 0)
		return false;
	*columns = size.ws_col;
	*rows = size.ws_row;
	return true;
}

int
terminal_width(FILE *out)
{
	/* The only thread. NOLINTNEXTLINE(concurrency-mt-unsafe) */
	const char *wanted = getenv("COLUMNS");
	int columns, rows;
	int64_t number;

	if (terminal_size(out, &columns, &rows))
		return columns;
	if (wanted && text_integer(wanted, &number) && number >= WIDTH_LEAST &&
	    number <= WIDTH_MOST)
		return (int)number;
	return PAGE_WIDTH;
}
