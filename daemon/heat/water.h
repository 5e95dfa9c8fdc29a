/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Water in a tool's circuits: its properties and how it flows.  Liquid at 0 to 100 C;
 * sources stand in water.c.  Pure; any thread.
 */
#ifndef DAEMON_HEAT_WATER_H
#define DAEMON_HEAT_WATER_H

double water_density(double c);   /* kg/m3 */
double water_capacity(double c);  /* J/(kg K) */
double water_viscosity(double c); /* dynamic, Pa s */

/* 4 rho V / (pi D mu): flow in m3/s, bore in m; viscosity_ratio is that of the coolant
 * to water's. */
double water_reynolds(
    double flow_m3_s, double bore_m, double c, double viscosity_ratio);

/* "laminar", "transitional" or "turbulent" by the bounds in water.c; "" for NAN. */
const char *water_regime(double reynolds);

#endif
