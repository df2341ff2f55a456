/* Charts of a run: frozen share and coolant against time, and where the cold went. */
#ifndef LASTWATER_PICTURE_CHARTS_H
#define LASTWATER_PICTURE_CHARTS_H

#include "solver/results.h"

/* From the columns "NAME.frozen_share" and "coolant.temperature" of the series. */
status picture_charts_frozen_share(const char *path, const results *res, message *msg);
/* From the ledger of all stages. */
status picture_charts_ledger(const char *path, const results *res, message *msg);

#endif
