#include "steady.h"

#include <math.h>
#include <stdlib.h>

static double interface_conductance(const steady_problem *p, const mesh_interface *f)
{
  const mesh *m = p->m;
  double resistance = f->distance[0] / (p->conductivity[f->part[0]] * f->area[0]);
  if (f->patch != MESH_NONE) {
    const mesh_patch *w = &m->patches[f->patch];
    resistance += w->thickness / (p->conductivity[w->part] * 0.5 * (f->area[0] + f->area[1]));
  }
  if (f->node[1] != MESH_NONE) resistance += f->distance[1] / (p->conductivity[f->part[1]] * f->area[1]);
  return 1 / resistance;
}

static double other_temperature(const steady_problem *p, const mesh_interface *f, const double *t)
{
  if (f->node[1] != MESH_NONE) return t[f->node[1]];
  return p->held_temperature[f->part[1] == MESH_VOID ? p->m->num_parts : f->part[1]];
}

double steady_interface_heat(const steady_problem *p, const mesh_interface *f, const double *t)
{
  const double other = other_temperature(p, f, t);
  return isnan(other) ? 0 : interface_conductance(p, f) * (t[f->node[0]] - other);
}

static void join(double g, size_t a, size_t b, const double *t, double *out)
{
  out[a] += g * (t[a] - t[b]);
  out[b] += g * (t[b] - t[a]);
}

/* Heat that leaves each node; `homogeneous` takes held temperatures as 0. */
static void outflow(const steady_problem *p, const double *t, bool homogeneous, double *out)
{
  const mesh *m = p->m;
  for (size_t n = 0; n < m->num_nodes; n++) out[n] = homogeneous ? 0 : -p->source * m->volume[n];
  const size_t stride[3] = {1, m->grid->num[0], m->grid->num[0] * m->grid->num[1]};
  for (int axis = 0; axis < 3; axis++)
    for (size_t c = 0; m->regular[axis] && c < grid_num_cells(m->grid); c++)
      if (m->regular[axis][c] > 0) join(p->conductivity[m->part[c]] * m->regular[axis][c], c, c + stride[axis], t, out);
  for (size_t i = 0; i < m->num_faces; i++) {
    const mesh_face *f = &m->faces[i];
    join(p->conductivity[m->part[f->left]] * f->area / f->distance, (size_t)f->left, (size_t)f->right, t, out);
  }
  for (size_t i = 0; i < m->num_interfaces; i++) {
    const mesh_interface *f = &m->interfaces[i];
    if (isnan(other_temperature(p, f, t))) continue;
    if (f->node[1] != MESH_NONE) join(interface_conductance(p, f), (size_t)f->node[0], (size_t)f->node[1], t, out);
    else out[f->node[0]] += interface_conductance(p, f) * (t[f->node[0]] - (homogeneous ? 0 : other_temperature(p, f, t)));
  }
  for (size_t n = 0; n < m->num_nodes; n++)
    if ((p->fixed && p->fixed[n]) || !(m->volume[n] > 0)) out[n] = 0;
}

static double dot(size_t n, const double *a, const double *b)
{
  double sum = 0;
  for (size_t i = 0; i < n; i++) sum += a[i] * b[i];
  return sum;
}

int steady_solve(const steady_problem *p, double *t)
{
  const size_t n = p->m->num_nodes;
  double *r = calloc(4 * n, sizeof *r), *d = r + n, *q = d + n;
  outflow(p, t, false, r);
  for (size_t i = 0; i < n; i++) d[i] = r[i] = -r[i];
  double rr = dot(n, r, r);
  const double start = rr;
  int turn = 0;
  for (turn = 1; turn < 20000 && rr > 1e-22 * start; turn++) {
    outflow(p, d, true, q);
    const double alpha = rr / dot(n, d, q);
    for (size_t i = 0; i < n; i++) {
      t[i] += alpha * d[i];
      r[i] -= alpha * q[i];
    }
    const double next = dot(n, r, r), beta = next / rr;
    for (size_t i = 0; i < n; i++) d[i] = r[i] + beta * d[i];
    rr = next;
  }
  free(r);
  return rr > 1e-22 * start ? 0 : turn;
}
