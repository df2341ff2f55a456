#include "io/estimate_command.h"

#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/case_facts.h"
#include "io/plain_words.h"
#include "materials/water.h"
#include "solver/estimate.h"

static const double PI = 3.14159265358979323846;
/* W/(m2 K), brine on a mould: common practice, no source (still 100 to 250, stirred 200 to 500). */
static const double STILL_BRINE = 150.0, STIRRED_BRINE = 350.0;
/* m: parts nearer than this touch, and what reaches less far into the hollow only lies against it. */
static const double TOUCH = 1e-3, REACHES_IN = 1e-4;
enum { MOST_SETTINGS = 6, NUM_FORMULAS = 3, WORDS = 200 };
typedef enum { FACE_BOTTOM, FACE_TOP, FACE_SIDE, NUM_FACES } face;

typedef struct { /* one way to see what stands round the mould */
  char words[WORDS];
  double temperature, film;
  bool cold[NUM_FACES];      /* faces of the mould that see it */
} setting;

typedef struct {
  double width, depth, height; /* m, the water's box; round: the mean diameter, twice; a ball: its diameter */
  bool ball;
  double wall_resistance;      /* m2 K/W */
  double start;                /* degC */
  bool from_inside;            /* a cold part stands in the water */
  bool insulated[NUM_FACES];
  size_t num;
  setting settings[MOST_SETTINGS];
} situation;

/* ------------------------------------------------------------------------------------------------ what stands round it */

static double lowest(const schedule *t)
{
  double low = INFINITY;
  for (size_t i = 0; i < t->num; i++)
    low = fmin(low, t->value[i]);
  return low - t->swing;
}

static void add_setting(situation *s, double temperature, double film, const bool cold[NUM_FACES], const char *words)
{
  bool any = false;
  if (!(temperature < 0.0) || s->num == MOST_SETTINGS)
    return;
  setting *q = &s->settings[s->num];
  q->temperature = temperature;
  q->film = film;
  for (int f = 0; f < NUM_FACES; f++) {
    q->cold[f] = cold[f] && !s->insulated[f];
    any = any || q->cold[f];
  }
  (void)snprintf(q->words, sizeof q->words, "%s", words);
  s->num += any;
}

static void look_at_bath(situation *s, const case_file *c, int bath, double onset, const bool cold[NUM_FACES])
{
  const rig_bath *b = &c->rig.baths[bath];
  const double own = b->flow.film_coefficient;
  const double film = !isnan(own) ? own : b->flow.kind == MOTION_STIRRED ? STIRRED_BRINE : STILL_BRINE;
  double coolant = INFINITY;
  for (size_t i = 0; i < c->rig.num_coils; i++)
    if (c->rig.coils[i].coolant == COOLANT_FIXED)
      coolant = fmin(coolant, lowest(&c->rig.coils[i].temperature));
  if (isfinite(coolant))
    add_setting(s, coolant, film, cold, "brine as cold as the coldest refrigerant: sooner than this it cannot be");
  if (onset > coolant || !isfinite(coolant))
    add_setting(s, onset, film, cold, "brine where it begins to freeze: much colder a bath seldom gets");
  add_setting(s, c->baths[bath].temperature, film, cold, "brine as it is at the start");
}

typedef struct {
  bool inside;                  /* reaches into the water's hollow */
  size_t touches[NUM_FACES];    /* points of its surface that lie against the mould from outside */
} contact;

/* Looks at one point of the held part: does it lie in the hollow, or against the outside of the mould? */
static void look_at_point(contact *k, const case_part *mould, double level, const double at[3])
{
  double normal[3];
  if (at[2] < level && shape_distance(mould->hollow, at) < -REACHES_IN)
    k->inside = true;
  if (fabs(shape_distance(mould->outer, at)) > TOUCH)
    return;
  shape_normal(mould->outer, at, 1e-4, normal);
  k->touches[normal[2] < -0.7 ? FACE_BOTTOM : normal[2] > 0.7 ? FACE_TOP : FACE_SIDE]++;
}

/* Points of the held part itself: a net over its bounds, each drawn to its surface, and those of the net that lie within it. */
static contact contact_of(const case_file *c, const case_part *held, const case_part *mould, double level)
{
  contact k = {0};
  double low[3], high[3];
  shape_bounds(held->region, low, high);
  if (c->revolved) {
    low[0] = 0.0;
    low[1] = high[1] = 0.0;
  }
  const int num[3] = {c->revolved ? 48 : 20, c->revolved ? 1 : 20, c->revolved ? 48 : 20};
  for (int i = 0; i < num[0]; i++)
    for (int j = 0; j < num[1]; j++)
      for (int l = 0; l < num[2]; l++) {
        double normal[3], p[3] = {low[0] + (i + 0.5) / num[0] * (high[0] - low[0]), low[1] + (j + 0.5) / num[1] * (high[1] - low[1]),
                                  low[2] + (l + 0.5) / num[2] * (high[2] - low[2])};
        if (shape_distance(held->region, p) < 0.0)
          look_at_point(&k, mould, level, p);
        for (int step = 0; step < 3; step++) {
          const double d = shape_distance(held->region, p);
          shape_normal(held->region, p, 1e-4, normal);
          for (int axis = 0; axis < 3; axis++)
            p[axis] -= d * normal[axis];
        }
        if (fabs(shape_distance(held->region, p)) < REACHES_IN)
          look_at_point(&k, mould, level, p);
      }
  return k;
}

/* Held parts in the water rule the formulas out; one that lies against the mould from outside is a setting of its own. */
static void look_at_held(situation *s, const case_file *c, size_t vessel, double level)
{
  for (size_t i = 0; i < c->num_parts; i++) {
    const rig_part *held = &c->rig.parts[c->parts[i].rig_part];
    if (i == vessel || held->kind != PART_HELD)
      continue;
    const contact k = contact_of(c, &c->parts[i], &c->parts[vessel], level);
    const size_t all = k.touches[FACE_BOTTOM] + k.touches[FACE_TOP] + k.touches[FACE_SIDE];
    bool cold[NUM_FACES];
    char words[WORDS];
    for (int f = 0; f < NUM_FACES; f++)
      cold[f] = 20 * k.touches[f] > all; /* a twentieth may be its edge, where faces meet */
    (void)snprintf(words, sizeof words, "%.48s, held cold, against the mould", c->parts[i].name);
    s->from_inside = s->from_inside || k.inside;
    if (!k.inside && all > 0)
      add_setting(s, lowest(&held->held), held->held_film > 0.0 ? held->held_film : INFINITY, cold, words);
  }
}

/* What the rules for surfaces insulate; the last matching rule counts. The top of an open mould is the water's own. */
static void look_at_insulation(situation *s, const case_file *c, size_t body)
{
  static const face_choice faces[NUM_FACES] = {FACES_BOTTOM, FACES_TOP, FACES_SIDE};
  const case_liquid *q = &c->bodies[body];
  const int mould = c->parts[q->vessel].rig_part;
  for (size_t i = 0; i < c->rig.num_rules; i++)
    for (int f = 0; f < NUM_FACES; f++) {
      const surface_rule *rule = &c->rig.rules[i];
      const int seen = f == FACE_TOP && c->parts[q->vessel].open_top ? q->rig_part : mould;
      const bool meant = rule->part == seen ? rule->faces == FACES_ALL || rule->faces == faces[f] : rule->other == seen && rule->faces == FACES_ALL;
      if (meant)
        s->insulated[f] = rule->kind == SURFACE_INSULATED;
    }
}

static void look_around(situation *s, const case_file *c, const case_body_facts *b, double onset, size_t vessel, double level)
{
  const case_part *mould = &c->parts[vessel];
  const rig_part *wall = &c->rig.parts[mould->rig_part];
  double low[3], high[3];
  shape_bounds(mould->outer, low, high);
  const bool lid = !mould->open_top && mould->rim - level < TOUCH; /* an air gap under it insulates */
  const bool drowned = lid && b->bath >= 0 && c->baths[b->bath].level >= high[2];
  const bool walls[NUM_FACES] = {true, lid, true}, wetted[NUM_FACES] = {true, drowned, true}, all[NUM_FACES] = {true, true, true};
  look_at_held(s, c, vessel, level);
  if (wall->kind == PART_HELD)
    add_setting(s, lowest(&wall->held), wall->held_film > 0.0 ? wall->held_film : INFINITY, walls, "mould held cold");
  else if (b->bath >= 0)
    look_at_bath(s, c, b->bath, onset, wetted);
  else
    add_setting(s, lowest(&c->rig.room.temperature), c->rig.room.film, all, "room air");
}

static void look_at(situation *s, const case_file *c, const case_facts *f, size_t body)
{
  const case_liquid *q = &c->bodies[body];
  const case_part *mould = &c->parts[q->vessel];
  const rig_part *wall = &c->rig.parts[mould->rig_part];
  const double volume = f->bodies[body].frozen_volume;
  double low[3], high[3];
  *s = (situation){.start = q->temperature, .height = q->frozen_level - mould->floor};
  shape_bounds(mould->hollow, low, high);
  s->ball = mould->kind && strcmp(mould->kind, "sphere") == 0;
  if (s->ball)
    s->width = s->depth = s->height = cbrt(6.0 * volume / PI);
  else if (c->revolved)
    s->width = s->depth = sqrt(4.0 * volume / (PI * s->height));
  else {
    s->width = high[0] - low[0];
    s->depth = high[1] - low[1];
  }
  const double thickness = mould->wall > 0.0 ? mould->wall : mould->drawn_wall > 0.0 ? mould->drawn_wall : mould->mean_wall;
  if (wall->stuff)
    s->wall_resistance = thickness / phase_curve_conductivity_at(&wall->stuff->curve, -5.0, 1);
  const int bath = f->bodies[body].bath;
  look_at_insulation(s, c, body);
  look_around(s, c, &f->bodies[body], bath >= 0 ? f->baths[bath].onset : NAN, q->vessel, q->frozen_level);
}

/* ------------------------------------------------------------------------------------------------ the formulas */

static const struct {
  estimate_formula which;
  const char *key, *name;
} formulas[NUM_FORMULAS] = {{ESTIMATE_PLANK, "plank", "Plank"}, {ESTIMATE_PHAM, "pham", "Pham"}, {ESTIMATE_CAN_ICE, "can_ice", "can-ice rule"}};

static void swap(double *a, double *b)
{
  const double kept = *a;
  *a = *b;
  *b = kept;
}

/* The shape whose all faces are cold: with one end of a pair cold it is the half of one twice as high, with none it has no end. *thickness: its
 * shortest side, m, INFINITY when no face is cold. */
static estimate_shape shape_of(const situation *s, const setting *q, double *thickness)
{
  const int ends = q->cold[FACE_BOTTOM] + q->cold[FACE_TOP];
  double a = q->cold[FACE_SIDE] ? s->width : INFINITY, b = q->cold[FACE_SIDE] ? s->depth : INFINITY;
  double c = ends == 2 ? s->height : ends == 1 ? 2.0 * s->height : INFINITY;
  if (s->ball) {
    *thickness = s->width;
    return estimate_sphere;
  }
  if (b < a)
    swap(&a, &b);
  if (c < a)
    swap(&a, &c);
  *thickness = a;
  return isinf(b) && isinf(c) ? estimate_slab : estimate_brick(b / a, c / a);
}

/* Plank; Pham with the same shape: his bracket is Plank's with the heat of cooling beside that of freezing, whatever the shape, so that the
 * ratio of the two is that of a slab with and without superheat. */
static double time_of(size_t formula, const situation *s, const setting *q)
{
  const double k = water_ice_conductivity(ICE_ANDERSSON_INABA, 0.5 * q->temperature);
  const estimate_setting e = {.density = WATER_ICE_DENSITY, .latent_heat = WATER_LATENT_HEAT, .conductivity = k, .freezing_temperature = 0.0,
                              .surroundings = q->temperature, .film = q->film, .wall_resistance = s->wall_resistance};
  double thickness;
  const estimate_shape form = shape_of(s, q, &thickness);
  if (formulas[formula].which == ESTIMATE_CAN_ICE)
    return s->ball || !q->cold[FACE_SIDE] ? NAN : estimate_can_ice(fmin(s->width, s->depth), q->temperature);
  const double plank = estimate_plank(form, thickness, &e);
  if (formulas[formula].which == ESTIMATE_PLANK)
    return plank;
  const double half = 0.5 * thickness, heat = water_specific_heat(5.0);
  return plank * estimate_pham(1, half, fmax(0.0, s->start), heat, &e) / estimate_pham(1, half, 0.0, heat, &e);
}

/* "cold at bottom and side" */
static void say_faces(const situation *s, const setting *q, char text[PLAIN_WORDS])
{
  static const char *const names[NUM_FACES] = {"bottom", "top", "side"};
  size_t n = 0;
  if (s->ball) {
    (void)snprintf(text, PLAIN_WORDS, "taken as cold all round");
    return;
  }
  for (int f = 0; f < NUM_FACES; f++)
    if (q->cold[f])
      n += (size_t)snprintf(text + n, PLAIN_WORDS - n, "%s%s", n ? ", " : "cold at ", names[f]);
}

/* ------------------------------------------------------------------------------------------------ output */

static void print_body(const case_file *c, size_t body, const situation *s)
{
  char size[PLAIN_WORDS];
  if (s->ball)
    (void)snprintf(size, sizeof size, "a ball of %.3g mm", 1e3 * s->width);
  else
    (void)snprintf(size, sizeof size, "%.3g x %.3g mm, %.3g mm high", 1e3 * s->width, 1e3 * s->depth, 1e3 * s->height);
  (void)printf("%s: %s of ice, %.3g kg\n", c->bodies[body].name, size, c->bodies[body].mass);
  if (s->from_inside)
    (void)printf("  The cold stands inside the water; these formulas are for cold from outside and do not apply. Run the case.\n");
  else if (s->num == 0)
    (void)printf("  Nothing round it has a temperature below 0 degC that a hand formula could use. Run the case.\n");
  for (size_t i = 0; !s->from_inside && i < s->num; i++) {
    const setting *q = &s->settings[i];
    char faces[PLAIN_WORDS], film[PLAIN_WORDS] = "no film between";
    say_faces(s, q, faces);
    if (isfinite(q->film))
      (void)snprintf(film, sizeof film, "film %.3g W/m2K", q->film);
    (void)printf("  %.4g degC, %s, %s (%s)\n", q->temperature, film, faces, q->words);
    for (size_t k = 0; k < NUM_FORMULAS; k++) {
      char words[PLAIN_WORDS];
      const double time = time_of(k, s, q);
      plain_words_duration(time, words);
      if (isfinite(time))
        (void)printf("    %-14s %s\n", formulas[k].name, words);
    }
  }
}

static void say_left_out(const char *formula, const char *sentence)
{
  char first[PLAIN_WORDS];
  (void)snprintf(first, sizeof first, "  %-14s ", formula);
  plain_words_wrap(stdout, first, "                 ", sentence);
}

static void print_text(const case_file *c, const situation *s)
{
  (void)printf("%s%sFreezing times by hand formulas; a run knows more.\n\n", c->rig.title, c->rig.title[0] ? "\n" : "");
  for (size_t body = 0; body < c->rig.num_bodies; body++)
    print_body(c, body, &s[body]);
  (void)printf("\nWhat they leave out\n");
  for (size_t k = 0; k < NUM_FORMULAS; k++)
    say_left_out(formulas[k].name, estimate_leaves_out(formulas[k].which));
  say_left_out("all", "Faces that are not named cold are taken as insulated; Pham is given Plank's shape.");
}

static json_t *body_json(const case_file *c, size_t body, const situation *s)
{
  json_t *list = json_array();
  for (size_t i = 0; !s->from_inside && i < s->num; i++)
    for (size_t k = 0; k < NUM_FORMULAS; k++) {
      const setting *q = &s->settings[i];
      const double time = time_of(k, s, q);
      if (isnan(time))
        continue;
      json_t *o = json_pack("{s:s, s:f, s:s, s:s}", "formula", formulas[k].key, "surroundings_C", q->temperature, "surroundings", q->words,
                            "leaves_out", estimate_leaves_out(formulas[k].which));
      if (o && isfinite(q->film))
        (void)json_object_set_new(o, "film_W_per_m2K", json_real(q->film));
      if (o && isfinite(time))
        (void)json_object_set_new(o, "time_s", json_real(time));
      (void)json_array_append_new(list, o);
    }
  return json_pack("{s:s, s:o}", "name", c->bodies[body].name, "estimates", list);
}

static status print_json(const case_file *c, const situation *s, message *msg)
{
  json_t *bodies = json_array();
  for (size_t body = 0; body < c->rig.num_bodies; body++)
    (void)json_array_append_new(bodies, body_json(c, body, &s[body]));
  json_t *root = json_pack("{s:s, s:o}", "title", c->rig.title, "bodies", bodies);
  char *text = root ? json_dumps(root, JSON_INDENT(2) | JSON_PRESERVE_ORDER) : NULL;
  json_decref(root);
  if (!text)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for the answer as JSON");
  (void)printf("%s\n", text);
  free(text);
  return STATUS_OK;
}

status estimate_command(const options *o, const case_file *c, message *msg)
{
  case_facts *f = NULL;
  situation *s = calloc(c->rig.num_bodies + 1, sizeof *s);
  status code = s ? case_facts_create(&f, c, msg) : message_set(msg, STATUS_NO_MEMORY, "out of memory for estimates");
  for (size_t body = 0; code == STATUS_OK && body < c->rig.num_bodies; body++)
    look_at(&s[body], c, f, body);
  if (code == STATUS_OK && o->json)
    code = print_json(c, s, msg);
  else if (code == STATUS_OK)
    print_text(c, s);
  if (code == STATUS_OK && (fflush(stdout) != 0 || ferror(stdout)))
    code = message_set(msg, STATUS_FILE, "the estimates could not be written to the standard output");
  case_facts_destroy(&f);
  free(s);
  return code;
}
