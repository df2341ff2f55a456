/* What the README of cases/fox-den says: the entrance freezes last unless it is cooled or, in a bare shell, insulated. Judged by where the last water
 * stands, in cells of 8 mm. No outside reference: heat flows to the rod through the ice, so what lies farther from it, or leaks more, is later. */
#include <check.h>
#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>

#include "program.h"

static char dir[512];

static void set_up(void) { program_directory(dir); }
static void tear_down(void) { program_remove(dir); }

static const struct {
  const char *name;
  double edge; /* m, x at which the dome ends */
  bool entrance_last;
} dens[] = {{"case", 0.110, true}, {"cooled", 0.110, false}, {"shell", 0.130, true}, {"muff", 0.130, false}};

START_TEST(the_entrance_is_last_unless_it_is_cooled_or_insulated)
{
  char path[600], to[600];
  (void)snprintf(path, sizeof path, CASES "/fox-den/%s.yaml", dens[_i].name);
  (void)snprintf(to, sizeof to, "%s/%s", dir, dens[_i].name);
  program_result r = program_run((const char *const[]){"run", path, "-o", to, "--quiet", "--set", "grid.spacing=8 mm", NULL}, NULL);
  ck_assert_msg(r.exit_code == 0, "%s", r.err);
  program_release(&r);
  json_t *json = program_summary(to);
  ck_assert(json_is_true(json_object_get(json_object_get(json, "freeze"), "complete")));
  const double x = json_number_value(json_array_get(json_object_get(json_object_get(json, "last_liquid"), "position_m"), 0));
  if (dens[_i].entrance_last)
    ck_assert_double_gt(x, dens[_i].edge);
  else
    ck_assert_double_lt(x, 0.0); /* behind the rod */
  json_decref(json);
}
END_TEST

int main(void)
{
  Suite *s = suite_create("fox den");
  TCase *c = tcase_create("fox den");
  tcase_add_checked_fixture(c, set_up, tear_down);
  tcase_set_timeout(c, 300);
  if (!getenv("LASTWATER_BRIEF")) /* under sanitizers: too long */
    tcase_add_loop_test(c, the_entrance_is_last_unless_it_is_cooled_or_insulated, 0, sizeof dens / sizeof *dens);
  suite_add_tcase(s, c);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed != 0;
}
