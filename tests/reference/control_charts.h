/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The worked examples of control charts in the NIST/SEMATECH e-Handbook of Statistical
 * Methods, https://www.itl.nist.gov/div898/handbook/ (a work of the United States government,
 * in the public domain): individuals (6.3.2.2), EWMA (6.3.2.4), cumulative sum (6.3.2.3).
 * The handbook prints a few digits; those beyond were computed with NumPy 1.24 from the same
 * formulas, and round to what it prints.
 */
#ifndef TESTS_REFERENCE_CONTROL_CHARTS_H
#define TESTS_REFERENCE_CONTROL_CHARTS_H

/* clang-format off */

/* 6.3.2.2, flow rate: mean 50.81, mean moving range 1.8778, nothing out of control. */
static const double nist_flow_rate[] = {
    49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1,
};

/* 6.3.2.4: lambda 0.3, beginning at 50, s 2.0539, 3 deviations; limits 52.5884, 47.4115 (the
 * latter cut off, not rounded), no signal. */
static const double nist_ewma_data[] = {
    52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5,
    49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1,
};
static const double nist_ewma[] = {
    50.6, 49.52, 50.564, 50.1848, 50.15936, 49.211552, 49.7480864, 49.85366048,
    50.25756234, 50.33029364, 50.11120554, 49.35784388, 49.52049072, 50.0543435,
    49.37804045, 49.92462832, 50.72723982, 51.22906787, 51.94034751, 51.98824326,
};

/* 6.3.2.3: target 325, k 0.3175, h 4.1959; signals from group 14 on. */
static const double nist_cusum_data[] = {
    324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225,
    324.600, 324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775,
    326.875, 328.350,
};
static const double nist_cusum_high[] = {
    0, 0, 0, 0, 0.0325, 0, 0, 0, 0, 0,
    0, 0, 3.0075, 4.94, 7.4475, 10.63, 11.9875, 14.445, 16.0025, 19.035,
};
static const double nist_cusum_low[] = {
    0, 0.0075, 0, 0.3325, 0, 0, 0.5575, 0.715, 0.1725, 0.255,
    0.3125, 0, 0, 0, 0, 0, 0, 0, 0, 0,
};
/* clang-format on */

#endif
