/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Density: the formula of G. S. Kell, "Density, thermal expansivity, and compressibility
 * of liquid water from 0 to 150 C", J. Chem. Eng. Data 20 (1975) 97-105, at one
 * atmosphere; a few parts in 100 000 against later standards.
 *
 * Viscosity: the four-term formula at 0.1 MPa of the IAPWS "Release on the IAPWS
 * Formulation 2008 for the Viscosity of Ordinary Water Substance" as simplified by
 * J. Patek, J. Hruby, J. Klomfar, M. Souckova and A. H. Harvey, J. Phys. Chem. Ref. Data
 * 38 (2009) 21-29; about 1 %.
 *
 * Heat capacity at 0.1 MPa: values of the IAPWS formulation 1995 (W. Wagner and A. Pruss,
 * J. Phys. Chem. Ref. Data 31 (2002) 387-535), written down from memory, every 10 C and
 * linear between; within 0.1 %.
 */
#include "daemon/heat/water.h"

#include <math.h>

/* In pipes, common practice: laminar up to 2300, surely turbulent from 4000. */
#define LAMINAR_TO 2300.0
#define TURBULENT_FROM 4000.0

double
water_density(double c)
{
	double above =
	    999.83952 +
	    c * (16.945176 + c * (-7.9870401e-3 +
				     c * (-46.170461e-6 +
					     c * (105.56302e-9 - 280.54253e-12 * c))));

	return above / (1 + 16.879850e-3 * c);
}

double
water_capacity(double c)
{
	static const double at[] = {4219.4, 4195.2, 4184.1, 4180.1, 4179.6, 4181.5,
	    4185.1, 4190.2, 4196.9, 4205.3, 4215.7};
	enum { LAST = sizeof at / sizeof at[0] - 1 };
	double place = fmin(fmax(c, 0), 100) / 10;
	int i = (int)fmin(place, LAST - 1);
	double part = place - i;

	return at[i] + part * (at[i + 1] - at[i]);
}

double
water_viscosity(double c)
{
	static const double a[] = {280.68, 511.45, 61.131, 0.45903};
	static const double b[] = {-1.9, -7.7, -19.6, -40.0};
	double sum = 0;

	for (int i = 0; i < 4; i++)
		sum += a[i] * pow((c + 273.15) / 300, b[i]);
	return 1e-6 * sum;
}

double
water_reynolds(double flow_m3_s, double bore_m, double c, double viscosity_ratio)
{
	return 4 * water_density(c) * flow_m3_s /
	       (M_PI * bore_m * viscosity_ratio * water_viscosity(c));
}

const char *
water_regime(double reynolds)
{
	if (isnan(reynolds))
		return "";
	if (reynolds < LAMINAR_TO)
		return "laminar";
	return reynolds < TURBULENT_FROM ? "transitional" : "turbulent";
}
