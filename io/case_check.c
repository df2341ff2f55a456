#include "io/case_check.h"

#include <jansson.h>
#include <math.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include "io/case_keys.h"
#include "io/case_story.h"
#include "io/check_plant.h"
#include "io/plain_words.h"

static const double POUND = 0.45359237, FOOT = 0.3048; /* kg, m */
static const double GRAVITY = 9.80665;
enum { SENTENCE = 600 };

/* ------------------------------------------------------------------------------------------------ text */

#if defined(__GNUC__)
__attribute__((format(printf, 2, 3)))
#endif
static void say(FILE *to, const char *format, ...)
{
  char text[SENTENCE];
  va_list args;
  va_start(args, format);
  (void)vsnprintf(text, sizeof text, format, args);
  va_end(args);
  plain_words_wrap(to, "  ", "    ", text);
}

static const char *plural(size_t n)
{
  return n == 1 ? "" : "s";
}

static const char *bodies_word(size_t n)
{
  return n == 1 ? "body" : "bodies";
}

static void walls_in_words(const case_part *p, char text[2 * PLAIN_WORDS + 16])
{
  char side[PLAIN_WORDS], floor[PLAIN_WORDS];
  if (p->is_vessel && p->wall == 0.0) {
    plain_words_length(p->drawn_wall, side);
    (void)snprintf(text, 2 * PLAIN_WORDS + 16, p->drawn_wall > 0.0 ? "as drawn, %s" : "as drawn", side);
    return;
  }
  plain_words_length(p->wall, side);
  plain_words_length(p->wall_floor, floor);
  (void)snprintf(text, 2 * PLAIN_WORDS + 16, p->wall_floor == p->wall ? "%s" : "%s (floor %s)", side, floor);
}

static void print_parts(FILE *to, const case_file *c, const case_facts *f)
{
  (void)fprintf(to, "\nParts, in the order in which they are painted\n");
  for (size_t i = 0; i < c->num_parts; i++) {
    const case_part *p = &c->parts[i];
    const rig_part *r = &c->rig.parts[p->rig_part];
    char size[5 * PLAIN_WORDS], floor[PLAIN_WORDS], rim[PLAIN_WORDS], wall[2 * PLAIN_WORDS + 16], mass[PLAIN_WORDS];
    plain_words_length(p->floor, floor);
    plain_words_length(p->rim, rim);
    walls_in_words(p, wall);
    plain_words_mass(f->parts[i].mass, false, mass);
    if (p->is_vessel)
      (void)snprintf(size, sizeof size, "hollow from z %s to %s, wall %s, open %s", floor, rim, wall, p->open_top ? "at the top" : "nowhere");
    else if (p->hollow)
      (void)snprintf(size, sizeof size, "a layer of %s round %.60s", wall, yaml_tree_value(p->item, "around")->text);
    else
      (void)snprintf(size, sizeof size, "%.60s from z %s to %s", yaml_tree_value(p->item, "shape")->text, floor, rim);
    if (r->kind == PART_HELD)
      say(to, "%s: %s; held at %.4g degC%s", p->name, size, r->held.value[0], r->held.num > 1 ? " and then by its table" : "");
    else
      say(to, "%s: %s; %s, %s, starts at %.4g degC", p->name, size, p->solid ? p->solid : "own material", mass,
          r->initial_temperature);
  }
}

static void print_lift(FILE *to, const case_file *c, const case_body_facts *b)
{
  char aside[PLAIN_WORDS], weight[PLAIN_WORDS], force[PLAIN_WORDS];
  if (b->bath < 0)
    return;
  plain_words_volume(b->displaced, aside);
  plain_words_mass(b->up_force / GRAVITY, false, weight);
  plain_words_value(fabs(b->up_force), 3, "N", force);
  if (b->up_force > 0.0)
    say(to, "In %s it pushes %s of brine aside and floats: it must be held down with %s (the weight of %s), most of all while it is being filled "
            "and once the ice is in", c->baths[b->bath].name, aside, force, weight);
  else
    say(to, "In %s it pushes %s of brine aside and stands by itself with %s to spare; empty it would float", c->baths[b->bath].name, aside,
        force);
}

static void print_bodies(FILE *to, const case_file *c, const case_facts *f)
{
  for (size_t i = 0; i < c->rig.num_bodies; i++) {
    const case_liquid *q = &c->bodies[i];
    const case_body_facts *b = &f->bodies[i];
    const case_part *mould = &c->parts[q->vessel];
    (void)fprintf(to, "\nThe block: %s in %s\n", q->name, mould->name);
    char poured[PLAIN_WORDS], frozen[PLAIN_WORDS], level[PLAIN_WORDS], ice_level[PLAIN_WORDS], below[PLAIN_WORDS], ice_below[PLAIN_WORDS];
    plain_words_volume(q->volume, poured);
    plain_words_volume(b->frozen_volume, frozen);
    plain_words_length(q->level, level);
    plain_words_length(q->frozen_level, ice_level);
    plain_words_length(b->headspace_liquid, below);
    plain_words_length(b->headspace_frozen, ice_below);
    say(to, "%s at %.3g degC stand at z %s, %s below the rim; frozen it is %s and reaches z %s, %s below the rim", poured, q->temperature, level, below,
        frozen, ice_level, ice_below);
    if (q->expelled > 0.0) {
      plain_words_volume(q->expelled, poured);
      say(to, "%s of ice find no room and are taken as expelled: leave more headspace", poured);
    }
    char mass[PLAIN_WORDS], with_mould[PLAIN_WORDS];
    plain_words_mass(q->mass, false, mass);
    plain_words_mass(q->mass + b->mould_mass, false, with_mould);
    say(to, "It weighs %s%s%s; one person may lift %.0f kg (%.0f lb) under ideal conditions (NIOSH, from memory), so %s", mass,
        isnan(b->mould_mass) ? ", its mould apart" : ", with the mould ", isnan(b->mould_mass) ? "" : with_mould, CASE_FACTS_LIFT_LIMIT,
        CASE_FACTS_LIFT_LIMIT / POUND, q->mass > CASE_FACTS_LIFT_LIMIT ? "use a hoist" : "one person can carry the block");
    print_lift(to, c, b);
  }
}

static void print_baths(FILE *to, const case_file *c, const case_facts *f)
{
  for (size_t i = 0; i < c->rig.num_baths; i++) {
    const case_liquid *q = &c->baths[i];
    const rig_bath *bath = &c->rig.baths[i];
    const case_bath_facts *b = &f->baths[i];
    (void)fprintf(to, "\nThe bath: %s in %s\n", q->name, c->parts[q->vessel].name);
    say(to, "%.4g L of brine (%.4g kg: %.3g kg of anhydrous %s in %.4g kg of water) stand at z %.4g mm, %.3g mm below the rim; %.3g L more would run over",
        1e3 * q->volume, q->mass, b->salt, brine_name(bath->salt), q->mass - b->salt, 1e3 * q->level, 1e3 * b->freeboard, 1e3 * b->litres_to_rim);
    say(to, "Strength %.4g %% begins to freeze at %.3g degC; it starts at %.3g degC, %s, salt %s; bare surface %.3g m2", 100.0 * bath->mass_fraction,
        b->onset, q->temperature, bath->flow.speed > 0.0 ? "pumped" : bath->flow.kind == MOTION_STIRRED ? "stirred" : bath->flow.kind == MOTION_STILL ? "still" : "without motion",
        bath->both ? "staying where it is, then answered a second time with one strength for all" :
        bath->mode == SALT_CLOSED ? "stays where it is (closed)" : "one strength for all (mixed)", b->surface);
  }
}

static double coldest(const schedule *s)
{
  double low = INFINITY;
  for (size_t i = 0; i < s->num; i++)
    low = fmin(low, s->value[i]);
  return low - s->swing;
}

/* In (x, y, z) ice at a tube is that of the cells round it (coil_line.h): how wide are they, in diameters of the tube? 0: it does not matter. */
static double cells_round(const case_file *c, const case_coil *k, const rig_coil *r)
{
  const grid *g = c->rig.mesh_grid;
  const yaml_node *in = yaml_tree_value(k->item, "in");
  size_t cell, at[3];
  for (size_t i = 0; in && i < c->rig.num_baths; i++)
    if (strcmp(c->rig.baths[i].name, in->text) == 0 && c->rig.baths[i].flow.kind == MOTION_STIRRED)
      return 0.0; /* its layer of ice is its own */
  if (r->num_points == 0 || r->spread || !grid_find(g, r->points[0], &cell))
    return 0.0;
  grid_cell_indices(g, cell, at);
  double widest = 0.0;
  for (int axis = 0; axis < 3; axis++)
    widest = fmax(widest, g->edges[axis][at[axis] + 1] - g->edges[axis][at[axis]]);
  return widest / r->tube_outer;
}

static void print_coils(FILE *to, const case_file *c, const case_facts *f)
{
  for (size_t i = 0; i < c->rig.num_coils; i++) {
    const case_coil *k = &c->coils[i];
    const rig_coil *r = &c->rig.coils[i];
    char cold[120];
    if (r->coolant == COOLANT_PLANT)
      (void)snprintf(cold, sizeof cold, "refrigerant temperature as the plant finds it");
    else
      (void)snprintf(cold, sizeof cold, "refrigerant at %.4g degC%s", coldest(&r->temperature), r->temperature.num > 1 ? " at its coldest" : "");
    (void)fprintf(to, "\nThe coil: %s\n", k->name);
    if (r->conductance > 0.0) {
      say(to, "Channels all through %s, %.4g W/K, %s; it is computed as one temperature; %s", c->rig.parts[r->part].name, r->conductance,
          r->outer_film > 0.0 ? "behind a film" : "in touch with what is round it", cold);
      continue;
    }
    if (isnan(k->turns))
      say(to, "%.4g m (%.3g ft) of tube, %s; nearest to %s, %.3g mm free; %s", k->length, k->length / FOOT, yaml_tree_value(k->item, "shape")->text,
          k->nearest[0] ? k->nearest : "nothing", 1e3 * k->clearance, cold);
    else
      say(to, "%.4g m (%.3g ft) of tube, %.4g turns of radius %.4g mm, pitch %.3g mm, height %.4g mm; nearest to %s, %.3g mm free; %s", k->length,
        k->length / FOOT, k->turns, 1e3 * k->radius, 1e3 * k->pitch, 1e3 * k->height, k->nearest[0] ? k->nearest : "nothing", 1e3 * k->clearance, cold);
    say(to, "%.3g m2 outside, %.3g L inside", f->coils[i].area, 1e3 * f->coils[i].volume_inside);
    if (r->num_rings > 0 && fabs(k->turns - (double)r->num_rings) > 0.01)
      say(to, "It is computed as %zu rings of the same length in all", r->num_rings);
    const double wide = cells_round(c, k, r);
    if (wide > 1.5)
      say(to, "The cells round it are %.2g times as wide as the tube: how much ice stands on it is some percent off (twice as wide: 1 to 2 %% in still water, 7 %% in "
              "warm water that moves; cells as wide as the tube: 1 to 2 and 5 %%)", wide);
  }
}

static void print_end(FILE *to, const case_file *c, const case_facts *f)
{
  const grid *g = c->rig.mesh_grid;
  char duration[PLAIN_WORDS];
  (void)fprintf(to, "\nFloor, grid, cost\n");
  say(to, "All of it weighs %.4g kg on %.3g m2: %.3g kg/m2 (%.3g lb/ft2)", f->mass, f->floor_area, f->floor_load,
      f->floor_load / POUND * FOOT * FOOT);
  say(to, "A wide floor on ground of 2 W/mK conducts some %.2g W/m2K there where it is touched, %.2g across air (for `floor`; without insulation)",
      f->floor_touching, f->floor_aired);
  if (isnan(c->wanted_error))
    say(to, "Cells of %.3g mm in and around the water: %zu in all", 1e3 * c->spacing, f->num_cells);
  else
    say(to, "For an error of %.3g %% in the freeze time: cells of %.3g mm in and around the water, %zu in all", 100.0 * c->wanted_error, 1e3 * c->spacing,
        f->num_cells);
  plain_words_duration(f->duration, duration);
  say(to, "About %s on two cores and %.0f MB, within a factor of three%s", duration, f->memory / 1e6,
      g->kind == GRID_RZ ? "" : " (three dimensions)");
}

static void print_lines(FILE *to, const char *title, const char *lines)
{
  if (!*lines)
    return;
  (void)fprintf(to, "\n%s\n", title);
  for (const char *p = lines; *p;) {
    char line[SENTENCE];
    const size_t n = strcspn(p, "\n");
    (void)snprintf(line, sizeof line, "%.*s", (int)n, p);
    plain_words_wrap(to, "  - ", "    ", line);
    p += n + (p[n] == '\n');
  }
}

bool case_check_print(FILE *to, const case_file *c, const case_facts *f)
{
  const rig *r = &c->rig;
  (void)fprintf(to, "%s%s%s\n", r->title, r->title[0] ? "\n" : "", c->path);
  (void)fprintf(to, "%s: %zu part%s, %zu %s of water, %zu bath%s, %zu coil%s, %zu stage%s\n",
                c->revolved ? "A figure of revolution" : "Three dimensions", c->num_parts, plural(c->num_parts), r->num_bodies,
                bodies_word(r->num_bodies), r->num_baths, plural(r->num_baths), r->num_coils, plural(r->num_coils), r->num_stages, plural(r->num_stages));
  char story[CASE_STORY];
  case_story_tell(c, f, story);
  (void)fprintf(to, "\n");
  plain_words_wrap(to, "", "", story);
  print_parts(to, c, f);
  print_bodies(to, c, f);
  print_baths(to, c, f);
  print_coils(to, c, f);
  check_plant_print(to, &c->rig);
  print_end(to, c, f);
  print_lines(to, "Remarks on the case", c->notes);
  (void)fprintf(to, "\nCautions that belong to this rig\n");
  for (size_t i = 0; i < f->num_cautions; i++)
    plain_words_wrap(to, "  - ", "    ", f->cautions[i]);
  return !ferror(to);
}

/* ------------------------------------------------------------------------------------------------ JSON */

/* Sets a number unless it is not known; *failed when memory is out. */
static void set(json_t *to, const char *key, double value, bool *failed)
{
  if (isfinite(value) && json_object_set_new(to, key, json_real(value)) != 0)
    *failed = true;
}

static void set_text(json_t *to, const char *key, const char *text, bool *failed)
{
  if (text && json_object_set_new(to, key, json_string(text)) != 0)
    *failed = true;
}

static void append(json_t *list, json_t *item, bool *failed)
{
  if (json_array_append_new(list, item) != 0)
    *failed = true;
}

static json_t *parts_json(const case_file *c, const case_facts *f, bool *failed)
{
  json_t *list = json_array();
  for (size_t i = 0; i < c->num_parts; i++) {
    json_t *o = json_object();
    const case_part *p = &c->parts[i];
    set_text(o, "name", p->name, failed);
    set_text(o, "material", p->solid, failed);
    set(o, "volume_m3", f->parts[i].volume, failed);
    set(o, "mass_kg", f->parts[i].mass, failed);
    set(o, "wall_m", p->wall > 0.0 ? p->wall : NAN, failed);
    set(o, "floor_thickness_m", p->wall > 0.0 ? p->wall_floor : NAN, failed);
    set(o, "bottom_m", p->floor, failed);
    set(o, "top_m", p->rim, failed);
    append(list, o, failed);
  }
  return list;
}

static json_t *bodies_json(const case_file *c, const case_facts *f, bool *failed)
{
  json_t *list = json_array();
  for (size_t i = 0; i < c->rig.num_bodies; i++) {
    json_t *o = json_object();
    const case_liquid *q = &c->bodies[i];
    const case_body_facts *b = &f->bodies[i];
    set_text(o, "name", q->name, failed);
    set_text(o, "in", c->parts[q->vessel].name, failed);
    set(o, "volume_m3", q->volume, failed);
    set(o, "mass_kg", q->mass, failed);
    set(o, "level_m", q->level, failed);
    set(o, "frozen_level_m", q->frozen_level, failed);
    set(o, "headspace_frozen_m", b->headspace_frozen, failed);
    set(o, "expelled_m3", q->expelled, failed);
    set(o, "mould_mass_kg", b->mould_mass, failed);
    set(o, "displaced_m3", b->displaced, failed);
    set(o, "up_force_N", b->up_force, failed);
    append(list, o, failed);
  }
  return list;
}

static json_t *baths_json(const case_file *c, const case_facts *f, bool *failed)
{
  json_t *list = json_array();
  for (size_t i = 0; i < c->rig.num_baths; i++) {
    json_t *o = json_object();
    const case_liquid *q = &c->baths[i];
    set_text(o, "name", q->name, failed);
    set_text(o, "in", c->parts[q->vessel].name, failed);
    set_text(o, "salt", brine_name(c->rig.baths[i].salt), failed);
    set(o, "mass_fraction", c->rig.baths[i].mass_fraction, failed);
    set(o, "freezing_onset_C", f->baths[i].onset, failed);
    set(o, "volume_m3", q->volume, failed);
    set(o, "mass_kg", q->mass, failed);
    set(o, "level_m", q->level, failed);
    set(o, "freeboard_m", f->baths[i].freeboard, failed);
    set(o, "room_to_rim_m3", f->baths[i].litres_to_rim, failed);
    set(o, "surface_m2", f->baths[i].surface, failed);
    append(list, o, failed);
  }
  return list;
}

static json_t *coils_json(const case_file *c, const case_facts *f, bool *failed)
{
  json_t *list = json_array();
  for (size_t i = 0; i < c->rig.num_coils; i++) {
    json_t *o = json_object();
    const case_coil *k = &c->coils[i];
    set_text(o, "name", k->name, failed);
    if (c->rig.coils[i].conductance > 0.0) {
      set(o, "conductance_W_per_K", c->rig.coils[i].conductance, failed);
      append(list, o, failed);
      continue;
    }
    set(o, "length_m", k->length, failed);
    set(o, "turns", k->turns, failed);
    set(o, "pitch_m", k->pitch, failed);
    set(o, "height_m", k->height, failed);
    set(o, "radius_m", k->radius, failed);
    set(o, "clearance_m", k->clearance, failed);
    set(o, "area_m2", f->coils[i].area, failed);
    append(list, o, failed);
  }
  return list;
}

static json_t *lines_json(const char *lines, bool *failed)
{
  json_t *list = json_array();
  for (const char *p = lines; *p;) {
    const size_t n = strcspn(p, "\n");
    append(list, json_stringn(p, n), failed);
    p += n + (p[n] == '\n');
  }
  return list;
}

static json_t *grid_json(const case_file *c, const case_facts *f, bool *failed)
{
  json_t *o = json_object();
  set(o, "spacing_m", c->spacing, failed);
  set(o, "wanted_error", c->wanted_error, failed);
  if (json_object_set_new(o, "cells", json_integer((json_int_t)f->num_cells)) != 0)
    *failed = true;
  set(o, "memory_bytes", f->memory, failed);
  set(o, "duration_s", f->duration, failed);
  return o;
}

static json_t *floor_json(const case_facts *f, bool *failed)
{
  json_t *o = json_object();
  set(o, "mass_kg", f->mass, failed);
  set(o, "area_m2", f->floor_area, failed);
  set(o, "load_kg_per_m2", f->floor_load, failed);
  set(o, "touching_W_per_m2K", f->floor_touching, failed);
  set(o, "aired_W_per_m2K", f->floor_aired, failed);
  return o;
}

status case_check_json(char **text, const case_file *c, const case_facts *f, message *msg)
{
  bool failed = false;
  json_t *root = json_object(), *cautions = json_array();
  set_text(root, "case", c->path, &failed);
  set_text(root, "title", c->rig.title, &failed);
  set_text(root, "dimension", c->revolved ? "rz" : "xyz", &failed);
  for (size_t i = 0; i < f->num_cautions; i++)
    append(cautions, json_string(f->cautions[i]), &failed);
  const struct {
    const char *key;
    json_t *value;
  } members[] = {{"parts", parts_json(c, f, &failed)},   {"bodies", bodies_json(c, f, &failed)}, {"baths", baths_json(c, f, &failed)},
                 {"coils", coils_json(c, f, &failed)},   {"grid", grid_json(c, f, &failed)},     {"floor", floor_json(f, &failed)},
                 {"remarks", lines_json(c->notes, &failed)}, {"cautions", cautions}};
  for (size_t i = 0; i < sizeof members / sizeof *members; i++)
    if (json_object_set_new(root, members[i].key, members[i].value) != 0)
      failed = true;
  char *body = failed ? NULL : json_dumps(root, JSON_INDENT(2) | JSON_PRESERVE_ORDER);
  json_decref(root);
  const size_t n = body ? strlen(body) : 0;
  char *with_end = body ? malloc(n + 2) : NULL;
  if (with_end) {
    memcpy(with_end, body, n);
    memcpy(with_end + n, "\n", 2);
    *text = with_end;
  }
  free(body);
  return with_end ? STATUS_OK : message_set(msg, STATUS_NO_MEMORY, "out of memory for the answer as JSON (or a text that is no UTF-8)");
}
