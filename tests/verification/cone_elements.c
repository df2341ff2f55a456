#include "cone_elements.h"

#include <check.h>
#include <math.h>
#include <stdbool.h>
#include <stdlib.h>

typedef struct {
  int num;               /* triangles along the radius */
  size_t nodes;
  double *volume, *cold; /* lumped, over 2 pi */
  double *across, *up;   /* conductance to the node at (i + 1, j) and to (i, j + 1), over 2 pi */
  double *enthalpy, *gain, *potential;
  bool *held;
} elements;

/* Nodes (i, j), 0 <= i <= j <= num, at r = i / num, z = height j / num: apex below. */
static size_t at(int i, int j)
{
  return (size_t)j * (size_t)(j + 1) / 2 + (size_t)i;
}

/* Corners: 0 and 1 beside the right angle's 2; side 2-0 upright, 2-1 level. r[k] of each. */
static void add_triangle(elements *e, const size_t corner[3], const double r[3], double width, double height)
{
  const double area = 0.5 * width * height, sum = r[0] + r[1] + r[2];
  for (int k = 0; k < 3; k++)
    e->volume[corner[k]] += area * (sum + r[k]) / 12.0;
}

static void add_edge(double *cold, size_t a, size_t b, double ra, double rb, double length)
{
  cold[a] += length * (2.0 * ra + rb) / 6.0;
  cold[b] += length * (ra + 2.0 * rb) / 6.0;
}

static void build(elements *e, const cone_elements *c, int num)
{
  const double width = 1.0 / num, height = c->height / num, half = 0.5 * width * height, slant = hypot(width, height);
  *e = (elements){.num = num, .nodes = at(0, num + 1)};
  double **fields[] = {&e->volume, &e->cold, &e->across, &e->up, &e->enthalpy, &e->gain, &e->potential};
  for (size_t f = 0; f < sizeof fields / sizeof *fields; f++) {
    *fields[f] = calloc(e->nodes, sizeof(double));
    ck_assert_ptr_nonnull(*fields[f]);
  }
  e->held = calloc(e->nodes, sizeof *e->held);
  ck_assert_ptr_nonnull(e->held);
  for (int j = 0; j < num; j++)
    for (int i = 0; i <= j; i++) {
      const double r = i * width, next = r + width;
      add_triangle(e, (size_t[]){at(i, j), at(i + 1, j + 1), at(i, j + 1)}, (double[]){r, next, r}, width, height);
      e->across[at(i, j + 1)] += half * (2.0 * r + next) / 3.0 / (width * width);
      e->up[at(i, j)] += half * (2.0 * r + next) / 3.0 / (height * height);
      if (i == j)
        continue;
      add_triangle(e, (size_t[]){at(i, j), at(i + 1, j), at(i + 1, j + 1)}, (double[]){r, next, next}, width, height);
      e->across[at(i, j)] += half * (r + 2.0 * next) / 3.0 / (width * width);
      e->up[at(i + 1, j)] += half * (r + 2.0 * next) / 3.0 / (height * height);
    }
  for (int i = 0; i < num; i++) {
    const double r = i * width;
    add_edge(e->cold, at(i, i), at(i + 1, i + 1), r, r + width, slant);
    add_edge(e->cold, at(i, num), at(i + 1, num), r, r + width, width);
  }
  for (int i = 0; i <= num && isinf(c->biot); i++)
    e->held[at(i, i)] = e->held[at(i, num)] = true;
}

static void release(elements *e)
{
  double *fields[] = {e->volume, e->cold, e->across, e->up, e->enthalpy, e->gain, e->potential};
  for (size_t f = 0; f < sizeof fields / sizeof *fields; f++)
    free(fields[f]);
  free(e->held);
}

/* Nine tenths of the longest step at which no node overshoots. */
static double step_of(const elements *e, const cone_elements *c)
{
  const double fastest = fmax(1.0, c->conductivity / c->heat_capacity);
  double step = INFINITY;
  for (int j = 0; j <= e->num; j++)
    for (int i = 0; i <= j; i++) {
      const size_t n = at(i, j);
      double sum = (i < j ? e->across[n] : 0.0) + (j < e->num ? e->up[n] : 0.0);
      sum += (i > 0 ? e->across[n - 1] : 0.0) + (j > i ? e->up[at(i, j - 1)] : 0.0);
      if (!e->held[n])
        step = fmin(step, e->volume[n] / (fastest * sum + (isinf(c->biot) ? 0.0 : c->biot * e->cold[n])));
    }
  return 0.9 * step;
}

static void find_gains(elements *e, const cone_elements *c, double latent)
{
  for (size_t n = 0; n < e->nodes; n++) {
    const double h = e->enthalpy[n], temperature = h < 0.0 ? h : h > latent ? (h - latent) / c->heat_capacity : 0.0;
    e->potential[n] = e->held[n] ? -1.0 : temperature > 0.0 ? c->conductivity * temperature : temperature;
    e->gain[n] = isinf(c->biot) ? 0.0 : -c->biot * e->cold[n] * (1.0 + temperature);
  }
  for (int j = 0; j <= e->num; j++)
    for (int i = 0; i <= j; i++) {
      const size_t n = at(i, j), right = n + 1, above = at(i, j + 1);
      const double across = i < j ? e->across[n] * (e->potential[right] - e->potential[n]) : 0.0;
      const double up = j < e->num ? e->up[n] * (e->potential[above] - e->potential[n]) : 0.0;
      e->gain[n] += across + up;
      if (i < j)
        e->gain[right] -= across;
      if (j < e->num)
        e->gain[above] -= up;
    }
}

double cone_elements_complete(const cone_elements *c, int num)
{
  elements e;
  build(&e, c, num);
  const double latent = 1.0 / c->stefan, step = step_of(&e, c);
  double time = 0.0, last = 0.0;
  for (size_t n = 0; n < e.nodes; n++)
    e.enthalpy[n] = latent + c->heat_capacity * c->superheat;
  for (bool wet = true; wet; time += step) {
    find_gains(&e, c, latent);
    wet = false;
    for (size_t n = 0; n < e.nodes; n++) {
      if (e.held[n])
        continue;
      const double before = e.enthalpy[n];
      e.enthalpy[n] += step * e.gain[n] / e.volume[n];
      wet = wet || e.enthalpy[n] > 0.0;
      if (before > 0.0 && e.enthalpy[n] <= 0.0)
        last = fmax(last, time + step * before / (before - e.enthalpy[n]));
    }
  }
  release(&e);
  return last;
}

double cone_elements_extrapolated(const cone_elements *c, int num)
{
  const double coarse = cone_elements_complete(c, num / 2), fine = cone_elements_complete(c, num);
  return fine + (fine - coarse) / (exp2(1.6) - 1.0);
}
