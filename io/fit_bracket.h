/* How sure a fit is of its inputs. */
#ifndef LASTWATER_FIT_BRACKET_H
#define LASTWATER_FIT_BRACKET_H

#include "io/fit_work.h"

/* Covariance, correlation and half widths by the slopes at the estimate. outlier: [num_values]. */
void fit_bracket_by_slopes(fit_work *f, const unsigned char *outlier);

/* Asks the loss itself at both ends of every bracket, the other inputs at their best there (a profile of the likelihood): where it has not risen by
 * most of what it would if the model were straight, the bracket is widened. x: the estimate. True: a better place was met on the way, and the brackets
 * are not those of a lowest place. */
bool fit_bracket_by_loss(fit_work *f, const double *x, const unsigned char *outlier, double *better);

#endif
