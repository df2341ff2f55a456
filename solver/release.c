#include "solver/release.h"

#include <math.h>
#include <stdlib.h>

#include "materials/water.h"

/* The part whose wall the interface is, as seen from the body, or MESH_VOID. */
static int wall_of(const mesh *m, const mesh_interface *f, int body)
{
  if (f->part[0] != body && f->part[1] != body)
    return MESH_VOID;
  return f->patch != MESH_NONE ? m->patches[f->patch].part : f->part[f->part[0] == body ? 1 : 0];
}

/* m of film that a node at the wall holds; area: m2 of wall, of every node. */
static double film_of(const mesh *m, const adjacency *a, size_t node, const double *area, const release_ice *ice)
{
  const phase_curve *c = ice->curve;
  const double freezing = c->freezing_temperature, latent = c->liquid_enthalpy - c->solid_enthalpy, depth = m->volume[node] / area[node];
  const double kelvin = c->solid_enthalpy - phase_curve_enthalpy(c, freezing - 1.0); /* J/(m3 K) of ice */
  const double own = fmin(ice->temperature[node], freezing);
  double slope = 0.0; /* K m: heat passed on over conductivity */
  for (size_t i = a->start[node]; i < a->start[node + 1]; i++) {
    const int32_t behind = a->neighbour[i];
    if (!(area[behind] > 0.0))
      slope += (double)a->area[i] / (double)a->distance[i] * (own - fmin(ice->temperature[behind], freezing));
  }
  const double surface = own - freezing + 0.5 * slope * depth / area[node];
  return fmax(ice->liquid_fraction[node] * depth + surface * kelvin / latent * depth, 0.0);
}

status release_film_now(release_film *out, const mesh *m, const adjacency *a, int body, const uint8_t *is_mould, const release_ice *ice, message *msg)
{
  *out = (release_film){.thinnest = INFINITY};
  double *area = calloc(m->num_nodes + 1, sizeof *area);
  if (!area)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the film at the mould", m->num_nodes * sizeof *area);
  for (size_t i = 0; i < m->num_interfaces; i++) {
    const mesh_interface *f = &m->interfaces[i];
    const int wall = wall_of(m, f, body), side = f->part[0] == body ? 0 : 1;
    if (wall != MESH_VOID && is_mould[wall] && f->node[side] != MESH_NONE)
      area[f->node[side]] += f->area[side];
  }
  double volume = 0.0;
  for (size_t node = 0; node < m->num_nodes; node++) {
    if (area[node] <= 0.0)
      continue;
    const double film = film_of(m, a, node, area, ice);
    out->area += area[node];
    volume += film * area[node];
    if (film < out->thinnest) {
      out->thinnest = film;
      for (int axis = 0; axis < 3; axis++)
        out->position[axis] = m->centroid[node][axis];
    }
  }
  out->mean = out->area > 0.0 ? volume / out->area : INFINITY;
  free(area);
  return STATUS_OK;
}

release_estimate release_by_hand(double temperature, double flux, double film)
{
  const double pi = 3.141592653589793, k = 2.22, alpha = 1.18e-6, melting = WATER_ICE_DENSITY * WATER_LATENT_HEAT * film;
  const double ratio = k * temperature / flux, t1 = 0.25 * pi * ratio * ratio / alpha, t0 = ratio * ratio / (pi * alpha);
  const double b = 2.0 * k * fabs(temperature) / sqrt(pi * alpha);
  const double last = b * sqrt(t0) - flux * t0 - melting;
  const double x = (b + sqrt(b * b - 4.0 * flux * last)) / (2.0 * flux);
  return (release_estimate){.melts_at = t1, .released_at = t1 + x * x - t0};
}
