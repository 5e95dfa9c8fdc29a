/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Numbers in the cells of a CSV file.  For this folder alone. */
#ifndef CLI_CSV_CSV_NUMBER_H
#define CLI_CSV_CSV_NUMBER_H

#include <stdbool.h>

/* The nearest double; NAN for an empty cell and for "nan" in any capitals.  False when the
 * cell is no finite number.  `decimal_comma`: 1,5 and no point. */
bool csv_number_read(const char *cell, bool decimal_comma, double *value);

#endif
