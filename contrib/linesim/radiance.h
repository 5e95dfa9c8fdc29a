/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What a black body sends out between 8 and 14 um, the band of the pyrometers:
 * Planck's law integrated over the band, tabled once from -73 C to 1027 C.
 * In units of its own; only ratios mean anything.  Outside the table the end counts.
 */
#ifndef CONTRIB_LINESIM_RADIANCE_H
#define CONTRIB_LINESIM_RADIANCE_H

/* Fills the table; call once before the others, from one thread. */
void radiance_init(void);

double radiance_of(double temperature_c);

/* The temperature whose radiance this is. */
double radiance_temperature_c(double radiance);

#endif
