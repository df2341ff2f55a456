/* summary.txt: the answer in sentences with figures; with the few lines that say where to look it fits 24 lines of 80 characters. Metric, with US units in parentheses where
 * people use them. What is not known is not mentioned; what does not fit is dropped from the least important up, and that is said. */
#ifndef LASTWATER_SUMMARY_TEXT_H
#define LASTWATER_SUMMARY_TEXT_H

#include "solver/results.h"
#include "solver/rig.h"

#define SUMMARY_TEXT_NAME "summary.txt"
enum { SUMMARY_TEXT_LINES = 20, SUMMARY_TEXT_COLUMNS = 80 };

/* *text is allocated; free() it. */
status summary_text_make(char **text, const rig *r, const results *res, message *msg);

#endif
