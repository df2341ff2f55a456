#include "io/fit_axes.h"

#include <math.h>
#include <string.h>

enum { SWEEPS = 30 };

void fit_axes_begin(fit_axes *a, size_t num, double step)
{
  *a = (fit_axes){.num = num};
  for (size_t k = 0; k < num; k++)
    a->axis[k][k] = step;
}

/* One rotation of Jacobi's that makes m[p][q] zero; the rows of v turn with it. */
static void rotate(size_t n, double m[FIT_SOLVE_MOST][FIT_SOLVE_MOST], double v[FIT_SOLVE_MOST][FIT_SOLVE_MOST], size_t p, size_t q)
{
  const double theta = 0.5 * (m[q][q] - m[p][p]) / m[p][q];
  const double t = (theta < 0.0 ? -1.0 : 1.0) / (fabs(theta) + sqrt(theta * theta + 1.0)), c = 1.0 / sqrt(t * t + 1.0), s = t * c;
  for (size_t k = 0; k < n; k++) {
    const double a = m[k][p], b = m[k][q];
    m[k][p] = c * a - s * b;
    m[k][q] = s * a + c * b;
  }
  for (size_t k = 0; k < n; k++) {
    const double a = m[p][k], b = m[q][k];
    m[p][k] = c * a - s * b;
    m[q][k] = s * a + c * b;
  }
  for (size_t k = 0; k < n; k++) {
    const double a = v[p][k], b = v[q][k];
    v[p][k] = c * a - s * b;
    v[q][k] = s * a + c * b;
  }
}

/* Jacobi's method for a symmetric matrix: its values stay on the diagonal of m, the rows of v are its vectors. */
static void diagonalise(size_t n, double m[FIT_SOLVE_MOST][FIT_SOLVE_MOST], double v[FIT_SOLVE_MOST][FIT_SOLVE_MOST])
{
  memset(v, 0, FIT_SOLVE_MOST * sizeof *v);
  for (size_t i = 0; i < n; i++)
    v[i][i] = 1.0;
  for (int sweep = 0; sweep < SWEEPS; sweep++)
    for (size_t p = 0; p < n; p++)
      for (size_t q = p + 1; q < n; q++)
        if (fabs(m[p][q]) > 1e-14 * sqrt(fabs(m[p][p] * m[q][q])) && m[p][q] != 0.0)
          rotate(n, m, v, p, q);
}

void fit_axes_turn(fit_axes *a, double normal[FIT_SOLVE_MOST][FIT_SOLVE_MOST], double rise, double shortest, double longest)
{
  double vectors[FIT_SOLVE_MOST][FIT_SOLVE_MOST], turned[FIT_SOLVE_MOST][FIT_SOLVE_MOST] = {{0}};
  diagonalise(a->num, normal, vectors);
  for (size_t k = 0; k < a->num; k++) {
    double reach = 0.0, length = normal[k][k] > 0.0 ? sqrt(rise / normal[k][k]) : INFINITY;
    for (size_t j = 0; j < a->num; j++) {
      for (size_t i = 0; i < a->num; i++)
        turned[k][j] += vectors[k][i] * a->axis[i][j];
      reach = fmax(reach, fabs(turned[k][j]));
    }
    length = fmin(fmax(length, shortest / reach), longest / reach);
    for (size_t j = 0; j < a->num; j++)
      turned[k][j] *= length;
  }
  memcpy(a->axis, turned, sizeof turned);
}

void fit_axes_place(const fit_axes *a, const double *base, const double *steps, double *place)
{
  for (size_t j = 0; j < a->num; j++) {
    place[j] = base[j];
    for (size_t k = 0; k < a->num; k++)
      place[j] += steps[k] * a->axis[k][j];
  }
}

/* Solves sum over j of axis[k][j] by_input[j] = along[k]: Gauss and Jordan with pivots. */
void fit_axes_slopes(const fit_axes *a, const double *along, double *by_input)
{
  double m[FIT_SOLVE_MOST][FIT_SOLVE_MOST];
  memcpy(m, a->axis, sizeof m);
  memcpy(by_input, along, a->num * sizeof *along);
  for (size_t c = 0; c < a->num; c++) {
    size_t best = c;
    for (size_t i = c; i < a->num; i++)
      best = fabs(m[i][c]) > fabs(m[best][c]) ? i : best;
    double row[FIT_SOLVE_MOST];
    const double value = by_input[best];
    memcpy(row, m[best], sizeof row);
    memcpy(m[best], m[c], sizeof row);
    by_input[best] = by_input[c];
    for (size_t j = 0; j < a->num; j++)
      m[c][j] = row[j] / row[c];
    by_input[c] = value / row[c];
    for (size_t i = 0; i < a->num; i++) {
      const double factor = m[i][c];
      for (size_t j = 0; i != c && j < a->num; j++)
        m[i][j] -= factor * m[c][j];
      if (i != c)
        by_input[i] -= factor * by_input[c];
    }
  }
}
