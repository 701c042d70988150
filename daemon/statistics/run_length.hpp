// How long until a chart alarms: its average run length, and the chance of an alarm by each night. Pure functions.
//
// Everything is in standard deviations of one value; values independent and normal, reference and sigma known. Solved from the chart's
// integral equation with Gauss and Legendre's nodes, not simulated and not looked up. The one-sided CUSUM is
// S = max(0, S + z - k) with an alarm at S > h, begun at 0; by symmetry the lower side at a shift is the upper side at minus the shift.
#pragma once

#include <span>
#include <vector>

namespace midstick::statistics {

/// Mean number of values up to and with the alarm, one-sided CUSUM, mean of z `shift`; k >= 0, h > 0.
double cusum_run_length(double shift, double k, double h);
/// Both sides at once: 1 / L = 1 / L_up + 1 / L_down.
double cusum_run_length_two_sided(double shift, double k, double h);

/// EWMA of weight in (0, 1], two-sided, begun at the target, with limits of `limit` asymptotic standard deviations.
double ewma_run_length(double shift, double weight, double limit);

/// Single values outside +-limit.
double shewhart_run_length(double shift, double limit = 3);

/// Chance that a one-sided CUSUM has alarmed by the 1st, 2nd ... value, when the i-th value has mean shifts[i] and sd sds[i] (1 where `sds`
/// is empty): a drift may grow, which no average run length covers.
std::vector<double> cusum_alarm_by(std::span<const double> shifts, double k, double h, std::span<const double> sds = {});

/// Smallest h, to 1e-4, at which both sides together alarm within `values` values without shift with a chance of at most `risk`, in
/// (0, 1). Slightly cautious: the two sides' chances are added.
double cusum_threshold(double k, int values, double risk);

}  // namespace midstick::statistics
