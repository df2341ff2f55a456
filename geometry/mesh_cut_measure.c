/* Sizes of what cells are cut into. A linear function over a k-simplex S: integral of f g = |S| (sum f_i g_i + sum f sum g) / ((k+1)(k+2)). */
#include "geometry/mesh_cut_parts.h"

#include <string.h>

static const double pi = 3.14159265358979323846;

mesh_cut_measure mesh_cut_measure_of(const mesh_cut_work *w, const simplex *s)
{
  mesh_cut_measure m = {.plain = simplex_measure(s)};
  const double n = s->k + 1;
  double sum[3] = {0, 0, 0}, product[3] = {0, 0, 0};
  for (int v = 0; v <= s->k; v++)
    for (int a = 0; a < 3; a++) {
      sum[a] += s->v[v].x[a];
      product[a] += s->v[v].x[a] * s->v[v].x[0];
    }
  for (int a = 0; a < 3; a++) m.plain_moment[a] = m.plain * sum[a] / n;
  if (w->dim == 3) {
    m.full = m.plain;
    memcpy(m.full_moment, m.plain_moment, sizeof m.full_moment);
  } else {
    m.full = 2 * pi * m.plain_moment[0];
    for (int a = 0; a < 3; a++) m.full_moment[a] = 2 * pi * m.plain * (product[a] + sum[0] * sum[a]) / (n * (n + 1));
  }
  return m;
}

/* A box of the dimension of a cell or of a face: plain and full as above. */
mesh_cut_measure mesh_cut_measure_of_box(const mesh_cut_work *w, const double low[3], const double high[3])
{
  mesh_cut_measure m = {.plain = 1};
  for (int d = 0; d < w->dim; d++) {
    const int a = w->axes[d];
    if (high[a] > low[a]) m.plain *= high[a] - low[a];
  }
  m.full = m.plain;
  for (int a = 0; a < 3; a++) m.plain_moment[a] = m.full_moment[a] = m.plain * 0.5 * (low[a] + high[a]);
  if (w->dim == 2) {
    const double r = 0.5 * (low[0] + high[0]), dr = high[0] - low[0], z = 0.5 * (low[2] + high[2]);
    m.full = 2 * pi * r * m.plain;
    m.full_moment[0] = 2 * pi * m.plain * (r * r + dr * dr / 12);
    m.full_moment[1] = 0;
    m.full_moment[2] = m.full * z;
  }
  return m;
}
