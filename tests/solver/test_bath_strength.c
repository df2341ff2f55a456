/* Strength of a mixed bath: the salt balance, against the lever rule of the whole bath. */
#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "solver/bath_strength.h"

#define assert_close(got, want, rel) ck_assert_double_eq_tol((got), (want), (rel) * fabs(want))
enum { NUM = 3000 };

typedef struct {
  bath_strength_request q;
  int32_t node[NUM];
  double volume[NUM], enthalpy[NUM];
} bath;

/* Nodes of unlike sizes, not in rising order, of a fill of strength w0. */
static bath *bath_of(brine_salt salt, double w0)
{
  bath *b = calloc(1, sizeof *b);
  ck_assert_ptr_nonnull(b);
  double volume = 0.0;
  for (int i = 0; i < NUM; i++) {
    b->node[i] = (i * 7) % NUM; /* 7 and 3000 share no factor */
    b->volume[i] = 1e-5 * (1.0 + 0.9 * sin(0.37 * i));
    volume += b->volume[i];
  }
  b->q = (bath_strength_request){.salt = salt, .source = LIQUIDUS_TONER_CATLING, .density = brine_density(salt, w0, 0.0),
                                 .held_brine = 0.20, .num = NUM, .node = b->node, .volume = b->volume, .enthalpy = b->enthalpy};
  b->q.salt_mass = w0 * b->q.density * volume;
  return b;
}

/* Overall strength and temperature. The whole bath at one temperature: the enthalpy of closed brine, and the lever rule says
 * w = w_liquidus(T) (Toner & Catling 2017), ice = 1 - w0 / w. */
static const struct { double w0, temperature; } even[] = {{0.20, -20.0}, {0.20, -30.0}, {0.10, -8.0}, {0.24, -30.0}, {0.05, -4.0}};
START_TEST(an_even_bath_follows_the_lever_rule)
{
  bath *b = bath_of(BRINE_CACL2, even[_i].w0);
  material closed = {0};
  message msg = {""};
  ck_assert_msg(brine_closed(&closed, BRINE_CACL2, LIQUIDUS_TONER_CATLING, even[_i].w0, MUSH_MAXWELL, &msg) == STATUS_OK, "%s", msg.text);
  const double h = phase_curve_enthalpy(&closed.curve, even[_i].temperature);
  for (int i = 0; i < NUM; i++) {
    b->enthalpy[i] = h;
  }
  bath_strength found;
  ck_assert_msg(bath_strength_find(&found, &b->q, even[_i].w0, &msg) == STATUS_OK, "%s", msg.text);
  /* The closed curve is a table of straight pieces: its own temperature error is what limits the comparison. */
  const double want = brine_liquidus_fraction(BRINE_CACL2, LIQUIDUS_TONER_CATLING, even[_i].temperature);
  assert_close(found.mass_fraction, want, 2e-5);
  assert_close(found.ice_mass / found.mass, 1.0 - even[_i].w0 / want, 1e-4);
  material_release(&closed);
  free(b);
}
END_TEST

/* Liquid, ice that holds brine, and everything between side by side: nodes are laid out for a strength w, and it is found again. */
static const struct { brine_salt salt; double w0, w; } uneven[] = {
    {BRINE_CACL2, 0.20, 0.2113}, {BRINE_CACL2, 0.20, 0.29}, {BRINE_CACL2, 0.01, 0.0102}, {BRINE_NACL, 0.15, 0.18}, {BRINE_NACL, 0.15, 0.225}};
START_TEST(strength_is_found_whatever_the_layout)
{
  bath *b = bath_of(uneven[_i].salt, uneven[_i].w0);
  brine_layer layer;
  message msg = {""};
  ck_assert_msg(brine_mixed_layer(&layer, uneven[_i].salt, LIQUIDUS_TONER_CATLING, uneven[_i].w, b->q.density, 0.20, &msg) == STATUS_OK,
                "%s", msg.text);
  double liquid = 0.0, mass = 0.0;
  for (int i = 0; i < NUM; i++) {
    const double share = i % 3 == 0 ? 1.0 : i % 3 == 1 ? 0.20 : 0.2 + 0.8 * (i / (double)NUM);
    /* a third a little above the onset, a third below the layer's end, a third inside */
    b->enthalpy[i] = i % 3 == 0   ? layer.liquid_enthalpy + 2e6
                     : i % 3 == 1 ? layer.held_enthalpy - 5e6
                                  : layer.held_enthalpy + (share - 0.2) / 0.8 * (layer.liquid_enthalpy - layer.held_enthalpy);
    liquid += share * b->q.density * b->volume[i];
    mass += b->q.density * b->volume[i];
  }
  b->q.salt_mass = uneven[_i].w * liquid;
  bath_strength found;
  ck_assert_msg(bath_strength_find(&found, &b->q, uneven[_i].w0, &msg) == STATUS_OK, "%s", msg.text);
  assert_close(found.mass_fraction, uneven[_i].w, 1e-9);
  assert_close(found.ice_mass, mass - liquid, 1e-9);
  assert_close(bath_strength_salt(&b->q, found.mass_fraction, NULL), b->q.salt_mass, 1e-11);
  ck_assert_double_eq(found.excess_salt, 0.0);
  free(b);
}
END_TEST

START_TEST(without_ice_the_strength_is_that_of_the_fill)
{
  bath *b = bath_of(BRINE_CACL2, 0.22);
  bath_strength found;
  message msg = {""};
  for (int guess = 0; guess < 3; guess++) { /* liquid at 0 degC has H = 0 */
    ck_assert_msg(bath_strength_find(&found, &b->q, 0.1 * guess + 0.02, &msg) == STATUS_OK, "%s", msg.text);
    assert_close(found.mass_fraction, 0.22, 1e-11);
    ck_assert_double_eq_tol(found.ice_mass, 0.0, 1e-9 * found.mass);
  }
  free(b);
}
END_TEST

/* Frozen through: even eutectic liquid cannot hold the salt; the excess is told. */
START_TEST(a_bath_frozen_through_tells_its_excess_salt)
{
  bath *b = bath_of(BRINE_CACL2, 0.25);
  for (int i = 0; i < NUM; i++) {
    b->enthalpy[i] = -8e8;
  }
  bath_strength found;
  ck_assert_int_eq(bath_strength_find(&found, &b->q, 0.25, NULL), STATUS_OK);
  ck_assert_double_eq(found.mass_fraction, brine_eutectic(BRINE_CACL2).mass_fraction);
  assert_close(found.excess_salt, b->q.salt_mass - 0.20 * found.mass * found.mass_fraction, 1e-9);
  free(b);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("bath_strength");
  TCase *tc = tcase_create("bath_strength");
  tcase_add_loop_test(tc, an_even_bath_follows_the_lever_rule, 0, 5);
  tcase_add_loop_test(tc, strength_is_found_whatever_the_layout, 0, 5);
  tcase_add_test(tc, without_ice_the_strength_is_that_of_the_fill);
  tcase_add_test(tc, a_bath_frozen_through_tells_its_excess_salt);
  suite_add_tcase(suite, tc);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed == 0 ? 0 : 1;
}
