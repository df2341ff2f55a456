/* The points of a sweep: which values every input takes at each, and which points are one and the same case. */
#ifndef LASTWATER_PLAN_POINTS_H
#define LASTWATER_PLAN_POINTS_H

#include "io/plan_file.h"

enum { PLAN_POINTS_UNASKED = 1000000, PLAN_POINTS_VALUE = 256 };

typedef struct plan_points plan_points;

/* How many points a plan has, before anything is made; SIZE_MAX when it is more than can be counted. */
size_t plan_points_count(const plan_file *p);

/* STATUS_BAD_INPUT: more than PLAN_POINTS_UNASKED and not `yes`; more inputs than the Sobol sequence has dimensions. p is borrowed. */
status plan_points_create(plan_points **out, const plan_file *p, bool yes, message *msg);
void plan_points_destroy(plan_points **pts); /* NULL-safe */
size_t plan_points_num(const plan_points *pts);       /* points            */
size_t plan_points_num_cases(const plan_points *pts); /* unlike ones       */
size_t plan_points_case(const plan_points *pts, size_t point);  /* which case a point is                       */
size_t plan_points_first(const plan_points *pts, size_t which); /* the first point of a case                   */

/* Value of an input at a point, as --set takes it; true when it is the case's own and nothing is set. number (may be NULL): SI, NAN
 * for words. */
bool plan_points_value(const plan_points *pts, size_t point, size_t input, char text[PLAN_POINTS_VALUE], double *number);

#endif
