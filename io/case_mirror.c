#include "io/case_mirror.h"

#include <math.h>
#include <stdint.h>

#include "geometry/tube_path.h"

enum { TRIALS = 3000 };
static const char *const AXES[2] = {"x", "y"};

/* The box of all parts, widened to be symmetric about the plane. */
static bool box_of(const case_file *c, int axis, double at, double low[3], double high[3])
{
  for (int a = 0; a < 3; a++) {
    low[a] = INFINITY;
    high[a] = -INFINITY;
  }
  for (size_t i = 0; i < c->num_parts; i++) {
    double l[3], h[3];
    shape_bounds(c->parts[i].outer, l, h);
    for (int a = 0; a < 3; a++) {
      low[a] = fmin(low[a], l[a]);
      high[a] = fmax(high[a], h[a]);
    }
  }
  if (!(at > low[axis] && at < high[axis]))
    return false;
  const double reach = fmax(at - low[axis], high[axis] - at);
  low[axis] = at - reach;
  high[axis] = at + reach;
  return true;
}

static double next_number(uint64_t *state)
{
  *state = *state * 6364136223846793005u + 1442695040888963407u;
  return (double)(*state >> 11) / 9007199254740992.0;
}

/* Looks at many places and their images; a fault at the first that differ. */
static void check_parts(const case_build *b, const yaml_node *map, int axis, double at, double tolerance)
{
  const rig *r = &b->c->rig;
  uint64_t state = 20260 + (uint64_t)axis;
  double low[3], high[3];
  if (!box_of(b->c, axis, at, low, high)) {
    case_build_fault(b, map, AXES[axis], "mirror.%s: the plane %s = %.5g mm does not go through the rig", AXES[axis], AXES[axis], 1e3 * at);
    return;
  }
  for (int n = 0; n < TRIALS; n++) {
    double p[3], q[3];
    for (int a = 0; a < 3; a++)
      q[a] = p[a] = low[a] + (high[a] - low[a]) * next_number(&state);
    q[axis] = 2.0 * at - p[axis];
    for (size_t i = 0; i < r->num_parts; i++) {
      const double here = shape_distance(r->parts[i].region, p), there = shape_distance(r->parts[i].region, q);
      if (fabs(here - there) <= tolerance)
        continue;
      case_build_fault(b, map, AXES[axis],
                       "mirror.%s: \"%s\" is not symmetric about %s = %.5g mm: at x %.4g, y %.4g, z %.4g mm its surface is %.3g mm away, at the image of "
                       "that place %.3g mm; leave the plane out", AXES[axis], r->parts[i].name, AXES[axis], 1e3 * at, 1e3 * p[0], 1e3 * p[1], 1e3 * p[2],
                       1e3 * fabs(here), 1e3 * fabs(there));
      return;
    }
  }
}

/* The image of every place of a coil lies on it: looked at all along the line, for a missing piece may have its ends at the images of others.
 * False: `image` is a place where it is missing. */
static bool coil_has_image(const rig_coil *k, int axis, double at, double tolerance, double image[3])
{
  enum { PLACES = 1000 };
  const tube_path line = {.num = k->num_points, .point = k->points};
  const double apart = tube_path_length(&line) / PLACES;
  for (size_t n = 0; n < k->num_points; n++) {
    const double *from = k->points[n], *to = k->points[n + 1 < k->num_points ? n + 1 : n];
    const double length = sqrt((to[0] - from[0]) * (to[0] - from[0]) + (to[1] - from[1]) * (to[1] - from[1]) + (to[2] - from[2]) * (to[2] - from[2]));
    const size_t num = 1 + (size_t)(length / apart);
    for (size_t i = 0; i < num; i++) {
      for (int a = 0; a < 3; a++)
        image[a] = from[a] + (to[a] - from[a]) * (double)i / (double)num;
      image[axis] = 2.0 * at - image[axis];
      if (tube_path_distance(&line, image) > tolerance)
        return false;
    }
  }
  return true;
}

static void check_coils(const case_build *b, const yaml_node *map, int axis, double at, double tolerance)
{
  for (size_t i = 0; i < b->c->rig.num_coils; i++) {
    const rig_coil *k = &b->c->rig.coils[i];
    double place[3];
    if (k->conductance > 0.0)
      case_build_fault(b, map, AXES[axis], "mirror.%s: coil \"%s\" is channels, whose W/K are those of a whole part; leave the plane out", AXES[axis], k->name);
    if (k->num_points > 0 && !coil_has_image(k, axis, at, tolerance, place))
      case_build_fault(b, map, AXES[axis],
                       "mirror.%s: coil \"%s\" is not symmetric about %s = %.5g mm: at x %.4g, y %.4g, z %.4g mm is no tube, at the image of that place there is; "
                       "leave the plane out (a serpentine along x has an image about y where its runs are even in number or lie one above the other, a helix never)",
                       AXES[axis], k->name, AXES[axis], 1e3 * at, 1e3 * place[0], 1e3 * place[1], 1e3 * place[2]);
  }
}

case_mirror case_mirror_read(const case_build *b, double tolerance)
{
  const yaml_node *map = yaml_tree_value(b->c->tree, "mirror");
  case_mirror m = {.plane = {false, false}};
  for (int axis = 0; map && axis < 2; axis++) {
    m.plane[axis] = case_build_quantity(b, map, SECTION_MIRROR, AXES[axis], &m.at[axis]);
    if (!m.plane[axis])
      continue;
    check_parts(b, map, axis, m.at[axis], tolerance);
    check_coils(b, map, axis, m.at[axis], 10.0 * tolerance);
    for (size_t i = 0; i < b->c->rig.num_probes; i++) {
      double *x = &b->c->rig.probes[i].point[axis];
      *x = *x < m.at[axis] ? 2.0 * m.at[axis] - *x : *x;
    }
  }
  if (map && b->c->revolved)
    fault_add(b->faults, map->at, "mirror: with dimension: rz all of the turn is computed already; mirror planes go with xyz");
  else if (m.plane[0] || m.plane[1])
    fault_note(b->faults, map->at, "mirror planes: %s is computed; masses, volumes, heat and power are those of the whole rig, and a pocket off the "
               "planes stands for its images too", m.plane[0] && m.plane[1] ? "a quarter" : "a half");
  return m;
}
