/* Bags of salt and water in a case: what strength and how much brine they make together. */
#ifndef LASTWATER_CASE_BAGS_H
#define LASTWATER_CASE_BAGS_H

#include "io/case_build.h"

enum { CASE_BAGS_MOST = 8 };

/* Reads `bags` and `water` of a bath; path names it in messages. False: a fault was told. *mass in kg. */
bool case_bags_read(const case_build *b, const yaml_node *item, const char *path, brine_salt *salt, double *mass_fraction, double *mass);

#endif
