#include "io/picture_pockets.h"

#include <math.h>

/* Was the node still liquid when a trapped pocket that holds it was closed? */
static bool shut_in(const body_result *body, const results *res, size_t node)
{
  for (int32_t i = res->pocket[node]; i >= 0 && (size_t)i < body->num_pockets; i = body->pockets[i].parent)
    if (body->pockets[i].trapped && !(res->freeze_time[node] < body->pockets[i].closed_at))
      return true;
  return false;
}

void picture_pockets_mark(const rig *r, const mesh *m, const results *res, double *inside)
{
  for (size_t i = 0; i < res->num_nodes; i++) {
    inside[i] = NAN;
    for (size_t body = 0; body < res->num_bodies; body++)
      if (m->part[i] == r->bodies[body].part && m->volume[i] > 0.0)
        inside[i] = res->pocket && shut_in(&res->bodies[body], res, i) ? 1.0 : 0.0;
  }
}

static bool has_edge(const section_view *v, const float *field)
{
  bool below = false, above = false;
  for (size_t i = 0; i < v->width * v->height; i++) {
    below = below || field[i] < 0.5f;
    above = above || field[i] >= 0.5f;
  }
  return below && above;
}

status picture_pockets_draw(picture_panel *p, const rig *r, const mesh *m, const double *inside, float *field, canvas_pen pen, bool *drawn, message *msg)
{
  const status code = section_view_field(p->view, r, m, inside, SECTION_SMOOTH, field, msg);
  *drawn = code == STATUS_OK && has_edge(p->view, field);
  return *drawn ? picture_panel_draw_edge(p, field, pen, msg) : code;
}
