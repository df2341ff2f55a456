/* What the plant's figures come to: performance, electricity per kilogram of ice, price, currents, shares of the compressors. */
#ifndef LASTWATER_PLANT_ACCOUNT_H
#define LASTWATER_PLANT_ACCOUNT_H

#include "solver/results.h"

/* of: the plant's means over the judged stage, seconds of that stage; work: J of electricity up to its end; ice: kg. */
plant_account plant_account_of(const rig_plant *p, const plant_result *of, double seconds, double work, double ice);

#endif
