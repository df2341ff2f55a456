#include "io/summary_clear.h"

#include <math.h>
#include <stddef.h>

/* One table for both ways. */
typedef struct { const char *key; size_t at; } field;
#define AT(member) offsetof(clear_result, member)
static const field REALS[] = {{"fraction", AT(fraction)},
                              {"fraction_low", AT(fraction_low)},
                              {"fraction_high", AT(fraction_high)},
                              {"hazy_fraction", AT(hazy_fraction)},
                              {"white_fraction", AT(white_fraction)},
                              {"white_fraction_low", AT(white_low)},
                              {"white_fraction_high", AT(white_high)},
                              {"onset_time_s", AT(onset_time)},
                              {"onset_fraction", AT(onset_share)},
                              {"stop_time_s", AT(stop_time)},
                              {"stop_time_low_s", AT(stop_time_low)},
                              {"stop_time_high_s", AT(stop_time_high)},
                              {"stop_fraction", AT(stop_share)},
                              {"minerals_time_s", AT(salt_time)},
                              {"minerals_fraction", AT(salt_share)},
                              {"exchange_time_s", AT(renew_time)},
                              {"exchange_fraction", AT(renew_share)},
                              {"fraction_with_exchange", AT(renewed_fraction)},
                              {"void_m3", AT(void_volume)},
                              {"residual_relative", AT(books_error)}};
static const field POSITIONS[] = {{"largest_piece_m", AT(piece_size)},    {"largest_piece_low_m", AT(piece_low)}, {"largest_piece_high_m", AT(piece_high)},
                                  {"white_position_m", AT(white_position)}, {"white_low_m", AT(white_from)},       {"white_high_m", AT(white_to)},
                                  {"optical_depth", AT(optical_depth)},   {"reflectance", AT(reflectance)},
                                  {"largest_piece_if_early_m", AT(piece_smallest)}, {"largest_piece_if_late_m", AT(piece_largest)}};
/* Named by the frozen share at which the tenth ends. */
static const field TENTHS[] = {{"growth_m_per_s", AT(growth_speed)}, {"clear_limit_m_per_s", AT(growth_limit)}};
enum { NUM_REALS = sizeof REALS / sizeof *REALS, NUM_POSITIONS = sizeof POSITIONS / sizeof *POSITIONS, NUM_TENTHS = sizeof TENTHS / sizeof *TENTHS };

static const double *figure(const clear_result *c, size_t at) { return (const double *)(const void *)((const char *)c + at); }
static double *room(clear_result *c, size_t at) { return (double *)(void *)((char *)c + at); }

static void tenth_name(int tenth, char name[32]) { (void)snprintf(name, 32, "%d.%d", (tenth + 1) / 10, (tenth + 1) % 10); }

/* Where axis number i of a stored position lies. */
static int axis_of(bool revolved, size_t i) { return revolved && i == 1 ? 2 : (int)i; }
static size_t num_axes(bool revolved) { return revolved ? 2 : 3; }

/* ------------------------------------------------------------------------------------------------ there */

static bool write_real(json_t *o, const char *key, double value) { return isnan(value) || json_object_set_new(o, key, json_real(value)) == 0; }

static bool write_position(json_t *o, const char *key, const double *position, bool revolved)
{
  for (size_t i = 0; i < num_axes(revolved); i++)
    if (isnan(position[axis_of(revolved, i)]))
      return true;
  json_t *list = json_array();
  bool ok = json_object_set_new(o, key, list) == 0;
  for (size_t i = 0; ok && i < num_axes(revolved); i++)
    ok = json_array_append_new(list, json_real(position[axis_of(revolved, i)])) == 0;
  return ok;
}

static bool write_tenths(json_t *o, const char *key, const double *values)
{
  json_t *all = json_object();
  bool ok = all != NULL;
  char name[32];
  for (int i = 0; ok && i < CLEAR_TENTHS; i++) {
    tenth_name(i, name);
    ok = write_real(all, name, values[i]);
  }
  if (ok && json_object_size(all) > 0)
    return json_object_set_new(o, key, all) == 0;
  json_decref(all);
  return ok;
}

json_t *summary_clear_write(const clear_result *c, bool revolved)
{
  json_t *o = json_object();
  bool ok = o != NULL;
  for (size_t i = 0; ok && i < NUM_REALS; i++)
    ok = write_real(o, REALS[i].key, *figure(c, REALS[i].at));
  for (size_t i = c->piece_volume > 0.0 ? 0 : 3; ok && i < NUM_POSITIONS; i++) /* the first three are the piece's */
    ok = write_position(o, POSITIONS[i].key, figure(c, POSITIONS[i].at), revolved);
  for (size_t i = 0; ok && i < NUM_TENTHS; i++)
    ok = write_tenths(o, TENTHS[i].key, figure(c, TENTHS[i].at));
  if (ok)
    return o;
  json_decref(o);
  return NULL;
}

/* ------------------------------------------------------------------------------------------------ and back */

static double real(const json_t *value) { return json_is_number(value) ? json_number_value(value) : NAN; }

static void read_position(double *position, const json_t *list, bool revolved)
{
  position[0] = position[1] = position[2] = NAN;
  for (size_t i = 0; i < num_axes(revolved); i++)
    position[axis_of(revolved, i)] = real(json_array_get(list, i));
}

/* A piece about the axis, or a box. */
static double piece_volume(const double size[3], bool revolved)
{
  if (isnan(size[0]) || isnan(size[2]))
    return 0.0;
  return revolved ? 3.14159265358979323846 * size[0] * size[0] * size[2] : size[0] * size[1] * size[2];
}

void summary_clear_read(clear_result *c, const json_t *object, bool revolved)
{
  char name[32];
  *c = (clear_result){.present = json_is_object(object)};
  for (size_t i = 0; i < NUM_REALS; i++)
    *room(c, REALS[i].at) = real(json_object_get(object, REALS[i].key));
  for (size_t i = 0; i < NUM_POSITIONS; i++)
    read_position(room(c, POSITIONS[i].at), json_object_get(object, POSITIONS[i].key), revolved);
  for (size_t i = 0; i < NUM_TENTHS; i++)
    for (int tenth = 0; tenth < CLEAR_TENTHS; tenth++) {
      tenth_name(tenth, name);
      room(c, TENTHS[i].at)[tenth] = real(json_object_get(json_object_get(object, TENTHS[i].key), name));
    }
  c->piece_volume = piece_volume(c->piece_size, revolved);
  if (revolved && c->piece_volume > 0.0)
    c->piece_size[1] = c->piece_low[1] = c->piece_high[1] = 0.0;
}
