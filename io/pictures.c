#include "io/pictures.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "io/picture_charts.h"
#include "io/picture_clear.h"
#include "io/picture_growth.h"
#include "io/picture_ice.h"
#include "io/picture_maps.h"
#include "io/picture_section.h"

status pictures_section(const char *path, const rig *r, const mesh *m, message *msg) { return picture_section_draw(path, r, m, msg); }

status pictures_freeze_time(const char *path, const rig *r, const mesh *m, const results *res, message *msg)
{
  return picture_maps_freeze_time(path, r, m, res, msg);
}

status pictures_field(const char *path, const rig *r, const mesh *m, const char *title, const char *unit, const double *values,
                      double time, message *msg)
{
  return picture_maps_field(path, r, m, title, unit, values, time, NULL, msg);
}

status pictures_frozen_share(const char *path, const results *res, message *msg) { return picture_charts_frozen_share(path, res, msg); }

status pictures_ledger(const char *path, const results *res, message *msg) { return picture_charts_ledger(path, res, msg); }

/* ------------------------------------------------------------------------------------------------ all of them */

typedef pictures_source source;

static status make_directory(const char *dir, message *msg)
{
  if (mkdir(dir, 0777) == 0 || errno == EEXIST)
    return STATUS_OK;
  return message_set(msg, STATUS_FILE, "%s: cannot be made: %s", dir, strerror(errno));
}

typedef enum { DRAW_SECTION, DRAW_FREEZE_TIME, DRAW_CUT, DRAW_POCKETS, DRAW_CLARITY, DRAW_GROWTH, DRAW_TEMPERATURE, DRAW_LIQUID, DRAW_SHARE, DRAW_LEDGER, DRAW_NUM } picture_kind;
static const char *const FILES[DRAW_NUM] = {"section",      "freeze_time", "ice_cut_away",    "last_pockets", "clarity",
                                            "growth_speed", "temperature", "liquid_fraction", "frozen_share", "ledger"};

static status draw_cut(const source *s, const char *path, message *msg)
{
  const ice_moments_of of = {s->rig, s->mesh, s->results};
  ice_moment moments[ICE_MOMENTS_MOST];
  if (!picture_ice_wanted(&of))
    return s->num_at ? message_set(msg, STATUS_BAD_INPUT, "--at: the ice is cut away for rigs in (x, y, z) with water that froze; %s is none", s->dir) : STATUS_OK;
  const status code = s->num_at ? ice_moments_read(&of, s->at, s->num_at, moments, msg) : STATUS_OK;
  return code == STATUS_OK ? picture_ice_draw_cut(path, &of, moments, s->num_at ? s->num_at : ice_moments_usual(&of, moments), msg) : code;
}

static status draw_pockets(const source *s, const char *path, message *msg)
{
  const ice_moments_of of = {s->rig, s->mesh, s->results};
  return picture_ice_wanted(&of) ? picture_ice_draw_pockets(path, &of, msg) : STATUS_OK;
}

static status draw_one(const source *s, picture_kind kind, const char *path, message *msg)
{
  const results *res = s->results;
  /* Planes of a rig in (x, y, z) pass through the last water. */
  const double *at = res->last_body >= 0 ? res->bodies[res->last_body].last_position : NULL;
  switch (kind) {
  case DRAW_SECTION: return pictures_section(path, s->rig, s->mesh, msg);
  case DRAW_FREEZE_TIME: return res->num_bodies && res->freeze_time ? pictures_freeze_time(path, s->rig, s->mesh, res, msg) : STATUS_OK;
  case DRAW_CUT: return draw_cut(s, path, msg);
  case DRAW_POCKETS: return draw_pockets(s, path, msg);
  case DRAW_CLARITY: return picture_clear_wanted(res) ? picture_clear_draw(path, s->rig, s->mesh, res, msg) : STATUS_OK;
  case DRAW_GROWTH: return picture_growth_wanted(res) ? picture_growth_draw(path, s->rig, s->mesh, res, msg) : STATUS_OK;
  case DRAW_TEMPERATURE:
    return s->temperature ? picture_maps_field(path, s->rig, s->mesh, "Temperature at the end", "degC", s->temperature, s->time, at, msg)
                          : STATUS_OK;
  case DRAW_LIQUID:
    return s->liquid_fraction
               ? picture_maps_field(path, s->rig, s->mesh, "Liquid share at the end", "1", s->liquid_fraction, s->time, at, msg)
               : STATUS_OK;
  case DRAW_SHARE: return res->series.num_rows ? pictures_frozen_share(path, res, msg) : STATUS_OK;
  case DRAW_LEDGER: return res->ledger.num ? pictures_ledger(path, res, msg) : STATUS_OK;
  case DRAW_NUM: break;
  }
  return STATUS_OK;
}

static status draw_all(const source *s, const char *format, message *msg)
{
  const size_t size = strlen(s->dir) + 64;
  char *path = malloc(size);
  if (!path)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a file name", size);
  (void)snprintf(path, size, "%s/pictures", s->dir);
  status code = make_directory(path, msg);
  for (int kind = 0; code == STATUS_OK && kind < DRAW_NUM; kind++) {
    (void)snprintf(path, size, "%s/pictures/%s.%s", s->dir, FILES[kind], format);
    code = draw_one(s, (picture_kind)kind, path, msg);
  }
  free(path);
  return code;
}

status pictures_draw_stored(const pictures_source *from, const char *format, message *msg) { return draw_all(from, format, msg); }

status pictures_draw(const char *dir, const rig *r, const run *x, message *msg)
{
  return draw_all(&(source){dir, r, run_mesh(x), run_results(x), run_temperature(x), run_liquid_fraction(x), run_time(x), NULL, 0}, "png", msg);
}
