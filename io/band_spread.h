/* From a few runs to a band: every input is moved to its low and its high end alone; what each does to a figure is a parabola through the three
 * values, the effects add up, and the band is where nine of ten of all combinations lie. */
#ifndef LASTWATER_BAND_SPREAD_H
#define LASTWATER_BAND_SPREAD_H

#include <stdbool.h>
#include <stddef.h>

typedef struct {
  double low, high; /* the figure with this input at its low, at its high end             */
  bool two;         /* two choices: the middle value (equally likely) or `high`            */
  bool three;       /* three choices, equally likely: `low`, the middle value, `high`      */
} band_spread_effect;

/* low and high: 5 % and 95 % of the sum of effects around `middle`, inputs evenly distributed between their ends (half to either side of the
 * middle) and independent: points of the Sobol sequence, so always the same. num at most 32. */
void band_spread_find(double middle, const band_spread_effect *effects, size_t num, double *low, double *high);

/* Variance that one input alone brings. */
double band_spread_variance(double middle, const band_spread_effect *effect);

#endif
