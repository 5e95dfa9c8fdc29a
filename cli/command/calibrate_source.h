/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Where the readings of a run without sheets come from.
 */
#ifndef CLI_COMMAND_CALIBRATE_SOURCE_H
#define CLI_COMMAND_CALIBRATE_SOURCE_H

#include "cli/command/calibrate_run.h"
#include "cli/command/command.h"

/*
 * A CSV file ("-": standard input): t_s and "DEVICE.CHANNEL", in C, or in F where the title
 * ends with " F"; an empty cell is no reading.  COMMAND_CANNOT after telling.
 */
enum command_exit calibrate_read_file(const struct call *call,
    const struct settings *settings, const char *path, struct calibrate_run *run);

/*
 * The line itself, over the bus, for so long of the clock's time.  COMMAND_NO after
 * telling when sheets were formed meanwhile or a signal ended it, COMMAND_CANNOT when it
 * cannot be read.
 */
enum command_exit calibrate_read_line(const struct call *call,
    const struct settings *settings, int line, double seconds,
    struct calibrate_run *run);

#endif
