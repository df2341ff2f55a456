/* The directions a fit searches in. Two inputs that nearly do the same make a narrow valley: along an input the loss rises at once, along the
 * valley it hardly does, and slopes taken along the inputs say nothing about the valley's floor. So the directions are turned into the
 * principal axes of the loss, and each made so long that one step changes the loss by the same amount. */
#ifndef LASTWATER_FIT_AXES_H
#define LASTWATER_FIT_AXES_H

#include <stddef.h>

#include "io/fit_solve.h"

typedef struct {
  size_t num;
  double axis[FIT_SOLVE_MOST][FIT_SOLVE_MOST]; /* [direction][input] */
} fit_axes;

/* One direction an input, `step` long. */
void fit_axes_begin(fit_axes *a, size_t num, double step);

/* Turns the directions. normal: sum of products of the slopes along the present directions over the scatter's square. Afterwards one step along any
 * direction changes the loss by `rise` (as a sum of squares over the scatter's square), unless that takes an input further than `longest` or
 * less far than `shortest`. */
void fit_axes_turn(fit_axes *a, double normal[FIT_SOLVE_MOST][FIT_SOLVE_MOST], double rise, double shortest, double longest);

/* place = base + sum of steps times directions. */
void fit_axes_place(const fit_axes *a, const double *base, const double *steps, double *place);

/* Slopes by the inputs of what has these slopes along the directions. */
void fit_axes_slopes(const fit_axes *a, const double *along, double *by_input);

#endif
