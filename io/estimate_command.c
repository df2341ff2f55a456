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
enum { MOST_SETTINGS = 3, NUM_FORMULAS = 3, WORDS = 200 };

typedef struct { /* one way to see what stands round the mould */
  char words[WORDS];
  double temperature, film;
} setting;

typedef struct {
  double side[3];            /* m, rising: the water's box, or diameter, diameter, height */
  double wall_resistance;    /* m2 K/W */
  double start;              /* degC */
  bool from_inside;          /* a cold part stands in the water */
  size_t num;
  setting settings[MOST_SETTINGS];
} situation;

/* ------------------------------------------------------------------------------------------------ what stands round it */

static double lowest(const schedule *t)
{
  double low = INFINITY;
  for (size_t i = 0; i < t->num; i++)
    low = fmin(low, t->value[i]);
  return low;
}

static void add_setting(situation *s, double temperature, double film, const char *words)
{
  if (!(temperature < 0.0) || s->num == MOST_SETTINGS)
    return;
  setting *q = &s->settings[s->num++];
  q->temperature = temperature;
  q->film = film;
  (void)snprintf(q->words, sizeof q->words, "%s", words);
}

static void look_at_bath(situation *s, const case_file *c, int bath, double onset)
{
  const rig_bath *b = &c->rig.baths[bath];
  const double own = b->flow.film_coefficient;
  const double film = !isnan(own) ? own : b->flow.kind == MOTION_STIRRED ? STIRRED_BRINE : STILL_BRINE;
  double coolant = INFINITY;
  for (size_t i = 0; i < c->rig.num_coils; i++)
    if (c->rig.coils[i].coolant == COOLANT_FIXED)
      coolant = fmin(coolant, lowest(&c->rig.coils[i].temperature));
  if (isfinite(coolant))
    add_setting(s, coolant, film, "brine as cold as the coldest refrigerant: sooner than this it cannot be");
  if (onset > coolant || !isfinite(coolant))
    add_setting(s, onset, film, "brine where it begins to freeze: much colder a bath seldom gets");
  add_setting(s, c->baths[bath].temperature, film, "brine as it is at the start");
}

static void look_around(situation *s, const case_file *c, const case_body_facts *b, double onset, size_t vessel)
{
  const rig_part *mould = &c->rig.parts[c->parts[vessel].rig_part];
  for (size_t i = vessel + 1; i < c->num_parts; i++)
    s->from_inside = s->from_inside || (c->rig.parts[c->parts[i].rig_part].kind == PART_HELD &&
                                        shape_distance(c->parts[vessel].hollow, (const double[3]){0.0, 0.0, c->parts[i].floor + 1e-6}) < 0.0);
  if (mould->kind == PART_HELD)
    add_setting(s, lowest(&mould->held), mould->held_film > 0.0 ? mould->held_film : INFINITY, "mould held cold");
  else if (b->bath >= 0)
    look_at_bath(s, c, b->bath, onset);
  else
    add_setting(s, lowest(&c->rig.room.temperature), c->rig.room.film, "room air");
}

static void look_at(situation *s, const case_file *c, const case_facts *f, size_t body)
{
  const case_liquid *q = &c->bodies[body];
  const case_part *mould = &c->parts[q->vessel];
  const rig_part *wall = &c->rig.parts[mould->rig_part];
  const double height = q->frozen_level - mould->floor;
  double low[3], high[3];
  *s = (situation){.start = q->temperature};
  shape_bounds(mould->hollow, low, high);
  if (c->revolved)
    s->side[0] = s->side[1] = sqrt(4.0 * f->bodies[body].frozen_volume / (PI * height)); /* mean diameter */
  else {
    s->side[0] = fmin(high[0] - low[0], high[1] - low[1]);
    s->side[1] = fmax(high[0] - low[0], high[1] - low[1]);
  }
  s->side[2] = height;
  if (s->side[2] < s->side[0]) { /* lying: the height is the shortest */
    s->side[2] = s->side[1];
    s->side[1] = s->side[0];
    s->side[0] = height;
  }
  if (wall->stuff)
    s->wall_resistance = mould->wall / phase_curve_conductivity_at(&wall->stuff->curve, -5.0, 1);
  const int bath = f->bodies[body].bath;
  look_around(s, c, &f->bodies[body], bath >= 0 ? f->baths[bath].onset : NAN, q->vessel);
}

/* ------------------------------------------------------------------------------------------------ the formulas */

static const struct {
  estimate_formula which;
  const char *key, *name;
} formulas[NUM_FORMULAS] = {{ESTIMATE_PLANK, "plank", "Plank"}, {ESTIMATE_PHAM, "pham", "Pham"}, {ESTIMATE_CAN_ICE, "can_ice", "can-ice rule"}};

static double time_of(size_t formula, const situation *s, const setting *q)
{
  const double k = water_ice_conductivity(ICE_ANDERSSON_INABA, 0.5 * q->temperature);
  const estimate_setting e = {.density = WATER_ICE_DENSITY, .latent_heat = WATER_LATENT_HEAT, .conductivity = k, .freezing_temperature = 0.0,
                              .surroundings = q->temperature, .film = q->film, .wall_resistance = s->wall_resistance};
  if (formulas[formula].which == ESTIMATE_PLANK)
    return estimate_plank(estimate_brick(s->side[1] / s->side[0], s->side[2] / s->side[0]), s->side[0], &e);
  if (formulas[formula].which == ESTIMATE_CAN_ICE)
    return estimate_can_ice(s->side[0], q->temperature);
  const bool flat = s->side[1] > 3.0 * s->side[0], round = s->side[2] < 1.3 * s->side[0];
  return estimate_pham(flat ? 1 : round ? 3 : 2, 0.5 * s->side[0], fmax(0.0, s->start), water_specific_heat(5.0), &e);
}

/* ------------------------------------------------------------------------------------------------ output */

static void print_body(const case_file *c, size_t body, const situation *s)
{
  (void)printf("%s: %.3g x %.3g x %.3g mm of ice, %.3g kg\n", c->bodies[body].name, 1e3 * s->side[0], 1e3 * s->side[1], 1e3 * s->side[2],
               c->bodies[body].mass);
  if (s->from_inside)
    (void)printf("  The cold stands inside the water; these formulas are for cold from outside and do not apply. Run the case.\n");
  else if (s->num == 0)
    (void)printf("  Nothing round it has a temperature below 0 degC that a hand formula could use. Run the case.\n");
  for (size_t i = 0; !s->from_inside && i < s->num; i++) {
    const setting *q = &s->settings[i];
    (void)printf("  %.4g degC, film %.3g W/m2K (%s)\n", q->temperature, q->film, q->words);
    for (size_t k = 0; k < NUM_FORMULAS; k++) {
      char words[PLAIN_WORDS];
      plain_words_duration(time_of(k, s, q), words);
      (void)printf("    %-14s %s\n", formulas[k].name, words);
    }
  }
}

static void print_text(const case_file *c, const situation *s)
{
  (void)printf("%s%sFreezing times by hand formulas; a run knows more.\n\n", c->rig.title, c->rig.title[0] ? "\n" : "");
  for (size_t body = 0; body < c->rig.num_bodies; body++)
    print_body(c, body, &s[body]);
  (void)printf("\nWhat they leave out\n");
  for (size_t k = 0; k < NUM_FORMULAS; k++)
    (void)printf("  %-14s %s\n", formulas[k].name, estimate_leaves_out(formulas[k].which));
}

static json_t *body_json(const case_file *c, size_t body, const situation *s)
{
  json_t *list = json_array();
  for (size_t i = 0; !s->from_inside && i < s->num; i++)
    for (size_t k = 0; k < NUM_FORMULAS; k++) {
      const setting *q = &s->settings[i];
      const double time = time_of(k, s, q);
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
