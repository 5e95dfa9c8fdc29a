/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * One-way layouts.
 *
 * Silicon: SiRstv of the NIST Statistical Reference Datasets, analysis of variance
 * (https://www.itl.nist.gov/div898/strd/anova/SiRstv.html, in the public domain): resistivity
 * of silicon wafers, five instruments, five measurements each.  Certified F 1.18046237440255.
 *
 * Chicks: weights by feed, groups of unequal sizes, data set `chickwts` of R (Anonymous,
 * Biometrika 35:214, 1948; D. R. McNeil, Interactive Data Analysis, Wiley 1977).  Mean squares
 * and F computed with R 4.2 (anova(lm())), components from them.
 */
#ifndef TESTS_REFERENCE_VARIANCE_COMPONENTS_H
#define TESTS_REFERENCE_VARIANCE_COMPONENTS_H

#include <stddef.h>

/* clang-format off */
static const double nist_silicon[] = {
    196.3052, 196.1240, 196.1890, 196.2569, 196.3403,
    196.3042, 196.3825, 196.1669, 196.3257, 196.0422,
    196.1303, 196.2005, 196.2889, 196.0343, 196.1811,
    196.2795, 196.1748, 196.1494, 196.1485, 195.9885,
    196.2119, 196.1051, 196.1850, 196.0052, 196.2090,
};

static const double chick_weights[] = {
    368, 390, 379, 260, 404, 318, 352, 359, 216, 222, 283, 332,
    179, 160, 136, 227, 217, 168, 108, 124, 143, 140,
    309, 229, 181, 141, 260, 203, 148, 169, 213, 257, 244, 271,
    325, 257, 303, 315, 380, 153, 263, 242, 206, 344, 258,
    243, 230, 248, 327, 329, 250, 193, 271, 316, 267, 199, 171, 158, 248,
    423, 340, 392, 339, 341, 226, 320, 295, 334, 322, 297, 318,
};
static const size_t chick_sizes[] = {12, 10, 12, 11, 14, 12};
/* clang-format on */

#endif
