/* The picture of a fit: above, what was measured (dots) and what the fitted case says (lines); below, the one less the other. */
#ifndef LASTWATER_PICTURE_FIT_H
#define LASTWATER_PICTURE_FIT_H

#include "io/fit_model.h"

/* predictions, outlier: [num_rows * num_probes] as fit_model_predict orders them; scatter: K. */
status picture_fit_draw(const char *path, const fit_model *m, const double *predictions, const unsigned char *outlier, double scatter, message *msg);

#endif
