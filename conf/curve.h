/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A property over temperature as a configuration writes it.  Pure; any thread; only
 * within conf/.
 */
#ifndef CONF_CURVE_H
#define CONF_CURVE_H

struct error;
struct material_curve;
struct setting;

/*
 * Reads "1300", or points "23: 1300, 105: 1700" whose temperatures are in C (also
 * "73 F: 1300") and go up.  Values lie within the setting's bounds.  ERROR_INVALID with
 * a sentence that says what to write, and `curve` as it was.
 */
int curve_read(const struct setting *setting, const char *text,
    struct material_curve *curve, struct error *error);

#endif
