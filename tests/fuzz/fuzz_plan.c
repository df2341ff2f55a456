/* Any bytes as a plan, for sweep and for seek, beside a small sound case. Must neither crash nor leak; a refusal has a text; the points of
 * what is accepted can all be told. */
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "io/plan_points.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static const char CASE[] = "dimension: rz\n"
                           "parts:\n"
                           "  - {name: cup, shape: cylinder, diameter: 40 mm, height: 50 mm, wall: 2 mm, material: hdpe}\n"
                           "bodies:\n"
                           "  - {name: water, in: cup, depth: 40 mm, temperature: 5 C}\n";

static void look_at_points(const plan_file *p)
{
  plan_points *pts = NULL;
  if (plan_points_count(p) > 500 || plan_points_create(&pts, p, false, NULL) != STATUS_OK)
    return;
  for (size_t point = 0; point < plan_points_num(pts); point++)
    for (size_t i = 0; i < p->num_inputs; i++) {
      char text[PLAN_POINTS_VALUE];
      double number;
      (void)plan_points_value(pts, point, i, text, &number);
      if (strlen(text) >= sizeof text || plan_points_case(pts, point) >= plan_points_num_cases(pts))
        abort();
    }
  plan_points_destroy(&pts);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
  static quantity_system *units; /* made once; the process ends with it */
  if (!units && quantity_system_create(&units, NULL) != STATUS_OK)
    abort();
  for (int use = 0; use < 2; use++) {
    plan_file *p = NULL;
    char *faults = NULL;
    message msg = {""};
    const status code = plan_file_parse(&p, "fuzz.yaml", (const char *)data, size, CASE, sizeof CASE - 1, (plan_use)use, units, &faults, &msg);
    if (code == STATUS_BAD_INPUT && (!faults || !faults[0] || !msg.text[0]))
      abort();
    if ((code == STATUS_OK) != (p != NULL))
      abort();
    if (p && use == PLAN_SWEEP)
      look_at_points(p);
    plan_file_destroy(&p);
    free(faults);
  }
  return 0;
}
