/* A bath given by its bags of salt. */
#include <check.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/case_file.h"

static const char head[] = "dimension: rz\nroom: {temperature: -20 C}\nparts:\n"
                           "  - {name: tub, shape: cylinder, diameter: 62 cm, height: 60 cm, wall: 5 mm, material: hdpe}\n"
                           "  - {name: pot, shape: cylinder, diameter: 48 cm, height: 52 cm, z: 4 cm, wall: 3 mm, material: aluminium 3003}\n"
                           "bodies:\n  - {name: water, in: pot, volume: 83 L, temperature: 10 C}\nbaths:\n  - {name: brine, in: tub, temperature: -5 C, ";

static status parse(const char *bath, case_file **c, char **faults)
{
  char text[2000];
  message msg = {""};
  (void)snprintf(text, sizeof text, "%s%s}\n", head, bath);
  return case_file_parse(c, "tub.yaml", text, strlen(text), NULL, 0, faults, &msg);
}

/* 18 kg of 77 % flake in 57 L: 13.86 kg in 74.898 kg, by hand; two bags of 9 kg are the same. */
START_TEST(bags_and_water_make_strength_and_mass)
{
  static const char *const baths[] = {"bags: [{grade: CaCl2 flake 77, mass: 18 kg}], water: 57 L",
                                      "bags: [{grade: CaCl2 flake 77, mass: 9 kg}, {grade: CaCl2 77 %, mass: 9 kg}], water: 57 L, salt: CaCl2"};
  for (size_t i = 0; i < 2; i++) {
    case_file *c = NULL;
    char *faults = NULL;
    ck_assert_msg(parse(baths[i], &c, &faults) == STATUS_OK, "%s", faults ? faults : "");
    const rig_bath *b = &c->rig.baths[0];
    ck_assert_int_eq(b->salt, BRINE_CACL2);
    ck_assert_double_eq_tol(b->mass_fraction, 0.18505, 2e-5);
    ck_assert_double_eq_tol(b->mass, 74.898, 2e-3);
    ck_assert_double_eq_tol(c->baths[0].volume, b->mass / c->rig.parts[b->part].stuff->density, 1e-12);
    ck_assert(b->both); /* a still bath is answered both ways */
    case_file_destroy(&c);
  }
}
END_TEST

static const struct { const char *bath, *says; } refused[] = {
  {"bags: [{grade: CaCl2 flake 77, mass: 18 kg}]", "say how much \"water\""},
  {"bags: [{grade: CaCl2 flake 77, mass: 18 kg}], water: 57 L, volume: 60 L", "leave \"volume\" out"},
  {"bags: [{grade: CaCl2 flake 77, mass: 18 kg}], water: 57 L, strength: 20 %", "strength"},
  {"bags: [{grade: gravel, mass: 18 kg}], water: 57 L", "no grade of salt is named \"gravel\""},
  {"bags: [{grade: CaCl2 flake 77, mass: 9 kg}, {grade: NaCl rock salt, mass: 9 kg}], water: 57 L", "one kind of salt"},
  {"bags: [{grade: CaCl2 flake 77, mass: 18 kg}], water: 57 L, salt: NaCl", "leave \"salt\" out"},
  {"bags: [{grade: NaCl food salt, mass: 18 kg}], water: 57 L", "beyond the eutectic"},
  {"bags: [{grade: CaCl2 flake 77, mass: 18 kg}], water: 157 L", "do not fit"},
  {"bags: [{grade: CaCl2 flake 77}], water: 57 L", "\"mass\" is missing"},
  {"bags: [], water: 57 L", "bags"},
  {"strength: 20 %, volume: 60 L", "\"salt\""},
};

START_TEST(impossible_bags_are_told)
{
  case_file *c = NULL;
  char *faults = NULL;
  ck_assert_int_eq(parse(refused[_i].bath, &c, &faults), STATUS_BAD_INPUT);
  ck_assert_msg(strstr(faults, refused[_i].says) != NULL, "\"%s\" lacks \"%s\"", faults, refused[_i].says);
  ck_assert_msg(strstr(faults, "tub.yaml:9:") == faults, "%s", faults);
  free(faults);
}
END_TEST

int main(void)
{
  Suite *s = suite_create("case_bags");
  TCase *t = tcase_create("case_bags");
  tcase_add_test(t, bags_and_water_make_strength_and_mass);
  tcase_add_loop_test(t, impossible_bags_are_told, 0, sizeof refused / sizeof *refused);
  suite_add_tcase(s, t);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed != 0;
}
