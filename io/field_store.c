#include "io/field_store.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/cell_nodes.h"
#include "io/h5_file.h"
#include "io/whole_file.h"

typedef enum { FIELD_WATER_TEMPERATURE, FIELD_WATER_LIQUID, FIELD_REST_TEMPERATURE, FIELD_REST_LIQUID, NUM_FIELDS } field_kind;

static const struct {
  const char *name, *units, *long_name;
  bool of_water, is_temperature;
} FIELDS[NUM_FIELDS] = {
    {"/fields/water/temperature", "degC", "temperature of the water or ice in the cell", true, true},
    {"/fields/water/liquid_fraction", "1", "liquid share, by mass, of the water in the cell", true, false},
    {"/fields/rest/temperature", "degC", "temperature of the largest part in the cell that is not water to be frozen", false, true},
    {"/fields/rest/liquid_fraction", "1", "liquid share, by mass, of the bath in the cell", false, false},
};

/* float32 keeps 23 bits of mantissa; these many are left. Rounding is worth more to the compression than any level of it. */
enum { MANTISSA_BITS = 13, SMALL_CHUNK = 128 };
static const char PRECISION[] = "float32 with the mantissa rounded to 13 bits: relative error at most 6.2e-5";

struct field_store {
  const rig *rig;
  const mesh *mesh;
  size_t num_cells;
  char path[WHOLE_FILE_PATH];
  hid_t file, time, stage, fields[NUM_FIELDS]; /* -1: not open, or not there */
  int rank;                                    /* of one field at one time: 2 or 3 */
  hsize_t extent[3];                           /* (z, r) or (z, y, x) */
  hsize_t num_times;
  double last_time;       /* s */
  int32_t *water, *rest;  /* [num_cells] nodes */
  double *values;         /* [num_cells] workspace */
  float *rounded;         /* [num_cells] workspace */
  file_range *unchanging; /* chunks of fields that are written for good */
  size_t num_unchanging, unchanging_capacity;
  hsize_t chunks_known[NUM_FIELDS];
};

float field_store_round(double value)
{
  const uint32_t dropped = 23 - MANTISSA_BITS;
  const float single = (float)value;
  if (!isfinite(single))
    return single;
  uint32_t bits;
  memcpy(&bits, &single, sizeof bits);
  /* Half to even on the kept bits; a carry into the exponent is the right result. */
  bits += (UINT32_C(1) << (dropped - 1)) - 1 + ((bits >> dropped) & 1);
  bits &= ~((UINT32_C(1) << dropped) - 1);
  float rounded;
  memcpy(&rounded, &bits, sizeof rounded);
  return isfinite(rounded) ? rounded : single;
}

/* ------------------------------------------------------------------------------------------------ making */

static const char *part_kind_name(part_kind kind)
{
  static const char *const names[] = {"solid", "water", "brine", "held"};
  return names[kind];
}

static bool has_part(const rig *r, part_kind kind)
{
  for (size_t part = 0; part < r->num_parts; part++)
    if (r->parts[part].kind == kind)
      return true;
  return false;
}

static bool has_node(const int32_t *node, size_t num_cells)
{
  for (size_t cell = 0; cell < num_cells; cell++)
    if (node[cell] != MESH_NONE)
      return true;
  return false;
}

static bool field_is_kept(const field_store *f, field_kind field)
{
  if (FIELDS[field].of_water)
    return has_part(f->rig, PART_WATER);
  return FIELDS[field].is_temperature ? has_node(f->rest, f->num_cells) : has_part(f->rig, PART_BRINE);
}

/* One value a cell, at one time (rank as the grid's) or growing over time (one more). */
static h5_file_layout cells_layout(const field_store *f, const char *name, const char *units, const char *long_name, bool growing)
{
  h5_file_layout l = {.name = name,
                      .units = units,
                      .long_name = long_name,
                      .stored_type = H5T_IEEE_F32LE,
                      .memory_type = H5T_NATIVE_FLOAT,
                      .rank = f->rank + growing,
                      .growing = growing,
                      .compressed = true};
  size_t row_bytes = sizeof(float);
  for (int axis = 0; axis < f->rank; axis++) {
    l.extent[axis + growing] = l.chunk[axis + growing] = f->extent[axis];
    if (axis > 0)
      row_bytes *= (size_t)f->extent[axis];
  }
  l.chunk[growing] = h5_file_chunk_rows(f->extent[0], row_bytes);
  if (growing)
    l.chunk[0] = 1;
  return l;
}

static bool write_grid(const field_store *f)
{
  const grid *g = f->mesh->grid;
  const bool revolved = g->kind == GRID_RZ;
  static const char *const names[3] = {"/grid/x", "/grid/y", "/grid/z"};
  static const char *const long_names[3] = {"edges of the cells along x", "edges of the cells along y", "edges of the cells along z, up"};
  bool ok = h5_file_group(f->file, "/grid") && h5_file_put_text(f->file, "/grid", "kind", revolved ? "rz" : "xyz");
  for (int axis = 0; axis < 3; axis++) {
    if (revolved && axis == 1)
      continue;
    const bool radius = revolved && axis == 0;
    const h5_file_layout l = {.name = radius ? "/grid/r" : names[axis],
                              .units = "m",
                              .long_name = radius ? "edges of the cells along the radius" : long_names[axis],
                              .stored_type = H5T_IEEE_F64LE,
                              .memory_type = H5T_NATIVE_DOUBLE,
                              .rank = 1,
                              .extent = {g->num[axis] + 1}};
    ok = ok && h5_file_write_set(f->file, &l, g->edges[axis]);
  }
  return ok;
}

static bool write_parts(const field_store *f)
{
  bool ok = h5_file_group(f->file, "/parts");
  for (size_t part = 0; ok && part < f->rig->num_parts; part++) {
    const rig_part *p = &f->rig->parts[part];
    char name[RIG_NAME + 16];
    (void)snprintf(name, sizeof name, "/parts/%s", p->name);
    for (char *c = name + strlen("/parts/"); *c; c++)
      if (*c == '/')
        *c = '_'; /* a slash would make a group */
    const h5_file_layout l = cells_layout(f, name, "1", "share of the cell's volume", false);
    ok = h5_file_write_set(f->file, &l, f->mesh->share + part * f->num_cells) &&
         h5_file_put_integer(f->file, name, "part", (long long)part) &&
         h5_file_put_text(f->file, name, "kind", part_kind_name(p->kind)) && h5_file_put_text(f->file, name, "name", p->name);
  }
  return ok;
}

static bool write_meta(const field_store *f, const char *case_hash)
{
  return h5_file_group(f->file, "/meta") && h5_file_put_integer(f->file, "/meta", "format", FIELD_STORE_FORMAT) &&
         h5_file_put_text(f->file, "/meta", "program", "lastwater " LASTWATER_VERSION) &&
         h5_file_put_text(f->file, "/meta", "case_hash", case_hash) && h5_file_put_text(f->file, "/meta", "title", f->rig->title);
}

static bool name_stages(const field_store *f)
{
  const size_t size = f->rig->num_stages * (RIG_NAME + 1) + 1;
  char *names = calloc(size, 1);
  if (!names)
    return false;
  size_t length = 0;
  for (size_t stage = 0; stage < f->rig->num_stages; stage++)
    length += (size_t)snprintf(names + length, size - length, "%s%s", stage ? "\n" : "", f->rig->stages[stage].name);
  const bool ok = h5_file_put_text(f->file, "/stage", "names", names);
  free(names);
  return ok;
}

static bool create_growing(field_store *f)
{
  const h5_file_layout time = {.name = "/time", .units = "s", .long_name = "time since the run began",
                               .stored_type = H5T_IEEE_F64LE, .memory_type = H5T_NATIVE_DOUBLE,
                               .rank = 1, .chunk = {SMALL_CHUNK}, .growing = true};
  const h5_file_layout stage = {.name = "/stage", .units = "1", .long_name = "index of the stage, see attribute names",
                                .stored_type = H5T_STD_I32LE, .memory_type = H5T_NATIVE_INT32,
                                .rank = 1, .chunk = {SMALL_CHUNK}, .growing = true};
  f->time = h5_file_create_set(f->file, &time);
  f->stage = f->time < 0 ? -1 : h5_file_create_set(f->file, &stage);
  bool ok = f->time >= 0 && f->stage >= 0 && h5_file_put_text(f->file, "/time", "stage", "/stage") && name_stages(f) &&
            h5_file_group(f->file, "/fields") && h5_file_group(f->file, "/maps") && h5_file_group(f->file, "/series");
  if (ok && has_part(f->rig, PART_WATER))
    ok = h5_file_group(f->file, "/fields/water");
  if (ok && has_node(f->rest, f->num_cells))
    ok = h5_file_group(f->file, "/fields/rest");
  for (field_kind field = 0; ok && field < NUM_FIELDS; field++) {
    if (!field_is_kept(f, field))
      continue;
    const h5_file_layout l = cells_layout(f, FIELDS[field].name, FIELDS[field].units, FIELDS[field].long_name, true);
    f->fields[field] = h5_file_create_set(f->file, &l);
    ok = f->fields[field] >= 0 && h5_file_put_text(f->fields[field], ".", "precision", PRECISION);
  }
  return ok;
}

static status allocate(field_store **out, const char *directory, const rig *r, const mesh *m, message *msg)
{
  field_store *f = calloc(1, sizeof *f);
  if (!f)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the store of fields", sizeof *f);
  const grid *g = m->grid;
  f->rig = r;
  f->mesh = m;
  f->num_cells = grid_num_cells(g);
  f->file = f->time = f->stage = -1;
  f->last_time = -INFINITY;
  for (int field = 0; field < NUM_FIELDS; field++)
    f->fields[field] = -1;
  f->rank = g->kind == GRID_RZ ? 2 : 3;
  f->extent[0] = g->num[2];
  f->extent[1] = g->kind == GRID_RZ ? g->num[0] : g->num[1];
  f->extent[2] = g->num[0];
  f->water = malloc(f->num_cells * sizeof *f->water);
  f->rest = malloc(f->num_cells * sizeof *f->rest);
  f->values = malloc(f->num_cells * sizeof *f->values);
  f->rounded = malloc(f->num_cells * sizeof *f->rounded);
  status code = STATUS_OK;
  if (!f->water || !f->rest || !f->values || !f->rounded)
    code = message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for fields of %zu cells", f->num_cells * 20, f->num_cells);
  if (code == STATUS_OK)
    code = whole_file_join(f->path, directory, FIELD_STORE_PART, msg);
  if (code != STATUS_OK) {
    field_store_destroy(&f);
    return code;
  }
  cell_nodes_fill(m, r, f->water, f->rest);
  *out = f;
  return STATUS_OK;
}

status field_store_create(field_store **out, const char *directory, const rig *r, const mesh *m, const char *case_hash, message *msg)
{
  field_store *f = NULL;
  status code = allocate(&f, directory, r, m, msg);
  if (code != STATUS_OK)
    return code;
  code = h5_file_create(&f->file, f->path, msg);
  if (code == STATUS_OK && !(write_meta(f, case_hash) && write_grid(f) && write_parts(f) && create_growing(f) &&
                             H5Fflush(f->file, H5F_SCOPE_GLOBAL) >= 0))
    code = h5_file_fault(msg, "write", f->path);
  if (code == STATUS_OK)
    *out = f;
  else
    field_store_destroy(&f);
  return code;
}

/* ------------------------------------------------------------------------------------------------ going on */

static bool read_last_time(field_store *f, hid_t space)
{
  const hsize_t last = f->num_times - 1, one = 1;
  const hid_t single = H5Screate(H5S_SCALAR);
  const bool ok = single >= 0 && H5Sselect_hyperslab(space, H5S_SELECT_SET, &last, NULL, &one, NULL) >= 0 &&
                  H5Dread(f->time, H5T_NATIVE_DOUBLE, single, space, H5P_DEFAULT, &f->last_time) >= 0;
  if (single >= 0)
    (void)H5Sclose(single);
  return ok;
}

static bool open_growing(field_store *f)
{
  f->time = H5Dopen2(f->file, "/time", H5P_DEFAULT);
  f->stage = f->time < 0 ? -1 : H5Dopen2(f->file, "/stage", H5P_DEFAULT);
  bool ok = f->stage >= 0;
  for (field_kind field = 0; ok && field < NUM_FIELDS; field++)
    if (field_is_kept(f, field))
      ok = (f->fields[field] = H5Dopen2(f->file, FIELDS[field].name, H5P_DEFAULT)) >= 0;
  const hid_t space = ok ? H5Dget_space(f->time) : -1;
  ok = space >= 0 && H5Sget_simple_extent_dims(space, &f->num_times, NULL) == 1 && (f->num_times == 0 || read_last_time(f, space));
  if (space >= 0)
    (void)H5Sclose(space);
  return ok;
}

static status check_meta(const field_store *f, const char *case_hash, message *msg)
{
  long long format = 0;
  char hash[128] = "";
  if (!h5_file_get_integer(f->file, "/meta", "format", &format) ||
      !h5_file_get_text(f->file, "/meta", "case_hash", hash, sizeof hash))
    return h5_file_fault(msg, "continue", f->path);
  if (format != FIELD_STORE_FORMAT)
    return message_set(msg, STATUS_FILE, "cannot continue %s: it has format %lld and this program knows %d; run again without --resume",
                       f->path, format, FIELD_STORE_FORMAT);
  if (strcmp(hash, case_hash) != 0)
    return message_set(msg, STATUS_FILE, "cannot continue %s: it belongs to another case; choose another directory with -o DIR",
                       f->path);
  return STATUS_OK;
}

status field_store_continue(field_store **out, const char *directory, const rig *r, const mesh *m, const char *case_hash,
                            const file_mark *mark, message *msg)
{
  field_store *f = NULL;
  status code = allocate(&f, directory, r, m, msg);
  if (code != STATUS_OK)
    return code;
  code = file_mark_return(mark, f->path, msg);
  if (code == STATUS_OK)
    code = h5_file_open(&f->file, f->path, true, msg);
  if (code == STATUS_OK)
    code = check_meta(f, case_hash, msg);
  if (code == STATUS_OK && !open_growing(f))
    code = h5_file_fault(msg, "continue", f->path);
  if (code == STATUS_OK)
    *out = f;
  else
    field_store_destroy(&f);
  return code;
}

void field_store_destroy(field_store **f)
{
  field_store *s = *f;
  if (!s)
    return;
  for (int field = 0; field < NUM_FIELDS; field++)
    if (s->fields[field] >= 0)
      (void)H5Dclose(s->fields[field]);
  if (s->stage >= 0)
    (void)H5Dclose(s->stage);
  if (s->time >= 0)
    (void)H5Dclose(s->time);
  if (s->file >= 0)
    (void)H5Fclose(s->file);
  free(s->water);
  free(s->rest);
  free(s->values);
  free(s->rounded);
  free(s->unchanging);
  free(s);
  *f = NULL;
}

/* ------------------------------------------------------------------------------------------------ storing */

/* Extends a growing set by one along its first axis and writes that slice. */
static bool append_slice(hid_t set, int rank, hsize_t at, const hsize_t *slice, hid_t memory_type, const void *data)
{
  hsize_t extent[4] = {at + 1}, start[4] = {at}, count[4] = {1};
  for (int axis = 1; axis < rank; axis++)
    extent[axis] = count[axis] = slice[axis - 1];
  if (H5Dset_extent(set, extent) < 0)
    return false;
  const hid_t file_space = H5Dget_space(set);
  const hid_t memory_space = H5Screate_simple(rank, count, NULL);
  const bool ok = file_space >= 0 && memory_space >= 0 &&
                  H5Sselect_hyperslab(file_space, H5S_SELECT_SET, start, NULL, count, NULL) >= 0 &&
                  H5Dwrite(set, memory_type, memory_space, file_space, H5P_DEFAULT, data) >= 0;
  if (!ok)
    return false; /* the reason is still with the library; the run ends here and the two spaces with it */
  return H5Sclose(file_space) >= 0 && H5Sclose(memory_space) >= 0;
}

static bool append_field(field_store *f, field_kind field, const double *node_values)
{
  cell_nodes_spread(FIELDS[field].of_water ? f->water : f->rest, f->num_cells, node_values, f->values);
  for (size_t cell = 0; cell < f->num_cells; cell++)
    f->rounded[cell] = field_store_round(f->values[cell]);
  return append_slice(f->fields[field], f->rank + 1, f->num_times, f->extent, H5T_NATIVE_FLOAT, f->rounded);
}

status field_store_append(field_store *f, double time, size_t stage, const double *temperature, const double *liquid_fraction,
                          message *msg)
{
  const int32_t stage_index = (int32_t)stage;
  bool ok = true;
  for (field_kind field = 0; ok && field < NUM_FIELDS; field++)
    if (f->fields[field] >= 0)
      ok = append_field(f, field, FIELDS[field].is_temperature ? temperature : liquid_fraction);
  /* The time comes last: a reader that counts times finds the fields of each. */
  ok = ok && append_slice(f->stage, 1, f->num_times, NULL, H5T_NATIVE_INT32, &stage_index) &&
       append_slice(f->time, 1, f->num_times, NULL, H5T_NATIVE_DOUBLE, &time) && H5Fflush(f->file, H5F_SCOPE_GLOBAL) >= 0;
  if (!ok)
    return h5_file_fault(msg, "write", f->path);
  f->num_times++;
  f->last_time = time;
  return STATUS_OK;
}

size_t field_store_num_times(const field_store *f)
{
  return (size_t)f->num_times;
}

double field_store_last_time(const field_store *f)
{
  return f->last_time;
}

/* ------------------------------------------------------------------------------------------------ marking */

static status remember_range(field_store *f, uint64_t offset, uint64_t length, message *msg)
{
  if (f->num_unchanging == f->unchanging_capacity) {
    const size_t capacity = f->unchanging_capacity ? 2 * f->unchanging_capacity : 256;
    file_range *ranges = realloc(f->unchanging, capacity * sizeof *ranges);
    if (!ranges)
      return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes to mark %s", capacity * sizeof *ranges, f->path);
    f->unchanging = ranges;
    f->unchanging_capacity = capacity;
  }
  f->unchanging[f->num_unchanging++] = (file_range){.offset = offset, .length = length};
  return STATUS_OK;
}

/* A chunk of a stored time is written once. Chunks come in the order of their first index, so the new ones are at the end. */
static status remember_chunks(field_store *f, field_kind field, message *msg)
{
  hsize_t num = 0;
  const hid_t space = H5Dget_space(f->fields[field]);
  bool ok = space >= 0 && H5Dget_num_chunks(f->fields[field], space, &num) >= 0;
  status code = STATUS_OK;
  for (hsize_t chunk = f->chunks_known[field]; ok && code == STATUS_OK && chunk < num; chunk++) {
    hsize_t origin[4], length = 0;
    unsigned filters;
    haddr_t address;
    ok = H5Dget_chunk_info(f->fields[field], space, chunk, origin, &filters, &address, &length) >= 0;
    if (ok)
      code = remember_range(f, address, length, msg);
  }
  if (!ok)
    code = h5_file_fault(msg, "read", f->path);
  else if (code == STATUS_OK)
    f->chunks_known[field] = num;
  if (space >= 0)
    (void)H5Sclose(space);
  return code;
}

status field_store_mark(field_store *f, file_mark *mark, message *msg)
{
  *mark = (file_mark){0};
  if (H5Fflush(f->file, H5F_SCOPE_GLOBAL) < 0)
    return h5_file_fault(msg, "write", f->path);
  status code = STATUS_OK;
  for (field_kind field = 0; code == STATUS_OK && field < NUM_FIELDS; field++)
    if (f->fields[field] >= 0)
      code = remember_chunks(f, field, msg);
  return code == STATUS_OK ? file_mark_take(mark, f->path, f->unchanging, f->num_unchanging, msg) : code;
}

/* ------------------------------------------------------------------------------------------------ finishing */

static bool write_map(field_store *f, const char *name, const char *units, const char *long_name, const double *node_values)
{
  cell_nodes_spread(f->water, f->num_cells, node_values, f->values);
  h5_file_layout l = cells_layout(f, name, units, long_name, false);
  l.stored_type = H5T_IEEE_F64LE;
  l.memory_type = H5T_NATIVE_DOUBLE;
  return h5_file_write_set(f->file, &l, f->values);
}

static bool write_pocket_map(field_store *f, const results *res)
{
  double *index = malloc((res->num_nodes + 1) * sizeof *index);
  if (!index)
    return false;
  for (size_t node = 0; node < res->num_nodes; node++)
    index[node] = res->pocket[node] < 0 ? NAN : (double)res->pocket[node];
  const bool ok = write_map(f, "/maps/pocket", "1", "index of the pocket, among its body's, in which the water froze", index);
  free(index);
  return ok;
}

static bool write_maps(field_store *f, const results *res)
{
  if (!has_part(f->rig, PART_WATER))
    return true;
  return (!res->freeze_time || write_map(f, "/maps/freeze_time", "s", "time since the run began when the front passed", res->freeze_time)) &&
         (!res->solid_time || write_map(f, "/maps/solid_time", "s", "time since the run began when the last liquid went", res->solid_time)) &&
         (!res->front_speed || write_map(f, "/maps/front_speed", "m s-1", "speed of the front as it passed", res->front_speed)) &&
         (!res->pocket || write_pocket_map(f, res)) &&
         (!res->gas_fraction || write_map(f, "/maps/gas_fraction", "1", "share of the ice's volume that is bubbles", res->gas_fraction)) &&
         (!res->clarity || write_map(f, "/maps/clarity", "m-1", "extinction of light by bubbles: clear below 1, white above 30", res->clarity)) &&
         (!res->minerals || write_map(f, "/maps/minerals", "kg m-3", "minerals taken up by the ice", res->minerals)) &&
         (!res->clear_speed ||
          write_map(f, "/maps/clear_speed", "m s-1", "growth up to which the ice would have stayed clear there, then", res->clear_speed));
}

static bool write_series(field_store *f, const time_series *s)
{
  double *column = malloc((s->num_rows + 1) * sizeof *column);
  bool ok = column != NULL;
  for (size_t c = 0; ok && c < s->num_columns; c++) {
    char name[96];
    (void)snprintf(name, sizeof name, "/series/%s", s->name[c]);
    for (char *slash = name + strlen("/series/"); *slash; slash++)
      if (*slash == '/')
        *slash = '_';
    for (size_t row = 0; row < s->num_rows; row++)
      column[row] = s->values[row * s->num_columns + c];
    const h5_file_layout l = {.name = name, .units = s->unit[c], .long_name = s->name[c],
                              .stored_type = H5T_IEEE_F64LE, .memory_type = H5T_NATIVE_DOUBLE,
                              .rank = 1, .extent = {s->num_rows}};
    ok = h5_file_write_set(f->file, &l, column);
  }
  free(column);
  return ok;
}

/* Closes what is open, each call checked. */
static bool close_all(field_store *f)
{
  bool ok = h5_file_close_set(&f->time);
  ok = ok && h5_file_close_set(&f->stage);
  for (int field = 0; ok && field < NUM_FIELDS; field++)
    if (f->fields[field] >= 0)
      ok = h5_file_close_set(&f->fields[field]);
  return ok && h5_file_close(&f->file);
}

status field_store_finish(field_store **f, const results *res, message *msg)
{
  field_store *s = *f;
  const bool ok = write_maps(s, res) && write_series(s, &res->series) && close_all(s);
  const status code = ok ? STATUS_OK : h5_file_fault(msg, "write", s->path);
  field_store_destroy(f);
  return code;
}

status field_store_publish(const char *directory, message *msg)
{
  char part[WHOLE_FILE_PATH], whole[WHOLE_FILE_PATH];
  status code = whole_file_join(part, directory, FIELD_STORE_PART, msg);
  if (code == STATUS_OK)
    code = whole_file_join(whole, directory, FIELD_STORE_NAME, msg);
  return code == STATUS_OK ? whole_file_rename(part, whole, msg) : code;
}
