/* Every feature of the physics marched by the stabilised steps and by SUNDIALS CVODE's BDF: the same answers, and books that close in both.
 *
 * What the nodes of the front offer, films, motion and the plant's line are frozen within a step of either, so both lag; the stabilised steps let the
 * front run a quarter of a node at most, and then lag by a twentieth of a node (heat_step.c). Here half a dozen nodes lie between surface and
 * middle: 1/120 of the depth, for a front whose depth grows with the root of time twice that of the time: 1 %, when one of both lags alone. Times
 * of events that end a stage lag by as much of that stage; a release melts a film over one node, of which a twentieth is 5 %. */
#include <check.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/case_run.h"

#define WATER "bodies: [{name: water, in: pot, depth: 10 cm, temperature: 6 C}]\n"
#define AIR(ROOM)                                                                                                                             \
  "dimension: rz\nroom: {" ROOM "}\nparts:\n"                                                                                                 \
  "  - {name: pot, shape: cylinder, diameter: 10 cm, height: 12 cm, z: 3 cm, wall: 2 mm, material: hdpe}\n"
#define GRID "grid: {spacing: 8 mm}\n"
#define POT "  - {name: pot, shape: cylinder, diameter: 10 cm, height: 12 cm, z: 3 cm, wall: 2 mm, material: aluminium 3003}\n"
#define TUB(OF_BATH, OF_COIL)                                                                                                                 \
  "dimension: rz\nroom: {temperature: 20 C, humidity: 60 %}\nparts:\n"                                                                        \
  "  - {name: tub, shape: cylinder, diameter: 20 cm, height: 18 cm, wall: 4 mm, material: hdpe}\n" POT WATER                                  \
  "baths: [{name: brine, in: tub, salt: CaCl2, depth: 14 cm, temperature: -6 C, " OF_BATH "}]\n"                             \
  "coils: [{name: coil, in: brine, around: pot, gap: 15 mm, tube: 8 mm, tube_wall: 1 mm, turns: 4, pitch: 25 mm, z: 4 cm" OF_COIL "}]\n"
#define COLD ", refrigerant_temperature: -20 C"
#define PLANT "plant: {refrigerant: R290, condensing: 40 C, compressors: [{name: one, displacement: 0.8 m3/h}]}\n"
#define THERMOSTAT                                                                                                                            \
  "plant: {refrigerant: R290, condensing: 40 C, compressors: [{name: one, displacement: 0.8 m3/h}], "                                        \
  "thermostat: {part: brine, set_point: -14 C, differential: 2 K}}\n"

/* Settings of our own invention, each as small as its feature allows. */
static const struct {
  const char *what, *text;
} cases[] = {
    {"cold air, water that moves by its own density", AIR("temperature: -18 C, film: 12 W/m2K") WATER GRID},
    {"water that does not move",
     AIR("temperature: -18 C, film: 12 W/m2K") "bodies: [{name: water, in: pot, depth: 10 cm, temperature: 6 C, motion: none}]\n" GRID},
    {"air that warms and cools with the day", AIR("temperature: -14 C, swing: 6 K, film: 12 W/m2K") WATER GRID},
    {"air by a table", AIR("temperature: [[0 h, -5 C], [2 h, -25 C], [5 h, -10 C]], film: 12 W/m2K") WATER GRID},
    {"a material of one's own with a freezing range",
     AIR("temperature: -18 C, film: 12 W/m2K") "bodies: [{name: water, in: pot, depth: 10 cm, temperature: 6 C, material: {density: 917 kg/m3, latent_heat: 300 MJ/m3, "
     "table: [[-30 C, 2.2 W/mK, 1.9 MJ/m3K, 0 %], [-2 C, 2.2 W/mK, 1.9 MJ/m3K, 0 %], [0 C, 0.6 W/mK, 4 MJ/m3K, 100 %], [20 C, 0.6 W/mK, 4 MJ/m3K, 100 %]]}}]\n" GRID},
    {"fixed surface, contact, floor conductance, moist air",
     "dimension: rz\nroom: {temperature: 12 C, humidity: 85 %, film: 10 W/m2K, floor_temperature: -12 C}\nparts:\n"
     "  - {name: plate, shape: cylinder, diameter: 14 cm, height: 2 cm, material: aluminium 3003}\n"
     "  - {name: pot, shape: cylinder, diameter: 10 cm, height: 12 cm, on: plate, wall: 2 mm, material: hdpe}\n" WATER "surfaces:\n"
     "  - {of: pot, faces: side, fixed: -15 C}\n  - {of: pot, against: plate, contact: 2e-3 m2K/W}\n"
     "  - {of: plate, faces: bottom, floor: 60 W/m2K}\n  - {of: water, faces: top, film: 6 W/m2K, condensation: yes}\n" GRID},
    {"a rod held by a table, behind a film, in stirred water",
     "dimension: rz\nroom: {temperature: 15 C, film: 4 W/m2K}\nparts:\n"
     "  - {name: pot, shape: cylinder, diameter: 10 cm, height: 12 cm, wall: 2 mm, material: hdpe}\n"
     "  - {name: rod, shape: cylinder, radius: 8 mm, height: 10 cm, z: 2 cm, held: [[0 h, -10 C], [1 h, -30 C]], held_film: 400 W/m2K}\n"
     "bodies: [{name: water, in: pot, depth: 10 cm, temperature: 6 C, motion: stirred}]\ngrid: {spacing: 5 mm}\n"},
    {"still bath, salt stays", TUB("strength: 18 %, salt_mode: closed", COLD) GRID},
    {"still bath, salt mixes", TUB("strength: 18 %, salt_mode: mixed, motion: still", COLD) GRID},
    {"stirred bath, ice on tubes and walls", TUB("strength: 15 %, motion: stirred", COLD) GRID},
    {"stirred bath, salt stays", TUB("strength: 15 %, motion: stirred, salt_mode: closed", COLD) GRID},
    {"pumped bath", TUB("strength: 24 %, motion: {kind: pumped, speed: 0.2 m/s}", COLD) GRID},
    {"coil as a film over the cells that it covers", TUB("strength: 24 %, salt_mode: closed", COLD ", outer_film: 300 W/m2K, spread: yes") GRID},
    {"wall and foam that are layers of cells",
     "dimension: rz\nroom: {temperature: 20 C}\nparts:\n  - {name: tub, shape: cylinder, diameter: 24 cm, height: 18 cm, wall: 4 mm, floor: 8 mm, material: hdpe}\n"
     "  - {name: foam, around: tub, wall: 30 mm, material: xps}\n"
     "  - {name: pot, shape: cylinder, diameter: 10 cm, height: 12 cm, z: 3 cm, wall: 16 mm, material: hdpe}\n" WATER
     "baths: [{name: brine, in: tub, salt: CaCl2, strength: 24 %, depth: 14 cm, temperature: -6 C, motion: stirred}]\n"
     "coils: [{name: coil, in: brine, around: pot, gap: 12 mm, tube: 8 mm, tube_wall: 1 mm, turns: 4, pitch: 25 mm, z: 4 cm" COLD "}]\n" GRID},
    {"refrigerant in the channels of a jacket",
     "dimension: rz\nroom: {temperature: 20 C, film: 5 W/m2K}\nparts:\n" POT
     "  - {name: sleeve, shape: tube, diameter: 13 cm, inner_diameter: 10.4 cm, height: 12 cm, z: 3 cm, material: aluminium 3003}\n" WATER
     "coils: [{name: coil, in: sleeve, shape: channels, conductance: 40 W/K}]\n" PLANT GRID},
    {"plant that runs on", TUB("strength: 24 %, motion: stirred", "") PLANT GRID},
    {"plant with a thermostat", TUB("strength: 24 %, motion: stirred", "") THERMOSTAT GRID},
    {"plant with a condenser, still bath",
     TUB("strength: 24 %, salt_mode: closed", "") "plant: {refrigerant: R290, condenser: 60 W/K, compressors: [{name: one, displacement: 0.8 m3/h}]}\n" GRID},
    {"stages: precool, fill, exchange, salt, power cut, hold, release",
     TUB("strength: 24 %, motion: stirred", "") THERMOSTAT "stages:\n  - {name: cold, kind: precool, until: {part: brine, below: -12 C}}\n  - {name: pour, kind: fill, water: 8 C, pieces: 200 g}\n"
     "  - {name: first, kind: freeze, until: time, for: 60 min}\n  - {name: fresh, kind: exchange, water: 4 C, share: 50 %}\n  - {name: rest, kind: freeze}\n"
     "  - {name: salt, kind: add_salt, grade: CaCl2 flake 77, mass: 100 g}\n  - {name: cut, kind: power_off, for: 30 min}\n"
     "  - {name: wait, kind: hold, for: 20 min, set_point: -10 C}\n  - {name: loose, kind: release}\n" GRID},
    {"stages: dipped in warm water, drawn, tempered, melted",
     TUB("strength: 24 %, motion: stirred", COLD) "stages:\n  - {name: all, kind: freeze}\n"
     "  - {name: loose, kind: release, dip: 20 C}\n  - {name: out, kind: draw}\n  - {name: soft, kind: temper, for: 30 min}\n  - {name: gone, kind: melt}\n" GRID},
    {"a box in (x, y, z), half of it",
     "dimension: xyz\nroom: {temperature: -18 C, film: 15 W/m2K}\nparts:\n"
     "  - {name: pot, shape: box, size: [9 cm, 8 cm, 8 cm], z: 3 cm, wall: 2 mm, material: hdpe}\n"
     "bodies: [{name: water, in: pot, depth: 7 cm, temperature: 5 C}]\nmirror: {x: 0 mm}\n" GRID},
    {"a tube along a line in (x, y, z), stirred bath",
     "dimension: xyz\nroom: {temperature: 20 C}\nparts:\n  - {name: tub, shape: box, size: [18 cm, 18 cm, 13 cm], wall: 4 mm, material: hdpe}\n"
     "  - {name: pot, shape: box, size: [8 cm, 8 cm, 9 cm], z: 3 cm, wall: 2 mm, material: hdpe}\n"
     "bodies: [{name: water, in: pot, depth: 8 cm, temperature: 5 C}]\n"
     "baths: [{name: brine, in: tub, salt: CaCl2, strength: 24 %, depth: 11 cm, temperature: -12 C, motion: stirred}]\n"
     "coils: [{name: coil, in: brine, shape: path, tube: 8 mm, tube_wall: 1 mm, refrigerant_temperature: -20 C,\n"
     "     path: [[-8 cm, -7 cm, 5 cm], [8 cm, -7 cm, 5 cm]]}]\nmirror: {x: 0 mm}\n"
     "stages: [{name: shell, kind: freeze, until: time, for: 40 min}]\ngrid: {spacing: 9 mm}\n"},
    {"stages: a shell, poured off, tempered",
     AIR("temperature: -18 C, film: 12 W/m2K") WATER "stages:\n  - {name: shell, kind: freeze, until: time, for: 4 h}\n  - {name: pour, kind: pour_off}\n  - {name: out, kind: draw}\n  - {name: soft, kind: temper, for: 30 min}\n" GRID},
};
enum { NUM_CASES = sizeof cases / sizeof *cases };

static const double TIMES = 0.01, HEATS = 0.01, SHARES = 0.005, RELEASE = 0.05, BOOKS = 1e-9;

static json_t *summary_by(const char *text, const char *integrator)
{
  case_run_done done = {0};
  message msg = {""};
  json_t *tree = NULL;
  const char *const overrides[] = {integrator};
  const case_run_request want = {.path = "both.yaml", .text = text, .length = strlen(text), .overrides = overrides, .num_overrides = 1};
  ck_assert_msg(case_run_march(&done, &want, &msg) == STATUS_OK, "%s: %s", integrator, msg.text);
  ck_assert_msg(case_run_summary(&done, NULL, &tree, &msg) == STATUS_OK, "%s", msg.text);
  case_run_release(&done);
  return tree;
}

typedef struct {
  const char *what;
  double worst; /* difference over what is allowed */
  char where[96];
} comparison;

static void compare(comparison *c, const char *name, double a, double b, double allowed)
{
  const double part = fabs(a - b) / allowed;
  if (part > c->worst) {
    c->worst = part;
    (void)snprintf(c->where, sizeof c->where, "%.60s %.6g, %.6g", name, a, b);
  }
  ck_assert_msg(part <= 1.0, "%s: %s: stabilised %.8g, bdf %.8g; %.3g is allowed", c->what, name, a, b, allowed);
}

/* Every number of an object that both have, within a share of the larger of both or of `scale`. */
static void compare_numbers(comparison *c, const json_t *a, const json_t *b, double share, double scale)
{
  const char *key;
  json_t *value;
  json_object_foreach((json_t *)a, key, value) {
    const json_t *other = json_object_get(b, key);
    ck_assert_msg(other != NULL, "%s: bdf tells no %s", c->what, key);
    if (json_is_number(value))
      compare(c, key, json_number_value(value), json_number_value(other), share * (scale > 0.0 ? scale : fmax(fabs(json_number_value(value)), fabs(json_number_value(other)))) + 1e-12);
  }
}

static double largest(const json_t *object)
{
  const char *key;
  json_t *value;
  double most = 0.0;
  json_object_foreach((json_t *)object, key, value) most = fmax(most, fabs(json_number_value(value)));
  return most;
}

static void compare_stages(comparison *c, const json_t *a, const json_t *b)
{
  ck_assert_uint_eq(json_array_size(a), json_array_size(b));
  for (size_t i = 0; i < json_array_size(a); i++) {
    const json_t *x = json_array_get(a, i), *y = json_array_get(b, i);
    ck_assert_str_eq(json_string_value(json_object_get(x, "ended_by")), json_string_value(json_object_get(y, "ended_by")));
    const double start[2] = {json_number_value(json_object_get(x, "start_at_s")), json_number_value(json_object_get(y, "start_at_s"))};
    const double end[2] = {json_number_value(json_object_get(x, "end_at_s")), json_number_value(json_object_get(y, "end_at_s"))};
    const bool loosens = strcmp(json_string_value(json_object_get(x, "kind")), "release") == 0;
    compare(c, json_string_value(json_object_get(x, "name")), end[0] - start[0], end[1] - start[1], (loosens ? RELEASE : TIMES) * fmax(1.0, end[0] - start[0]));
  }
}

START_TEST(feature_gives_the_same_by_both_integrators)
{
  comparison c = {.what = cases[_i].what, .where = "all the same"};
  json_t *a = summary_by(cases[_i].text, "run.integrator=stabilised"), *b = summary_by(cases[_i].text, "run.integrator=bdf");
  const json_t *freeze[2] = {json_object_get(a, "freeze"), json_object_get(b, "freeze")};
  ck_assert_int_eq(json_is_true(json_object_get(freeze[0], "complete")), json_is_true(json_object_get(freeze[1], "complete")));
  compare_numbers(&c, freeze[0], freeze[1], TIMES, 0.0);
  compare_numbers(&c, json_object_get(freeze[0], "marks_s"), json_object_get(freeze[1], "marks_s"), TIMES, 0.0);
  compare_stages(&c, json_object_get(a, "stages"), json_object_get(b, "stages"));
  static const char *const shares[] = {"mass_fraction", "ice_fraction_mean"};
  for (int i = 0; i < 2; i++) {
    const json_t *x = json_object_get(json_object_get(a, "bath"), shares[i]), *y = json_object_get(json_object_get(b, "bath"), shares[i]);
    if (x)
      compare(&c, shares[i], json_number_value(x), json_number_value(y), SHARES);
  }
  const json_t *books[2] = {json_object_get(a, "ledger"), json_object_get(b, "ledger")};
  for (int i = 0; i < 2; i++)
    ck_assert_double_lt(fabs(json_number_value(json_object_get(books[i], "residual_relative"))), BOOKS);
  compare_numbers(&c, books[0], books[1], HEATS, largest(books[0]));
  const json_t *work[2] = {json_object_get(json_object_get(a, "plant"), "work_J"), json_object_get(json_object_get(b, "plant"), "work_J")};
  if (work[0])
    compare(&c, "plant.work_J", json_number_value(work[0]), json_number_value(work[1]), HEATS * json_number_value(work[0]));
  (void)printf("%-62s nearest to its limit, at %2.0f %%: %s\n", c.what, 100.0 * c.worst, c.where);
  json_decref(a);
  json_decref(b);
}
END_TEST

int main(void)
{
  Suite *s = suite_create("both_integrators");
  TCase *c = tcase_create("features");
  tcase_set_timeout(c, 120);
  tcase_add_loop_test(c, feature_gives_the_same_by_both_integrators, 0, getenv("LASTWATER_BRIEF") ? NUM_CASES / 2 : NUM_CASES); /* under sanitizers: the first ones */
  suite_add_tcase(s, c);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed != 0;
}
