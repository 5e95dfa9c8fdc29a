/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/terminal.h"

#include <sys/ioctl.h>
#include <unistd.h>

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
