#include "io/case_coil_line.h"

#include <math.h>
#include <string.h>

#include "geometry/shape_placed.h"
#include "io/case_shape.h"

static const double PI = 3.14159265358979323846;

bool case_coil_line_axis(const case_build *b, const yaml_node *item, double axis[2])
{
  const yaml_node *at = yaml_tree_value(item, "axis_at");
  axis[0] = axis[1] = 0.0;
  return !at || case_build_point(b, at, 2, axis);
}

/* ------------------------------------------------------------------------------------------------ its line */

static status told(const case_build *b, const yaml_node *item, const char *path, status code, const message *why)
{
  if (code == STATUS_NO_MEMORY)
    return message_set(b->msg, code, "%s", why->text);
  if (code != STATUS_OK)
    case_build_fault(b, item, NULL, "%s: %s", path, why->text);
  return STATUS_OK;
}

/* Turned about the upright axis; upright: its runs lie one above the other. */
static void place(const case_build *b, const yaml_node *item, double z, const double axis[2], bool upright, tube_path *line)
{
  double turn = 0.0, lowest = INFINITY;
  const double origin[3] = {0.0, 0.0, 0.0}, by[3] = {axis[0], axis[1], 0.0};
  (void)case_build_quantity(b, item, SECTION_COIL, "turn", &turn);
  const shape_placed_frame f = shape_placed_turn(1.0, 0.0, 0.0, turn, origin, by);
  for (size_t i = 0; i < line->num; i++) {
    const double own[3] = {line->point[i][0], upright ? 0.0 : line->point[i][1], upright ? line->point[i][1] : line->point[i][2]};
    shape_placed_point(&f, own, line->point[i]);
    lowest = fmin(lowest, line->point[i][2]);
  }
  for (size_t i = 0; i < line->num; i++)
    line->point[i][2] += z - (upright ? lowest : 0.0);
}

static status make_serpentine(const case_build *b, const yaml_node *item, const char *path, double z, const double axis[2], tube_path *line)
{
  double runs = 0.0, length = 0.0, pitch = 0.0;
  message why = {""};
  if (!case_build_quantity(b, item, SECTION_COIL, "runs", &runs) || !case_build_quantity(b, item, SECTION_COIL, "run_length", &length) ||
      !case_build_quantity(b, item, SECTION_COIL, "pitch", &pitch)) {
    case_build_fault(b, item, NULL, "%s: a serpentine needs \"runs\", \"run_length\" and \"pitch\"", path);
    return STATUS_OK;
  }
  if (runs != round(runs) || runs > 1000.0) {
    case_build_fault(b, item, "runs", "%s: %.4g runs; a whole number from 1 to 1000 is accepted", path, runs);
    return STATUS_OK;
  }
  const status code = tube_path_serpentine(line, (size_t)runs, length, pitch, &why);
  if (code == STATUS_OK)
    place(b, item, z, axis, case_build_flag(item, SECTION_COIL, "upright"), line);
  return told(b, item, path, code, &why);
}

static status make_line(const case_build *b, const yaml_node *item, const char *path, const case_coil_helix *helix, double z, tube_path *line)
{
  double axis[2];
  message why = {""};
  const int kind = case_build_choice(item, SECTION_COIL, "shape");
  *line = (tube_path){0};
  if (!case_coil_line_axis(b, item, axis))
    return STATUS_OK;
  if (kind == 2)
    return case_shape_path(b, item, "path", path, line);
  if (kind == 1)
    return make_serpentine(b, item, path, z, axis, line);
  const status code = tube_path_helix(line, helix->radius, z, helix->height, helix->turns, &why);
  if (code == STATUS_OK)
    place(b, item, 0.0, axis, false, line);
  return told(b, item, path, code, &why);
}

/* ------------------------------------------------------------------------------------------------ its room */

double case_coil_line_gap(const rig_coil *coil, const shape *s, double at[3])
{
  const double half = 0.5 * coil->tube_outer;
  double least = INFINITY;
  for (size_t i = 0; i + 1 < coil->num_points; i++) {
    const double *from = coil->points[i], *to = coil->points[i + 1];
    const double length = sqrt(pow(to[0] - from[0], 2.0) + pow(to[1] - from[1], 2.0) + pow(to[2] - from[2], 2.0));
    for (double way = 0.0;;) { /* nothing is nearer than the distance: so far one may go on */
      double p[3];
      for (int a = 0; a < 3; a++)
        p[a] = from[a] + (to[a] - from[a]) * way / length;
      const double distance = shape_distance(s, p);
      if (distance - half < least) {
        least = distance - half;
        if (at)
          memcpy(at, p, sizeof p);
      }
      if (way >= length)
        break;
      way = fmin(length, way + fmax(0.5 * half, fabs(distance) - 0.5 * half));
    }
  }
  return least;
}

/* Free way to every part but the one it lies in; less than none is a fault. */
static void check_room(const case_build *b, const yaml_node *item, const char *path, case_coil *coil, const rig_coil *out)
{
  const char *lies_in = case_build_text(item, SECTION_COIL, "in");
  coil->clearance = INFINITY;
  for (size_t j = 0; j < b->c->num_parts; j++) {
    const case_part *p = &b->c->parts[j];
    double at[3];
    if (!p->sound || strcmp(p->name, lies_in) == 0)
      continue;
    const double gap = case_coil_line_gap(out, p->region, at);
    if (gap < coil->clearance) {
      coil->clearance = gap;
      (void)snprintf(coil->nearest, sizeof coil->nearest, "%s", p->name);
    }
    if (gap <= 0.0)
      case_build_fault(b, item, NULL, "%s: at x %.4g, y %.4g, z %.4g mm it goes through \"%s\" by %.3g mm; move the coil or the part", path, 1e3 * at[0],
                       1e3 * at[1], 1e3 * at[2], p->name, -1e3 * gap);
  }
}

/* ------------------------------------------------------------------------------------------------ all */

static bool wrong_keys(const case_build *b, const yaml_node *item, const char *path)
{
  static const char *const kinds[] = {"helix", "serpentine", "path"};
  static const struct {
    const char *key;
    int kind, or_kind;
  } uses[] = {{"radius", 0, 0}, {"diameter", 0, 0}, {"around", 0, 0}, {"inside", 0, 0}, {"gap", 0, 0}, {"turns", 0, 0}, {"height", 0, 0}, {"length", 0, 0},
              {"pitch", 0, 1}, {"runs", 1, 1}, {"run_length", 1, 1}, {"upright", 1, 1}, {"path", 2, 2}, {"axis_at", 0, 1}, {"turn", 0, 1}, {"z", 0, 1}};
  const int kind = case_build_choice(item, SECTION_COIL, "shape");
  bool wrong = false;
  for (size_t i = 0; i < sizeof uses / sizeof *uses; i++)
    if (case_build_has(item, uses[i].key) && uses[i].kind != kind && uses[i].or_kind != kind) {
      case_build_fault(b, item, uses[i].key, "%s: a coil of shape %s has no \"%s\"", path, kinds[kind], uses[i].key);
      wrong = true;
    }
  return wrong;
}

status case_coil_line_build(case_build *b, const yaml_node *item, const char *path, const case_coil_helix *helix, case_coil *coil, rig_coil *out)
{
  tube_path line = {0};
  if (wrong_keys(b, item, path))
    return STATUS_OK;
  status code = make_line(b, item, path, helix, coil->z, &line);
  if (code == STATUS_OK && line.num > 0) {
    const double clear = tube_path_clearance(&line, PI * out->tube_outer);
    if (clear < out->tube_outer * (1.0 - 1e-6))
      case_build_fault(b, item, NULL, "%s: its turns would overlap: they come within %.4g mm, the tube is %.4g mm", path, 1e3 * clear, 1e3 * out->tube_outer);
    double(*points)[3] = case_store_array(b->c->store, line.num, sizeof *points, b->msg);
    if (!points)
      code = STATUS_NO_MEMORY;
    else {
      memcpy(points, line.point, line.num * sizeof *points);
      out->points = points;
      out->num_points = line.num;
      out->length = coil->length = tube_path_length(&line);
      check_room(b, item, path, coil, out);
    }
  }
  tube_path_release(&line);
  return code;
}
