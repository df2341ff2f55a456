#include "made_up_run.h"

#include <check.h>
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "io/case_file.h"
#include "io/field_store.h"
#include "io/summary_json.h"
#include "io/whole_file.h"
#include "solver/run_layers.h"

static const char SUMMARY[] = "{\"format\": 1, \"provenance\": {}, \"bodies\": [{\"name\": \"water\", \"mass_kg\": 1.0, \"freeze\": {\"complete\": true, \"time_s\": 180000.0}}], "
                              "\"baths\": [], \"stages\": [], \"events\": [], \"warnings\": []}\n";

static double noise(size_t i) /* 0..1, the same every time */
{
  uint64_t h = (uint64_t)i * UINT64_C(0x9E3779B97F4A7C15);
  h ^= h >> 31;
  h *= UINT64_C(0xBF58476D1CE4E5B9);
  return (double)(h >> 40) / 16777216.0;
}

/* s: water freezes the later, the deeper it lies in its part. */
static double freezes_at(const mesh *m, const rig *r, size_t node, double last)
{
  const double deep = -shape_distance(r->parts[m->part[node]].region, m->centroid[node]);
  return last * fmin(1.0, pow(fmax(deep, 0.0) / 0.12, 1.5)) * (1.0 + 0.002 * noise(node));
}

static void fill(const mesh *m, const rig *r, const double *freeze_time, double time, double *temperature, double *liquid)
{
  for (size_t i = 0; i < m->num_nodes; i++) {
    temperature[i] = liquid[i] = NAN;
    if (!(m->volume[i] > 0.0))
      continue;
    const bool water = r->parts[m->part[i]].kind == PART_WATER;
    const double since = water ? (time - freeze_time[i]) / 3600.0 : 1.0 + time / 3600.0;
    liquid[i] = water && since < 0.0 ? fmin(1.0, -since) : 0.0;
    temperature[i] = water && since < 0.0 ? 4.0 * exp(-time / 20000.0) * noise(i) : -18.0 * (1.0 - exp(-0.1 * since)) - 0.02 * noise(i + (size_t)time);
  }
}

static void write_text(const char *directory, const char *name, const char *text)
{
  char path[WHOLE_FILE_PATH];
  ck_assert_int_eq(whole_file_join(path, directory, name, NULL), STATUS_OK);
  ck_assert_int_eq(whole_file_write(path, text, strlen(text), NULL), STATUS_OK);
}

size_t made_up_run_write(const char *directory, const char *case_path, const char *override, size_t num_times)
{
  case_file *c = NULL;
  mesh *m = NULL;
  field_store *f = NULL;
  char *faults = NULL, *resolved = NULL;
  message msg = {""};
  ck_assert_msg(case_file_read(&c, case_path, &override, 1, &faults, &msg) == STATUS_OK, "%s", faults ? faults : msg.text);
  ck_assert_int_eq(run_layers_mesh(&m, &c->rig, &msg), STATUS_OK);
  ck_assert_int_eq(case_file_resolved(c, &resolved, &msg), STATUS_OK);
  ck_assert_int_eq(field_store_create(&f, directory, &c->rig, m, "made up", &msg), STATUS_OK);
  double *freeze_time = malloc(m->num_nodes * sizeof(double)), *temperature = malloc(m->num_nodes * sizeof(double)), *liquid = malloc(m->num_nodes * sizeof(double));
  const double last = 3600.0 * (double)(num_times - 1);
  for (size_t i = 0; i < m->num_nodes; i++)
    freeze_time[i] = m->volume[i] > 0.0 && c->rig.parts[m->part[i]].kind == PART_WATER ? freezes_at(m, &c->rig, i, last) : NAN;
  for (size_t k = 0; k < num_times; k++) {
    fill(m, &c->rig, freeze_time, 3600.0 * (double)k, temperature, liquid);
    ck_assert_int_eq(field_store_append(f, 3600.0 * (double)k, 0, temperature, liquid, &msg), STATUS_OK);
  }
  for (size_t i = 0; i < m->num_nodes; i++)
    temperature[i] = isnan(freeze_time[i]) ? NAN : 1e-6 * (1.0 + noise(i));
  const results res = {.last_body = -1, .contact_bath = -1, .num_nodes = m->num_nodes, .freeze_time = freeze_time, .front_speed = temperature};
  ck_assert_int_eq(field_store_finish(&f, &res, &msg), STATUS_OK);
  ck_assert_int_eq(field_store_publish(directory, &msg), STATUS_OK);
  write_text(directory, "case.yaml", resolved);
  write_text(directory, SUMMARY_JSON_NAME, SUMMARY);
  const size_t num = grid_num_cells(m->grid);
  free(freeze_time);
  free(temperature);
  free(liquid);
  free(resolved);
  mesh_destroy(&m);
  case_file_destroy(&c);
  return num;
}
