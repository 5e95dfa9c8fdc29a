/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/chart_constants.h"

#include <assert.h>
#include <gsl/gsl_sf_gamma.h>
#include <math.h>

/*
 * Mean and deviation of the range of n standard normal values:
 * d2 = integral of 1 - (1 - Phi)^n - Phi^n; d3^2 + d2^2 = integral of 2 r P(range > r),
 * P(range <= r) = n integral of phi(x) (Phi(x + r) - Phi(x))^(n - 1) dx.  Gauss-Legendre
 * quadrature in long double; two different integrals of d2 agree to 2e-17.  A test
 * integrates them again.
 */
static const struct {
	double d2, d3;
} range_of[CHART_SUBGROUP_MOST + 1] = {
    [2] = {CHART_D2_OF_2, 0.85250246642742174},
    [3] = {1.6925687506432689, 0.88836800404520444},
    [4] = {2.0587507460079283, 0.87980820282498331},
    [5] = {2.3259289472810392, 0.86408194109950389},
    [6] = {2.5344127212229426, 0.84803968611749533},
    [7] = {2.7043567512138088, 0.83320533562229366},
    [8] = {2.8472006120905555, 0.81983148979194395},
    [9] = {2.9700263244184740, 0.80783427455332246},
    [10] = {3.0775054616703457, 0.79705067351941126},
    [11] = {3.1728727038160003, 0.78731462055032833},
    [12] = {3.2584552797438260, 0.77847834120338463},
    [13] = {3.3359803540982550, 0.77041620206375498},
    [14] = {3.4067631081999530, 0.76302309562479028},
    [15] = {3.4718268898820749, 0.75621142972794386},
    [16] = {3.5319827861095759, 0.74990808940991588},
    [17] = {3.5878839617653817, 0.74405178396073144},
    [18] = {3.6400637579374442, 0.73859085337817785},
    [19] = {3.6889630232076493, 0.73348149551886842},
    [20] = {3.7349501195966410, 0.72868634570730524},
    [21] = {3.7783358298426210, 0.72417334071749903},
    [22] = {3.8193846433628326, 0.71991480843422340},
    [23] = {3.8583234232850069, 0.71588673549181448},
    [24] = {3.8953481484513563, 0.71206817514793731},
    [25] = {3.9306292195071132, 0.70844076588865505},
};

/*
 * Gamma(a + 1/2) / (Gamma(a) sqrt(a)), a = (n - 1) / 2, with Gamma(x) = sqrt(2 pi) x^(x - 1/2)
 * exp(-x) gammastar(x): no large logarithms that cancel, so no digits are lost for large n.
 */
double
chart_c4(size_t n)
{
	assert(n >= 2);
	double a = (double)(n - 1) / 2;

	return exp(a * log1p(0.5 / a) - 0.5) * gsl_sf_gammastar(a + 0.5) /
	       gsl_sf_gammastar(a);
}

struct chart_constants
chart_constants(size_t n)
{
	assert(n >= CHART_SUBGROUP_LEAST && n <= CHART_SUBGROUP_MOST);
	double d2 = range_of[n].d2, d3 = range_of[n].d3, c4 = chart_c4(n);
	double root = sqrt((double)n), reach = 3 * sqrt(1 - c4 * c4) / c4;

	return (struct chart_constants){
	    .d2 = d2,
	    .d3 = d3,
	    .c4 = c4,
	    .A2 = 3 / (d2 * root),
	    .A3 = 3 / (c4 * root),
	    .B3 = fmax(0, 1 - reach),
	    .B4 = 1 + reach,
	    .D3 = fmax(0, 1 - 3 * d3 / d2),
	    .D4 = 1 + 3 * d3 / d2,
	    .E2 = 3 / d2,
	};
}
