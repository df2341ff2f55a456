#include "io/stored_results.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/cell_nodes.h"
#include "io/field_store.h"
#include "io/h5_file.h"
#include "io/summary_clear.h"

/* ------------------------------------------------------------------------------------------------ summary.json */

static double real(const json_t *object, const char *name)
{
  const json_t *value = json_object_get(object, name);
  return json_is_number(value) ? json_number_value(value) : NAN;
}

static void copy_text(char *to, size_t size, const json_t *object, const char *name)
{
  const char *text = json_string_value(json_object_get(object, name));
  (void)snprintf(to, size, "%s", text ? text : "");
}

static void position(const json_t *object, const char *name, bool revolved, double to[3])
{
  const json_t *list = json_object_get(object, name);
  to[0] = to[1] = to[2] = NAN;
  if (json_array_size(list) != (revolved ? 2u : 3u))
    return;
  for (size_t i = 0; i < json_array_size(list); i++)
    to[revolved && i == 1 ? 2 : i] = json_number_value(json_array_get(list, i));
  if (revolved)
    to[1] = 0.0;
}

static bool read_pockets(body_result *b, const json_t *list, bool revolved)
{
  b->pockets = calloc(json_array_size(list) + 1, sizeof *b->pockets);
  if (!b->pockets)
    return false;
  b->num_pockets = json_array_size(list);
  for (size_t i = 0; i < b->num_pockets; i++) {
    const json_t *o = json_array_get(list, i), *parent = json_object_get(o, "parent");
    pocket *p = &b->pockets[i];
    *p = (pocket){.parted_at = real(o, "parted_at_s"), .closed_at = real(o, "closed_at_s"), .last_at = real(o, "last_at_s"),
                  .mass = real(o, "mass_kg"), .closed_mass = real(o, "closed_mass_kg"), .distance = real(o, "distance_to_surface_m"),
                  .pressure = real(o, "pressure_Pa"), .skin_tension = real(o, "skin_tension_Pa"), .crack_index = real(o, "crack_index"), .trapped = json_is_true(json_object_get(o, "trapped")),
                  .parent = json_is_integer(parent) ? (int)json_integer_value(parent) : -1};
    position(o, "position_m", revolved, p->position);
  }
  return true;
}

static bool read_body(body_result *b, const json_t *o, bool revolved)
{
  static const char *const marks[3] = {"0.5", "0.9", "0.99"};
  const json_t *freeze = json_object_get(o, "freeze"), *last = json_object_get(o, "last_liquid");
  copy_text(b->name, sizeof b->name, o, "name");
  b->complete = json_is_true(json_object_get(freeze, "complete"));
  b->freeze_time = real(freeze, "time_s");
  b->fraction = real(freeze, "fraction");
  for (int i = 0; i < 3; i++)
    b->mark[i] = real(json_object_get(freeze, "marks_s"), marks[i]);
  position(last, "position_m", revolved, b->last_position);
  b->last_time = real(last, "time_s");
  b->last_trapped = json_is_true(json_object_get(last, "trapped"));
  b->last_distance = real(last, "distance_to_surface_m");
  b->mass = real(o, "mass_kg");
  summary_clear_read(&b->clear, json_object_get(o, "clear"), revolved);
  return read_pockets(b, json_object_get(o, "pockets"), revolved);
}

static bool read_bodies(results *res, const json_t *list, bool revolved)
{
  res->bodies = calloc(json_array_size(list) + 1, sizeof *res->bodies);
  bool ok = res->bodies != NULL;
  for (size_t i = 0; ok && i < json_array_size(list); i++) {
    res->num_bodies = i + 1;
    body_result *b = &res->bodies[i];
    ok = read_body(b, json_array_get(list, i), revolved);
    if (b->complete && (res->last_body < 0 || b->freeze_time > res->bodies[res->last_body].freeze_time))
      res->last_body = (int)i;
  }
  return ok;
}

static bool read_stages(results *res, const json_t *list, const rig *r)
{
  res->stages = calloc(json_array_size(list) + 1, sizeof *res->stages);
  if (!res->stages)
    return false;
  res->num_stages = json_array_size(list);
  for (size_t i = 0; i < res->num_stages; i++) {
    const json_t *o = json_array_get(list, i);
    stage_result *s = &res->stages[i];
    copy_text(s->name, sizeof s->name, o, "name");
    copy_text(s->ended_by, sizeof s->ended_by, o, "ended_by");
    s->start_at = real(o, "start_at_s");
    s->end_at = real(o, "end_at_s");
    for (size_t k = 0; k < r->num_stages; k++)
      if (strcmp(r->stages[k].name, s->name) == 0)
        s->kind = r->stages[k].kind;
  }
  return true;
}

/* Paths come first in the file too; what is stored is told by its name. */
static bool read_ledger(heat_ledger *ledger, json_t *object)
{
  const char *name;
  json_t *value;
  ledger->entries = calloc(json_object_size(object) + 1, sizeof *ledger->entries);
  if (!ledger->entries)
    return false;
  json_object_foreach(object, name, value)
  {
    if (strcmp(name, "residual_relative") == 0) {
      ledger->residual_relative = json_number_value(value);
      continue;
    }
    ledger_entry *e = &ledger->entries[ledger->num++];
    (void)snprintf(e->name, sizeof e->name, "%s", name);
    e->joules = json_number_value(value);
    if (strncmp(name, "stored in ", 10) != 0)
      ledger->num_paths = ledger->num;
  }
  return true;
}

/* ------------------------------------------------------------------------------------------------ fields.h5 */

static double *read_all(hid_t file, const char *name, size_t *num)
{
  const hid_t set = H5Dopen2(file, name, H5P_DEFAULT), space = set < 0 ? -1 : H5Dget_space(set);
  const hssize_t points = space < 0 ? -1 : H5Sget_simple_extent_npoints(space);
  double *values = points < 0 ? NULL : malloc(((size_t)points + 1) * sizeof *values);
  if (values && points > 0 && H5Dread(set, H5T_NATIVE_DOUBLE, H5S_ALL, H5S_ALL, H5P_DEFAULT, values) < 0) {
    free(values);
    values = NULL;
  }
  if (space >= 0)
    (void)H5Sclose(space);
  if (set >= 0)
    (void)H5Dclose(set);
  *num = values ? (size_t)points : 0;
  return values;
}

/* The last stored time of a field into values[num]; false when it is not there. */
static bool read_last(hid_t file, const char *name, double *values, size_t num)
{
  hsize_t extent[4], start[4] = {0}, flat = num;
  const hid_t set = H5Lexists(file, name, H5P_DEFAULT) > 0 ? H5Dopen2(file, name, H5P_DEFAULT) : -1;
  const hid_t space = set < 0 ? -1 : H5Dget_space(set), memory = H5Screate_simple(1, &flat, NULL);
  bool ok = space >= 0 && memory >= 0 && H5Sget_simple_extent_dims(space, extent, NULL) >= 3 && extent[0] > 0;
  if (ok) {
    start[0] = extent[0] - 1;
    extent[0] = 1;
    ok = H5Sselect_hyperslab(space, H5S_SELECT_SET, start, NULL, extent, NULL) >= 0 && H5Sget_select_npoints(space) == (hssize_t)num &&
         H5Dread(set, H5T_NATIVE_DOUBLE, memory, space, H5P_DEFAULT, values) >= 0;
  }
  if (memory >= 0)
    (void)H5Sclose(memory);
  if (space >= 0)
    (void)H5Sclose(space);
  if (set >= 0)
    (void)H5Dclose(set);
  return ok;
}

typedef struct {
  hid_t file;
  size_t num_cells;
  int32_t *water, *rest; /* [num_cells] */
  double *cells;         /* [num_cells] workspace */
} reader;

static void spread_back(const reader *r, const int32_t *node, double *values)
{
  for (size_t cell = 0; cell < r->num_cells; cell++)
    if (node[cell] != MESH_NONE)
      values[node[cell]] = r->cells[cell];
}

/* One value a node from the two sides of a field at the last time. */
static double *read_field(const reader *r, const char *name, size_t num_nodes)
{
  char path[96];
  double *values = malloc((num_nodes + 1) * sizeof *values);
  for (size_t i = 0; values && i < num_nodes; i++)
    values[i] = NAN;
  (void)snprintf(path, sizeof path, "/fields/rest/%s", name);
  if (values && read_last(r->file, path, r->cells, r->num_cells))
    spread_back(r, r->rest, values);
  (void)snprintf(path, sizeof path, "/fields/water/%s", name);
  if (values && read_last(r->file, path, r->cells, r->num_cells))
    spread_back(r, r->water, values);
  return values;
}

/* A map of the water per node; NULL: not there. */
static double *read_map(const reader *r, const char *path, size_t num_nodes)
{
  size_t num = 0;
  double *cells = H5Lexists(r->file, path, H5P_DEFAULT) > 0 ? read_all(r->file, path, &num) : NULL;
  double *values = cells && num == r->num_cells ? malloc((num_nodes + 1) * sizeof *values) : NULL;
  for (size_t i = 0; values && i < num_nodes; i++)
    values[i] = NAN;
  for (size_t cell = 0; values && cell < r->num_cells; cell++)
    if (r->water[cell] != MESH_NONE)
      values[r->water[cell]] = cells[cell];
  free(cells);
  return values;
}

static bool read_pocket_map(const reader *r, results *res)
{
  double *index = read_map(r, "/maps/pocket", res->num_nodes);
  res->pocket = index ? malloc((res->num_nodes + 1) * sizeof *res->pocket) : NULL;
  for (size_t i = 0; res->pocket && i < res->num_nodes; i++)
    res->pocket[i] = isfinite(index[i]) ? (int32_t)index[i] : -1;
  free(index);
  return true;
}

/* Column 0 is the time. */
static bool read_series(hid_t file, time_series *s)
{
  H5G_info_t info;
  if (H5Gget_info_by_name(file, "/series", &info, H5P_DEFAULT) < 0)
    return false;
  const size_t most = (size_t)info.nlinks;
  size_t rows = 0;
  s->name = calloc(most + 1, sizeof *s->name);
  s->unit = calloc(most + 1, sizeof *s->unit);
  double *time = H5Lexists(file, "/series/time", H5P_DEFAULT) > 0 ? read_all(file, "/series/time", &rows) : NULL;
  s->values = calloc(rows * most + 1, sizeof *s->values);
  bool ok = s->name && s->unit && s->values && (time || most == 0);
  for (size_t i = 0; ok && i < most + 1; i++) { /* the time, then the others in their order */
    char name[64] = "time", path[96];
    if (i > 0 && H5Lget_name_by_idx(file, "/series", H5_INDEX_NAME, H5_ITER_INC, i - 1, name, sizeof name, H5P_DEFAULT) < 0)
      ok = false;
    if (!ok || (i > 0 && strcmp(name, "time") == 0) || most == 0)
      continue;
    size_t num = 0;
    (void)snprintf(path, sizeof path, "/series/%s", name);
    double *column = read_all(file, path, &num);
    ok = column && num == rows;
    (void)memcpy(s->name[s->num_columns], name, sizeof name);
    (void)h5_file_get_text(file, path, "units", s->unit[s->num_columns], sizeof *s->unit);
    for (size_t row = 0; ok && row < rows; row++)
      s->values[row * most + s->num_columns] = column[row];
    s->num_columns++;
    free(column);
  }
  s->num_rows = rows;
  free(time);
  return ok && s->num_columns == most;
}

static bool read_last_time(hid_t file, double *time)
{
  size_t num = 0;
  double *times = read_all(file, "/time", &num);
  *time = num ? times[num - 1] : 0.0;
  free(times);
  return num > 0;
}

static bool read_fields(stored_results *out, const stored_run *from, reader *r)
{
  results *res = &out->results;
  res->num_nodes = from->mesh->num_nodes;
  r->num_cells = grid_num_cells(from->mesh->grid);
  r->water = malloc((r->num_cells + 1) * sizeof *r->water);
  r->rest = malloc((r->num_cells + 1) * sizeof *r->rest);
  r->cells = malloc((r->num_cells + 1) * sizeof *r->cells);
  if (!r->water || !r->rest || !r->cells)
    return false;
  cell_nodes_fill(from->mesh, &from->of->rig, r->water, r->rest);
  out->temperature = read_field(r, "temperature", res->num_nodes);
  out->liquid_fraction = read_field(r, "liquid_fraction", res->num_nodes);
  res->freeze_time = out->freeze_time = read_map(r, "/maps/freeze_time", res->num_nodes);
  res->front_speed = read_map(r, "/maps/front_speed", res->num_nodes);
  res->clarity = read_map(r, "/maps/clarity", res->num_nodes);
  res->clear_speed = read_map(r, "/maps/clear_speed", res->num_nodes);
  return out->temperature && out->liquid_fraction && read_pocket_map(r, res) && read_series(r->file, &res->series) &&
         read_last_time(r->file, &out->time);
}

/* ------------------------------------------------------------------------------------------------ the whole */

status stored_results_read(stored_results *out, const stored_run *from, message *msg)
{
  char path[WHOLE_FILE_PATH];
  reader r = {.file = -1};
  *out = (stored_results){.results = {.last_body = -1, .contact_bath = -1}};
  const bool revolved = from->mesh->grid->kind == GRID_RZ;
  status code = whole_file_join(path, from->directory, FIELD_STORE_NAME, msg);
  if (code == STATUS_OK && !(read_bodies(&out->results, json_object_get(from->summary, "bodies"), revolved) &&
                             read_stages(&out->results, json_object_get(from->summary, "stages"), &from->of->rig) &&
                             read_ledger(&out->results.ledger, json_object_get(from->summary, "ledger"))))
    code = message_set(msg, STATUS_NO_MEMORY, "out of memory for the results in %s", from->directory);
  if (code == STATUS_OK)
    code = h5_file_open(&r.file, path, false, msg);
  if (code == STATUS_OK && !read_fields(out, from, &r))
    code = h5_file_fault(msg, "read", path);
  if (r.file >= 0)
    (void)h5_file_close(&r.file);
  free(r.water);
  free(r.rest);
  free(r.cells);
  return code;
}

void stored_results_release(stored_results *s)
{
  results *res = &s->results;
  for (size_t i = 0; i < res->num_bodies; i++)
    free(res->bodies[i].pockets);
  free(res->bodies);
  free(res->stages);
  free(res->ledger.entries);
  free(res->series.name);
  free(res->series.unit);
  free(res->series.values);
  free(res->pocket);
  free(res->front_speed);
  free(res->clarity);
  free(res->clear_speed);
  free(s->temperature);
  free(s->liquid_fraction);
  free(s->freeze_time);
  *s = (stored_results){.time = 0.0};
}
