/* lastwater fit CASE LOG.csv: settles uncertain inputs from a thermometer's log. Leaves fit.json, fit.txt, residuals.png, residuals.csv and the
 * refined case.yaml (fitted values with their spread) in CASE.fit, or in -o DIR. */
#ifndef LASTWATER_FIT_COMMAND_H
#define LASTWATER_FIT_COMMAND_H

#include "io/case_file.h"
#include "io/options.h"

status fit_command(const options *o, const case_file *c, message *msg);

#endif
