/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/run/service.h"

int
main(int argc, char **argv)
{
	return service_run(argc, argv);
}
